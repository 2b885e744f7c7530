"""The workbook and its sheets: frames, headings, names and print set-up.

The library makes the package, the styles and the print set-up. Rows go past its own store: each is written to the
sheet's part as one piece of text, kept in a file until the workbook is closed, so that a ledger of any length costs no
more memory than one row. ADR 0310 says why.
"""

import io
import shutil
import tempfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

import xlsxwriter
from django.utils.translation import gettext as _
from xlsxwriter.worksheet import Worksheet

from projects.models import Project
from reports.sheets.workbook import cells
from reports.sheets.workbook.looks import OVER, SAVED, Looks
from units import money

_OPTIONS = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
_US_LETTER, _A4 = 1, 9
#: Where people print on letter paper.
_LETTER = frozenset({"US", "CA", "MX", "PH", "CL", "CO"})


@dataclass(frozen=True, slots=True)
class Put:
    """One cell of a row that is not like its neighbours.

    `kind` as in `table.Column`; without a value it is blank. Amounts are in the project's minor units; in a formula `[row]`
    is the number of the row.
    """

    value: Any = None
    kind: str = "text"
    formula: str = ""
    total: bool = False


class Streamed(Worksheet):
    """A sheet whose rows are text already."""

    def __init__(self) -> None:
        super().__init__()
        self.rows = tempfile.TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115 - closed with the workbook

    def _write_dimension(self) -> None:
        """Left out: it is optional, and only the rows know it."""

    def _write_sheet_data(self) -> None:
        self.rows.seek(0)
        self.fh.write("<sheetData>")
        shutil.copyfileobj(self.rows, self.fh, 1 << 16)
        self.fh.write("</sheetData>")
        self.rows.close()


class Book:
    """One workbook: sheets in the order in which they were added, whichever is written first."""

    def __init__(self, project: Project, on: date) -> None:
        self.project, self.on = project, on
        self.digits = money.digits(project.currency)
        self._out = io.BytesIO()
        self._book = xlsxwriter.Workbook(self._out, _OPTIONS)
        self._book.set_properties(
            {"title": project.name, "created": datetime(on.year, on.month, on.day)}  # noqa: DTZ001 - a day, no instant
        )
        self.looks = Looks(self._book, project)

    def sheet(self, name: str, title: str, note: str) -> "Sheet":
        """Add a sheet with its title and one sentence on what it holds."""
        return Sheet(self, self._book.add_worksheet(name, Streamed), name, title, note)

    def name(self, name: str, area: str) -> None:
        """Give an area a name that formulas use."""
        self._book.define_name(name, f"={area}")

    def close(self) -> bytes:
        self._book.close()
        return self._out.getvalue()

    def over_is_brick(self, sheet: Any, area: str, *, turned: bool = False) -> None:
        """Colour differences by their sign: above zero is over, or, turned, saved."""
        above, below = (SAVED, OVER) if turned else (OVER, SAVED)
        for criteria, colour in ((">", above), ("<", below)):
            rule = {"type": "cell", "criteria": criteria, "value": 0, "format": self.looks.mark(colour)}
            sheet.conditional_format(area, rule)


class Sheet:
    """One sheet, written row after row."""

    def __init__(self, book: Book, part: Streamed, name: str, title: str, note: str) -> None:
        self.book, self.part, self.name = book, part, name
        self.row = 0
        style = book.looks.style
        self.write([cells.words("A1", style("title"), f"{title} \u00b7 {book.project.name}")], height=24)
        self.write([cells.words("A2", style("soft"), note)])
        self.skip()
        self._set_up_print()

    def _set_up_print(self) -> None:
        country = self.book.project.locale.rpartition("-")[2].upper()
        self.part.set_landscape()
        self.part.set_paper(_US_LETTER if country in _LETTER else _A4)
        self.part.fit_to_pages(1, 0)
        self.part.set_margins(left=0.4, right=0.4, top=0.6, bottom=0.6)
        self.part.hide_gridlines(2)
        name = self.book.project.name.replace("&", "&&")[:100]
        self.part.set_footer(f"&L&8{name}, {self.book.on.isoformat()}&C&8&A&R&8{_('page')} &P / &N")

    def write(self, row: Iterable[str], *, height: int = 0) -> int:
        """Write the next row from its cells. Returns: its number, from 1."""
        inside, tall = "".join(row), f' ht="{height}" customHeight="1"' if height else ""
        self.row += 1
        self.part.rows.write(f'<row r="{self.row}"{tall}>{inside}</row>')
        return self.row

    def put(self, *row: Put | None, height: int = 0) -> int:
        """Write the next row, from column A on. Returns: its number, from 1."""
        return self.write((self._cell(place, put) for place, put in enumerate(row) if put), height=height)

    def _cell(self, place: int, put: Put) -> str:
        at, style = self.at(place), self.book.looks.style(put.kind, "", put.total)
        said = put.formula.replace("[row]", str(self.row + 1))
        if isinstance(put.value, str):
            return cells.saying(at, style, said, put.value) if said else cells.words(at, style, put.value)
        if put.value is None:
            return cells.blank(at, style)
        value = cells.decimal(put.value, self.book.digits if put.kind in ("amount", "signed") else 0)
        return cells.formula(at, style, said, value) if said else cells.number(at, style, value)

    def skip(self, rows: int = 1) -> None:
        self.row += rows

    def at(self, column: int) -> str:
        """Where a cell of the row lies that is written next."""
        return f"{cells.letters(column)}{self.row + 1}"

    def area(self, column: int, first: int, last: int) -> str:
        """Cells of one column, as a formula of another sheet names them."""
        letter = cells.letters(column)
        quoted = self.name.replace("'", "''")
        return f"'{quoted}'!${letter}${first}:${letter}${last}"

    def widths(self, widths: Sequence[float]) -> None:
        for place, width in enumerate(widths):
            self.part.set_column(place, place, width)

    def headings(self, headings: Sequence[tuple[str, str]], *, freeze: int | None = None, height: int = 32) -> int:
        """Write a row of headings, each "left", "right" or "after". `freeze` keeps rows and so many columns in sight."""
        row = self.put(*(Put(text or None, f"head {side}") for text, side in headings), height=height)
        if freeze is not None:
            self.part.freeze_panes(row, freeze)
            self.part.repeat_rows(row - 1)
        return row
