"""A file that somebody hands in, read into the cells of one sheet.

Nothing of the file is trusted: what it is follows from its bytes, never from its name; how large it unpacks is known
before it is unpacked; a workbook with a program inside is refused. Libraries for sheets are imported when the first
file is read, so that a web worker starts without them.
"""

import csv
import gc
import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.utils.translation import gettext as _

from budget.calc.sheets.grid import Cell, Facts, Grid
from budget.calc.sheets.preview import MOST_ROWS
from projects.faults import Refused
from reports.sheets import inside

MOST_BYTES = 10 * 1024 * 1024
MOST_COLUMNS = 200
#: A row for the titles and headings above the rows that are read.
MOST_GRID_ROWS = MOST_ROWS + 200
_LONGEST_FIELD = 100_000
_OLD_OFFICE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab"}


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet: its cells, its name, and the names of the other sheets of its workbook."""

    grid: Grid
    name: str = ""
    others: tuple[str, ...] = ()


def read(data: bytes, *, sheet: str = "", own: str = "") -> Sheet:
    """Read a CSV file or a workbook.

    Args:
        data: the file.
        sheet: name of the sheet to read; "" for the first one that is not hidden.
        own: a currency whose number formats need no mention, or "".
    Raises: Refused, naming what is wrong and the mend.
    """
    if len(data) > MOST_BYTES:
        raise Refused(_("The file is larger than 10 MB; take out what is not needed, or split it."), field="file")
    if not data.strip(b"\x00\r\n\t "):
        raise Refused(_("The file is empty."), field="file")
    if data.startswith(_OLD_OFFICE):
        raise Refused(_old_office(data), field="file")
    if data.startswith(b"PK"):
        with _collection_paused():
            return _workbook(data, sheet, own)
    if data.startswith((b"%PDF", b"\xff\xd8\xff", b"\x89PNG", b"GIF8", b"{\\rtf", b"<!DOCTYPE", b"<html", b"<?xml")):
        raise Refused(_wrong_kind(), field="file")
    return _delimited(data)


@contextmanager
def _collection_paused() -> Iterator[None]:
    """Keep the garbage collector from walking over tens of thousands of new rows, none of which is garbage."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _wrong_kind() -> str:
    return _("This is neither a CSV file nor a workbook; save the sheet as .xlsx or as .csv and choose that file.")


def _old_office(data: bytes) -> str:
    if "EncryptedPackage".encode("utf-16-le") in data:
        return _("The workbook is protected by a password; save it without one and choose that file.")
    return _("This is a file of an older kind; save the sheet as .xlsx or as .csv and choose that file.")


# --- Workbooks ------------------------------------------------------------------------------------------------------


def _workbook(data: bytes, sheet: str, own: str) -> Sheet:
    parts = inside.parts(data)
    book = inside.book(parts)
    chosen = _chosen(book, sheet)
    marks = inside.marks(parts, chosen.part, own)
    rows, merged = _cells(inside.packed(parts), chosen.name)
    _put_back(rows, marks.errors)
    notes = [("sheet", chosen.name)] if len(book.sheets) > 1 else []
    notes += [("formulas without a value", str(len(marks.uncomputed)))] if marks.uncomputed else []
    facts = Facts(
        merged=merged, hidden_rows=marks.hidden_rows, hidden_columns=marks.hidden_columns, formulas=marks.formulas[:1],
        formula_count=len(marks.formulas), formats=marks.formats, from_1904=book.from_1904, notes=tuple(notes),
    )  # fmt: skip
    others = tuple(entry.name for entry in book.sheets if entry is not chosen)
    return Sheet(Grid(rows, facts), chosen.name, others)


def _chosen(book: inside.Book, sheet: str) -> inside.Entry:
    if sheet:
        found = next((entry for entry in book.sheets if entry.name.casefold() == sheet.strip().casefold()), None)
        if found is None:
            names = ", ".join(entry.name for entry in book.sheets[:20])
            raise Refused(_("There is no sheet of that name; the workbook has: %s.") % names, field="sheet")
        return found
    visible = [entry for entry in book.sheets if not entry.hidden]
    return (visible or book.sheets)[0]


def _cells(data: bytes, name: str) -> tuple[list[list[Cell]], tuple[tuple[int, int, int, int], ...]]:
    from python_calamine import CalamineError, CalamineWorkbook

    try:
        found = CalamineWorkbook.from_filelike(io.BytesIO(data)).get_sheet_by_name(name)
        rows: list[list[Any]] = found.to_python(skip_empty_area=False)
        blocks = found.merged_cell_ranges or []
    except (CalamineError, ValueError, OSError) as fault:
        raise Refused(_damaged(), field="file") from fault
    except BaseException as fault:
        # The library's way of saying that it met what it never expected lies outside of Exception.
        if type(fault).__name__ != "PanicException":
            raise
        raise Refused(_damaged(), field="file") from fault
    merged = tuple((top + 1, left + 1, bottom + 1, right + 1) for (top, left), (bottom, right) in blocks)
    return _plain(rows), merged


def _damaged() -> str:
    return _(
        "The workbook is damaged and cannot be read; open it in your spreadsheet program, save it anew, and choose that file."
    )


class _Texts(dict[Any, str]):
    """Dates, times and truths as texts, each written once."""

    def __missing__(self, cell: Any) -> str:
        text = self[cell] = _as_text(cell)
        return text


def _plain(rows: list[list[Any]]) -> list[list[Cell]]:
    """Turn dates and truths into texts, column by column, where there are any."""
    plain = {str, float, int}
    for place, column in enumerate(zip(*rows, strict=True)):
        odd = set(map(type, column)) - plain
        if odd:
            texts = _Texts()
            plain_column = [texts[cell] if type(cell) in odd else cell for cell in column]
            for row, cell in zip(rows, plain_column, strict=True):
                row[place] = cell
    return rows


def _as_text(cell: Any) -> str:
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time(0) else cell.isoformat(sep=" ")
    if isinstance(cell, date | time):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        return str(cell)
    return "" if cell is None else str(cell)


def _put_back(rows: list[list[Cell]], errors: dict[tuple[int, int], str]) -> None:
    """Cells with an error come out empty; put the error back, so that nobody takes it for nothing."""
    for (row, column), text in errors.items():
        if row <= len(rows) and column <= len(rows[row - 1]):
            rows[row - 1][column - 1] = text


# --- Delimited text -------------------------------------------------------------------------------------------------


def _delimited(data: bytes) -> Sheet:
    text, encoding = _decoded(data)
    if "\x00" in text:
        raise Refused(_wrong_kind(), field="file")
    delimiter = _delimiter(text)
    rows = _rows(text, delimiter)
    width = max(map(len, rows), default=0)
    if width > MOST_COLUMNS:
        raise Refused(_("The file has more than %s columns; take out what is not needed.") % MOST_COLUMNS, field="file")
    padded: list[list[Cell]] = [[*row, *[""] * (width - len(row))] for row in rows]
    notes = (("encoding", encoding), ("delimiter", _DELIMITERS[delimiter]))
    return Sheet(Grid(padded, Facts(notes=tuple(note for note in notes if note[1] not in ("UTF-8", "comma")))))


def _decoded(data: bytes) -> tuple[str, str]:
    """Read the bytes as text. The mark at the start tells; without one it is UTF-8, or else Windows-1252."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16"), "UTF-16"
        except UnicodeDecodeError as fault:
            raise Refused(_wrong_kind(), field="file") from fault
    try:
        return data.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "Windows-1252"


def _delimiter(text: str) -> str:
    """The sign that parts the most rows near the top into the same number of cells, and into more than one."""
    head = text[:20_000].splitlines()[:50]
    best, most = ",", 0
    for sign in _DELIMITERS:
        try:
            widths = [len(row) for row in csv.reader(head, delimiter=sign) if any(row)]
        except csv.Error:
            continue
        common = max((widths.count(width) * (width - 1) for width in set(widths)), default=0)
        if common > most:
            best, most = sign, common
    return best


def _rows(text: str, delimiter: str) -> list[list[str]]:
    csv.field_size_limit(_LONGEST_FIELD)
    rows: list[list[str]] = []
    try:
        for row in csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True):
            rows.append(row)
            if len(rows) > MOST_GRID_ROWS:
                raise Refused(_("The file has more than %s rows; split it.") % MOST_ROWS, field="file")
    except csv.Error as fault:
        raise Refused(
            _(
                "From row %s on the file cannot be read: a quotation mark is not closed, or stands inside a cell. Mend it there."
            )
            % (len(rows) + 1),
            field="file",
        ) from fault
    return rows
