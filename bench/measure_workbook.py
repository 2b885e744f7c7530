"""Writing the live workbook of a project with 2,000 lines and 50,000 invoices, against its bare cells from another library.

The reference gets the very same values, ready in memory, without formulas, styles or a database, and writes them row by
row in the library's own thrifty mode.
"""

import io
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from bench.figures import Figure

ROUNDS = 2
#: The goal: at most twice the time.
MOST = 2.0
#: Its rows lie in a file; what is held in memory are sums by line and by invoice, and the packed result.
MOST_MEMORY = 200


def _cells(data: bytes) -> list[tuple[str, list[list[Any]]]]:
    """The values of every sheet, read back from the workbook."""
    from python_calamine import CalamineWorkbook

    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    return [(name, book.get_sheet_by_name(name).to_python(skip_empty_area=False)) for name in book.sheet_names]


def _bare(sheets: Sequence[tuple[str, list[list[Any]]]]) -> int:
    import xlsxwriter

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"constant_memory": True, "default_date_format": "yyyy-mm-dd"}) as book:
        for name, rows in sheets:
            sheet = book.add_worksheet(name)
            for place, row in enumerate(rows):
                sheet.write_row(place, 0, row)
    return len(out.getvalue())


def _seconds(deed: Callable[[], object]) -> float:
    start = time.process_time()
    deed()
    return time.process_time() - start


def _best(deed: Callable[[], object]) -> float:
    return min(_seconds(deed) for _round in range(ROUNDS))


def _filled(sheets: Sequence[tuple[str, list[list[Any]]]]) -> Iterator[Any]:
    return (value for _name, rows in sheets for row in rows for value in row if value != "")


#: Run apart, so that what building the project took is not charged to writing it out.
_APART = """
import re, django
from pathlib import Path
django.setup()
from projects.models import Project
from budget.selectors import overview
from reports.sheets.workbook import whole
def most():
    return int(re.search(r"VmHWM:\\s*(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024
project = Project.objects.get()
overview.overview(project)
before = most()
whole.as_workbook(project, on=project.held_on)
print(most() - before)
"""


def _memory() -> list[Figure]:
    """What writing the workbook takes beyond a process that has just read the project; Linux alone tells it."""
    if not Path("/proc/self/status").exists():
        return []
    done = subprocess.run([sys.executable, "-c", _APART], stdout=subprocess.PIPE, text=True, check=True)
    return [Figure("memory for it", float(done.stdout), "MB", at_most=MOST_MEMORY)]


def _project() -> Any:
    """The generated project, in a database of this process alone."""
    import django

    django.setup()
    from django.core.management import call_command

    from bench import big_project

    call_command("migrate", verbosity=0)
    return big_project.build()


def measure() -> list[Figure]:
    with tempfile.TemporaryDirectory() as var:
        os.environ |= {"DATABASE_URL": f"sqlite:///{var}/bench.sqlite3", "BATTERBOARD_VAR": var}
        project = _project()
        from reports.sheets.workbook import whole

        def written() -> bytes:
            return whole.as_workbook(project, on=project.held_on)

        data, grown, ours = written(), _memory(), _best(written)
    sheets = _cells(data)
    theirs = _best(lambda: _bare(sheets))
    count = sum(1 for _value in _filled(sheets))
    against = f"xlsxwriter, bare: {theirs:.1f} s, ours {ours:.1f} s"
    return [
        Figure(f"live workbook of {count:,} cells", ours / theirs, "ratio", at_most=MOST, against=against),
        *grown,
    ]
