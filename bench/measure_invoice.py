"""One invoice entered, from the request to correct totals, against one edit of the same project in a general spreadsheet.

Ours is the form posted through Django's test client, on SQLite and on PostgreSQL. Theirs is a workbook with the same lines,
changes, invoices, payments and movements as rows and a SUMIFS for every figure of a line, opened in LibreOffice Calc
without a window: one amount is typed and everything that hangs on it is worked out. Medians, in one run.
"""

import contextlib
import json
import os
import signal
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from bench.figures import Figure, faster
from bench.measure_money import ROOT, databases

#: The goal: so many times faster.
LEAST = 500
EDITS, MOST_SECONDS = 7, 900
#: Where a Python that knows the program's bridge may be, beside the program's own.
PYTHONS = ("/usr/bin/python3", "/Applications/LibreOffice.app/Contents/Resources/python")


def ours(address: str, book: Path | None) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as var:
        env = {**os.environ, "DATABASE_URL": address, "BATTERBOARD_VAR": var, "ALLOWED_HOSTS": "testserver"}
        command = [sys.executable, "-m", "bench.enter_invoices", *([str(book)] if book else [])]
        done = subprocess.run(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True, check=True)
    return json.loads(done.stdout.splitlines()[-1])


def _speaks(python: str) -> bool:
    if not Path(python).exists():
        return False
    return subprocess.run([python, "-c", "import uno"], capture_output=True, timeout=60).returncode == 0


def program() -> tuple[str, str] | None:
    """The spreadsheet program and a Python that can drive it; None, with a sentence printed, where one is missing."""
    import office

    found = office.find()
    if found is None:
        print(
            "  no spreadsheet program here, so no edit to compare with (Debian: sudo apt-get install libreoffice-calc-nogui)"
        )
        return None
    own = Path(os.path.realpath(found)).with_name("python")
    python = next(filter(_speaks, (str(own), *PYTHONS)), None)
    if python is None:
        print("  no Python here knows the spreadsheet program's bridge (Debian: sudo apt-get install python3-uno)")
        return None
    return found, python


def _run(command: list[str]) -> str | None:
    """What a program says; None, with a sentence printed, where it fails or takes too long. Nothing it started is left."""
    apart = {"start_new_session": True} if os.name == "posix" else {}
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, **pipes, **apart) as running:
        try:
            said, complaint = running.communicate(timeout=MOST_SECONDS)
        except subprocess.TimeoutExpired:
            print(f"  the spreadsheet program was not ready after {MOST_SECONDS} seconds")
            return None
        finally:
            _end(running)
    if running.returncode:
        print(
            f"  the spreadsheet program could not be driven: {(complaint or 'it said nothing').strip().splitlines()[-1]}"
        )
        return None
    return said


def _end(running: "subprocess.Popen[str]") -> None:
    if os.name != "posix":
        running.kill()
        return
    with contextlib.suppress(ProcessLookupError):
        os.killpg(running.pid, signal.SIGKILL)  # it leads a group of its own


def theirs(book: Path, first: dict[str, Any]) -> dict[str, Any] | None:
    """Edit the workbook. Returns: its seconds; None, with a sentence printed, where that cannot be done."""
    found = program()
    if found is None:
        return None
    plan = first["plan"] | {"more": 100, "rows": [1 + 7_001 * turn for turn in range(EDITS)]}
    command = [found[1], str(ROOT / "bench" / "edit_in_calc.py"), found[0], str(book), json.dumps(plan)]
    said = _run(command)
    if said is None:
        return None
    seen = json.loads(said.splitlines()[-1])
    worked_out = {name: round(value * 100) for name, value in seen["totals"].items()}
    assert worked_out == {name: first[name] for name in worked_out}, (
        f"the workbook has other totals: {worked_out}, {first}"
    )
    return seen


def measure() -> list[Figure]:
    with tempfile.TemporaryDirectory() as folder, databases() as found:
        book, runs = Path(folder) / "project.xlsx", {}
        for name, address in found:
            runs[name] = ours(address, None if runs else book)
        edit = theirs(book, next(iter(runs.values())))
    rows = [row for name, run in runs.items() for row in _rows(name, run, edit)]
    return [*rows, *(_of_theirs(edit) if edit else ())]


def _rows(name: str, run: dict[str, Any], edit: dict[str, Any] | None) -> list[Figure]:
    label = f"{name}: an invoice entered"
    told = [Figure(label, run["seconds"] * 1000, "ms"), Figure(label, run["queries"], "queries")]
    if edit is None:
        return told
    spent = statistics.median(edit["edits"])
    return [faster(label, run["seconds"], spent, "one edit in a spreadsheet", at_least=LEAST), *told]


def _of_theirs(edit: dict[str, Any]) -> list[Figure]:
    return [
        Figure("the spreadsheet opened", edit["open"], "s"),
        Figure("the spreadsheet worked out whole", edit["whole"], "s"),
    ]
