"""Another program works the workbook out again and comes to our figures, formula by formula, to the cent.

Source: LibreOffice Calc as an independent oracle; see `calc_office`.
"""

import io
import re
import zipfile
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from django.core.management import call_command

from budget.models import LineItem
from budget.selectors import overview
from projects.models import Project, User
from reports.sheets.workbook import whole
from tests.builders import TODAY
from tests.reports.sheets import busy, calc_office

pytestmark = [pytest.mark.office, pytest.mark.django_db]


def recalculated(project: Project, folder: Path, on: date = TODAY) -> openpyxl.Workbook:
    """The workbook as the other program worked it out, after every formula was compared."""
    data = whole.as_workbook(project, on=on)
    theirs = calc_office.worked_out(data, folder)
    every = list(calc_office.compared(data, theirs))
    assert len(every) > 200
    assert [one for one in every if not one.agrees] == []
    return openpyxl.load_workbook(io.BytesIO(theirs), data_only=True)


def cells_of(sheet: object, label: str) -> list[object]:
    """The row whose second cell reads so."""
    return next([cell.value for cell in row] for row in sheet.iter_rows() if row[1].value == label)


def test_the_demo_comes_to_the_same_figures(tmp_path: Path):
    call_command("demo", verbosity=0)
    project = Project.objects.get()
    book = recalculated(project, tmp_path, project.held_on)
    total, row = overview.overview(project).total, cells_of(book["Summary"], "All trades")
    assert row[2:5] == [total.lines, total.let, total.with_original]
    assert [round(amount * 100) for amount in row[5:13]] == [
        total.budget, total.original, total.agreed, total.changes, total.invoiced, total.likely, total.over_budget,
        total.against_original,
    ]  # fmt: skip
    assert book["Checks"]["A3"].value is None and book["Checks"]["A4"].value == "Every sum agrees."


@pytest.mark.parametrize(("currency", "digits"), [("GBP", 2), ("KWD", 3), ("JPY", 0)])
def test_a_build_on_which_everything_happened_comes_to_the_same_figures(
    lead: User, tmp_path: Path, currency: str, digits: int
):
    project = busy.build(lead, currency=currency)
    book = recalculated(project, tmp_path)
    assert book["Checks"]["A4"].value == "Every sum agrees."
    for line in LineItem.objects.filter(project=project):
        (likely,) = (row[16].value for row in book["Lines"].iter_rows() if row[1].value == line.code)
        assert round(likely * 10**digits) == line.likely_minor, line


def test_the_other_program_really_works_it_out(lead: User, tmp_path: Path):
    """The proof of the proof: a number is changed behind the formulas' back, and the checks of the sheet say so."""
    data = whole.as_workbook(busy.build(lead), on=TODAY)
    moved = tampered(data, "Movements", "<v>-", "<v>-1")
    count, differing = calc_office.differing(moved, tmp_path)
    assert differing and any(one.place.startswith("Checks!") for one in differing)
    verdict = next(one for one in differing if one.place == "Checks!A4")
    assert (verdict.ours, verdict.theirs) == ("Every sum agrees.", "Something differs: look below.")
    assert len(differing) < count


def tampered(data: bytes, sheet: str, old: str, new: str) -> bytes:
    """The same workbook with the first such piece of a sheet's rows replaced."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    part = f"xl/worksheets/sheet{book.sheetnames.index(sheet) + 1}.xml"
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as given, zipfile.ZipFile(out, "w") as written:
        for name in given.namelist():
            content = given.read(name).decode() if name == part else given.read(name)
            if name == part:
                assert old in content
                content = re.sub(re.escape(old), new, content, count=1)
            written.writestr(name, content)
    return out.getvalue()
