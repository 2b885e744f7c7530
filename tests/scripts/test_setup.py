"""The set-up script says in one line what is wrong, and reinstalls only when it must."""

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest
import setup

SCRIPT = Path(setup.__file__)


def test_an_old_python_can_read_it_so_that_it_can_be_told():
    assert ast.parse(SCRIPT.read_text("utf-8"), feature_version=(3, 4))


def test_an_old_python_is_told_what_is_needed(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(sys, "version_info", (3, 9, 2))
    with pytest.raises(SystemExit, match=r"Python 3\.11 or newer is needed; this is 3\.9"):
        setup.require_python()


@pytest.mark.parametrize("arguments", [[], ["fly"]])
def test_an_unknown_command_is_answered_with_the_known_ones(arguments: list[str]):
    done = subprocess.run([sys.executable, str(SCRIPT), *arguments], capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr == "Batterboard: say what to do, one of: install, run, test, check, bench\n"


def test_a_python_without_ensurepip_is_told_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path):
    monkeypatch.setattr(setup, "PYTHON", str(tmp_path / "none"))
    monkeypatch.setitem(sys.modules, "ensurepip", None)
    with pytest.raises(SystemExit, match="apt-get install python3-venv"):
        setup.make_venv()


@pytest.fixture
def house(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A house with two requirement files and an environment, where installing only writes down that it happened."""
    monkeypatch.setattr(setup, "ROOT", str(tmp_path))
    monkeypatch.setattr(setup, "VENV", str(tmp_path))
    calls = tmp_path / "calls"
    calls.write_text("")

    def pip_that_works(command: list[str]) -> int:
        calls.write_text(calls.read_text() + "x")
        return 0

    monkeypatch.setattr(setup.subprocess, "call", pip_that_works)
    for name in (setup.RUN, setup.DEV):
        (tmp_path / name).write_text("a==1\n")
    return tmp_path


def installs(house: Path) -> int:
    return len((house / "calls").read_text())


def test_it_installs_once(house: Path):
    setup.install(setup.DEV)
    setup.install(setup.DEV)
    assert installs(house) == 1


@pytest.mark.parametrize("name", [setup.RUN, setup.DEV])
def test_a_changed_requirement_installs_again(house: Path, name: str):
    setup.install(setup.DEV)
    (house / name).write_text("a==2\n")
    setup.install(setup.DEV)
    assert installs(house) == 2


def test_what_only_the_tests_need_does_not_touch_a_running_program(house: Path):
    setup.install(setup.RUN)
    (house / setup.DEV).write_text("a==2\n")
    setup.install(setup.RUN)
    assert installs(house) == 1


def test_a_failed_install_is_tried_again(house: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(setup.subprocess, "call", lambda command: 1)
    with pytest.raises(SystemExit, match="could not be installed"):
        setup.install(setup.RUN)
    assert not setup.is_installed(setup.RUN, setup.fingerprint(setup.RUN))


def test_every_command_has_its_script_and_its_make_target():
    scripts = [script for _, script in setup.COMMANDS.values() if script]
    makefile = (SCRIPT.parent.parent / "Makefile").read_text("utf-8")
    assert all((SCRIPT.parent / script).exists() for script in scripts)
    assert f"\n{' '.join(['run', 'test', 'check', 'bench', 'install'])}:" in makefile
    assert os.access(SCRIPT.parent.parent / ".ci" / "run", os.X_OK)
