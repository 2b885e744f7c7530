"""What the tests drive is found, fetched, or said to be missing; in CI a test that was not run is a failure."""

from pathlib import Path

import office
import pytest
import run_checks


def test_a_named_program_is_taken_and_a_wrong_name_is_none(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    named = tmp_path / "soffice"
    monkeypatch.setenv("SOFFICE", str(named))
    assert office.find() is None and office.found_or_installed() is None
    named.touch()
    assert office.find() == str(named)


def test_what_lacks_its_program_is_left_out_by_its_marker():
    assert run_checks.test_step("tests", ["office"]).command[-2:] == ["-m", "not office"]
    assert "-m" not in run_checks.test_step("tests").command[2:]


def test_what_was_not_run_is_told_and_fails_in_ci_alone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setenv("CI", "true")
    assert run_checks.told(["office"]) == ["tests with a spreadsheet program"] and run_checks.told([]) == []
    monkeypatch.setenv("CI", "")
    assert run_checks.told(["office"]) == []
    assert capsys.readouterr().out.count("NOT RUN") == 2
