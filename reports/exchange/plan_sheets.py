"""The plan as files: written for a spreadsheet, and read from one that was handed in.

Between the look at a file and its coming in the cells travel with the page, signed, so that nothing has to be kept for a
look that leads to nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.core import signing
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _

from projects.faults import Refused
from projects.models import Project
from reports.exchange.tables import Column, Table
from reports.sheets import reading, writing
from schedule.calc import sheet
from schedule.calc.sheet import Rows
from schedule.selectors import sheets

#: So many cells travel with a page; a plan of 2,000 activities has fewer.
MOST_CELLS = 60_000
DATES = ("_on",)
NUMBERS = ("days", "lag_days", "notice_days", "float_days")


@dataclass(frozen=True, slots=True)
class Handed:
    """A file that was handed in: its name, and the cells of each sheet that holds a part of a plan."""

    file_name: str
    sheets: Mapping[str, Rows]


def activities_csv(project: Project) -> bytes:
    return writing.as_csv(_table(sheet.ACTIVITIES, *sheets.activities(project, with_links=True)))


def links_csv(project: Project) -> bytes:
    return writing.as_csv(_table(sheet.LINKS, *sheets.links(project)))


def workbook(project: Project) -> bytes:
    """The whole plan as one workbook, that can be brought in again."""
    return writing.as_workbook(
        [
            _table(sheet.ACTIVITIES, *sheets.activities(project, with_links=False)),
            _table(sheet.LINKS, *sheets.links(project)),
            _table(sheet.CALENDARS, *sheets.calendars(project)),
            _table(sheet.CLOSURES, *sheets.closures(project)),
        ]
    )


def _table(name: str, columns: Iterable[sheet.Column], rows: list[tuple[Any, ...]]) -> Table:
    return Table(name, tuple(Column(one.heading, _kind(one.name)) for one in columns), rows)


def _kind(name: str) -> str:
    return "date" if name.endswith(DATES) else "number" if name in NUMBERS else "text"


def receive(upload: UploadedFile) -> Handed:
    """Read a file that was handed in. Raises: Refused, naming the mend."""
    if (upload.size or 0) > reading.MOST_BYTES:
        raise Refused(_("The file is larger than 10 MB; take out what is not needed, or split it."), field="file")
    data = upload.read()
    first = reading.read(data)
    found: dict[str, Rows] = {}
    for name in (first.name, *first.others):
        rows = first.grid.rows if name == first.name else reading.read(data, sheet=name).grid.rows
        known = sheet.sheet_of(name, rows)
        if known and known not in found:
            found[known] = rows
    if sum(len(row) for rows in found.values() for row in rows) > MOST_CELLS:
        raise Refused(_("The sheets hold more than a plan of 2,000 activities; split them."), field="file")
    return Handed(_named(upload.name or ""), found)


def _named(name: str) -> str:
    return "".join(sign for sign in name.replace("\\", "/").rsplit("/", 1)[-1] if sign.isprintable())[-160:] or _(
        "sheet"
    )


def sealed(handed: Handed, project: Project) -> str:
    """A file's cells as text that a page carries and nobody can alter."""
    plain = {"name": handed.file_name, "sheets": {name: list(map(list, rows)) for name, rows in handed.sheets.items()}}
    return signing.dumps(plain, salt=_salt(project), compress=True)


def unsealed(text: str, project: Project) -> Handed:
    """Read back what `sealed` wrote. Raises: Refused."""
    try:
        plain = signing.loads(text, salt=_salt(project))
    except signing.BadSignature as fault:
        raise Refused(_("The page has lost the sheet; choose the file again.")) from fault
    return Handed(plain["name"], plain["sheets"])


def _salt(project: Project) -> str:
    return f"plan-sheets-{project.pk}"
