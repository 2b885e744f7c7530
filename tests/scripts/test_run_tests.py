"""Leaving PostgreSQL out is said aloud, and in CI it is a failure."""

import private_postgres
import pytest
import run_tests


@pytest.fixture
def no_postgres(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DATABASE_URL_POSTGRES", raising=False)
    monkeypatch.setattr(private_postgres, "programs", lambda: None)


@pytest.mark.parametrize(("ci", "failed"), [("true", ["tests on PostgreSQL"]), ("", [])])
def test_a_round_left_out(no_postgres, monkeypatch, capsys, ci: str, failed: list[str]):
    monkeypatch.setenv("CI", ci)
    assert run_tests.on_postgres({}, []) == failed
    assert "NOT RUN" in capsys.readouterr().out


def test_a_named_server_is_used(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("DATABASE_URL_POSTGRES", "postgres://named")
    with run_tests.postgres_url() as url:
        assert url == "postgres://named"
