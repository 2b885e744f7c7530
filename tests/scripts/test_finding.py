"""What the tests need from the machine is looked for in known places, and a wish goes first."""

from pathlib import Path

import browser
import private_postgres
import pytest


def test_a_named_browser_goes_first(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    mine = tmp_path / "mine"
    mine.touch()
    monkeypatch.setenv("CHROMIUM", str(mine))
    assert browser.find() == str(mine)


def test_a_named_browser_that_is_not_there_is_told(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("CHROMIUM", "/nowhere/chromium")
    with pytest.raises(SystemExit, match="CHROMIUM=/path/to/it make test"):
        browser.found_or_installed()


def test_playwrights_own_browser_is_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    own = tmp_path / "chromium-1234" / "chrome-linux" / "chrome"
    own.parent.mkdir(parents=True)
    own.touch()
    monkeypatch.delenv("CHROMIUM", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(browser, "PLACES", ())
    monkeypatch.setattr(browser, "OWN_FOLDERS", (str(tmp_path),))
    assert browser.find() == str(own)


def test_the_newest_postgresql_is_taken(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    for version in ("9", "15", "14"):
        folder = tmp_path / version / "bin"
        folder.mkdir(parents=True)
        (folder / "initdb").touch()
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(private_postgres, "FOLDERS", (f"{tmp_path}/*/bin",))
    assert private_postgres.programs() == tmp_path / "15" / "bin"


def test_where_there_is_no_postgresql_nothing_is_made_up(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(private_postgres, "FOLDERS", ())
    assert private_postgres.programs() is None
    with pytest.raises(LookupError), private_postgres.server():
        pass
