"""Files read into cells. The workbooks are written by openpyxl, which has no part in the program."""

import contextlib
import io
import re
import zipfile
from datetime import date, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from projects.faults import Refused
from reports.sheets import inside, reading
from tests.reports.exchange.sheets import LINES, csv, with_part, workbook

SHEET = "xl/worksheets/sheet1.xml"


def part(data: bytes, name: str = SHEET) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return archive.read(name)


def test_a_workbook_is_read_cell_by_cell():
    grid = reading.read(workbook([["a", 1, 2.5, True, date(2027, 1, 29), datetime(2027, 1, 29, 8), None, "2.10"]])).grid
    assert grid.rows == [["a", 1.0, 2.5, "TRUE", "2027-01-29", "2027-01-29 08:00:00", "", "2.10"]]


def test_rows_keep_their_numbers_where_the_sheet_starts_lower():
    def lower(book: Any) -> None:
        book.active.insert_rows(1, 3)

    assert reading.read(workbook([["a"]], mend=lower)).grid.rows == [[""], [""], [""], ["a"]]


def test_merged_hidden_and_worked_out_cells_are_told():
    def mend(book: Any) -> None:
        sheet = book.active
        sheet.merge_cells("A4:B5")
        sheet.row_dimensions[2].hidden = True
        sheet.column_dimensions["C"].hidden = True
        sheet["E2"] = "=1+1"

    facts = reading.read(workbook([*LINES, ["x"], ["", ""]], mend=mend)).grid.facts
    assert facts.merged == ((4, 1, 5, 2),) and facts.hidden_rows == {2} and facts.hidden_columns == {3}
    assert (facts.formula_count, facts.formulas) == (1, ((2, 5),))
    assert ("formulas without a value", "1") in facts.notes  # nobody has worked it out yet


def test_a_formula_gives_its_value_and_a_text_that_looks_like_one_stays_a_text():
    data = workbook([["=1+1", "x"]], mend=lambda book: setattr(book.active["A1"], "data_type", "s"))
    assert reading.read(data).grid.rows == [["=1+1", "x"]]
    worked_out = (
        part(workbook([["=1+1"]]))
        .replace(b"<v />", b"<v>2</v>")
        .replace(b"<v></v>", b"<v>2</v>")
        .replace(b"<v/>", b"<v>2</v>")
    )
    assert reading.read(with_part(workbook([["=1+1"]]), SHEET, worked_out)).grid.rows == [[2.0]]


def test_an_error_is_not_taken_for_an_empty_cell():
    def mend(book: Any) -> None:
        book.active["E2"].value, book.active["E2"].data_type = "#REF!", "e"

    assert reading.read(workbook(LINES, mend=mend)).grid.rows[1][4] == "#REF!"


def test_a_format_that_names_another_currency_is_told():
    def mend(book: Any) -> None:
        book.active["E2"].number_format = "[$\u20ac-407]#,##0.00"
        book.active["E3"].number_format = "[$\u00a3-809]#,##0.00"

    data = workbook(LINES, mend=mend)
    assert reading.read(data).grid.facts.formats == {(2, 5): "EUR", (3, 5): "GBP"}
    assert reading.read(data, own="GBP").grid.facts.formats == {(2, 5): "EUR"}


def test_the_first_sheet_that_is_not_hidden_is_read_unless_one_is_named():
    def mend(book: Any) -> None:
        book.active.sheet_state = "hidden"
        book.create_sheet("Two & three")["A1"] = "two"

    data = workbook([["one"]], mend=mend)
    assert reading.read(data).grid.rows == [["two"]] and reading.read(data).others == ("Budget",)
    assert reading.read(data, sheet="budget").grid.rows == [["one"]]
    with pytest.raises(Refused, match="Two & three"):
        reading.read(data, sheet="four")


def test_days_counted_from_1904_are_told():
    def mend(book: Any) -> None:
        from openpyxl.utils.datetime import CALENDAR_MAC_1904

        book.epoch = CALENDAR_MAC_1904

    assert reading.read(workbook([["a"]], mend=mend)).grid.facts.from_1904


@pytest.mark.parametrize(
    ("data", "note"),
    [
        (csv("a;b;c", "1,5;2;3"), ("delimiter", "semicolon")),
        (csv("a\tb", "1\t2"), ("delimiter", "tab")),
        (csv("a,é", "1,2", encoding="utf-16"), ("encoding", "UTF-16")),
        (csv("a,é", "1,2", encoding="cp1252"), ("encoding", "Windows-1252")),
    ],
)
def test_a_delimited_file_tells_how_it_was_read(data: bytes, note: tuple[str, str]):
    grid = reading.read(data).grid
    assert note in grid.facts.notes and len({len(row) for row in grid.rows}) == 1 and len(grid.rows[0]) > 1


def test_plain_utf8_with_commas_needs_no_word():
    found = reading.read(csv("a,b", '"1,5",é', "x", encoding="utf-8-sig"))
    assert found.grid.rows == [["a", "b"], ["1,5", "é"], ["x", ""]] and found.grid.facts.notes == ()


def far(cell: str) -> bytes:
    return with_part(workbook(LINES), SHEET, part(workbook(LINES)).replace(b'r="E3"', f'r="{cell}"'.encode()))


def bomb() -> bytes:
    return with_part(workbook(LINES), "xl/media/big.xml", b" " * (inside.MOST_UNPACKED + 1))


def understated() -> bytes:
    """A part that says it is smaller than it is."""
    data = bytearray(workbook(LINES))
    real = len(part(workbook(LINES)))
    return bytes(data).replace(real.to_bytes(4, "little"), (real // 2).to_bytes(4, "little"))


REFUSED = {
    "nothing": (b"", "empty"),
    "blank": (b" \r\n", "empty"),
    "a picture": (b"\x89PNG\r\n\x1a\n", "neither a CSV file nor a workbook"),
    "a document": (b"%PDF-1.7", "neither a CSV file nor a workbook"),
    "bytes": (b"a\x00b\x01\x02", "neither a CSV file nor a workbook"),
    "another zip": (with_part(workbook(LINES), "xl/workbook.xml", None), "neither a CSV file nor a workbook"),
    "an older workbook": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600, "older kind"),
    "a password": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + "EncryptedPackage".encode("utf-16-le"), "password"),
    "a macro": (with_part(workbook(LINES), "xl/vbaProject.bin", b"x"), "macro"),
    "half a file": (workbook(LINES)[:900], "damaged"),
    "a part that lies": (understated(), "damaged"),
    "broken XML": (with_part(workbook(LINES), SHEET, b"<worksheet><sheetData><row r=\"1\"><c r=\"A1\"><v>1</worksheet>"), "damaged"),
    "no sheet": (with_part(workbook(LINES), "xl/workbook.xml", b"<workbook/>"), "no sheet"),
    "a cell far to the right": (far("XFD3"), "XFD3"),
    "a cell far below": (far("E1048576"), "E1048576"),
    "cells without places": (with_part(workbook(LINES), SHEET, re.sub(rb' r="[A-Z][0-9]"', b"", part(workbook(LINES)))), "unusual program"),
    "an open quotation mark": (csv("a,b", '"1,2', "3,4"), "quotation mark"),
    "too many columns": (csv(",".join("a" * 201)), "columns"),
    "too many rows": (b"a\r\n" * (reading.MOST_GRID_ROWS + 1), "rows"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_cannot_be_read_says_why(name: str):
    data, why = REFUSED[name]
    with pytest.raises(Refused, match=why):
        reading.read(data)


def test_a_workbook_that_unpacks_too_large_is_refused_before_it_is_unpacked():
    data = bomb()
    assert len(data) < reading.MOST_BYTES
    with pytest.raises(Refused, match="100 MB"):
        reading.read(data)


def test_a_file_that_is_too_large_is_refused():
    with pytest.raises(Refused, match="10 MB"):
        reading.read(b"a" * (reading.MOST_BYTES + 1))


WHOLE = workbook([*LINES, ["", "", "", "Total", 21500.5]])
PARTS = [SHEET, "xl/workbook.xml", "xl/styles.xml", "xl/_rels/workbook.xml.rels"]


@settings(max_examples=150)
@given(st.sampled_from(PARTS), st.data())
def test_whatever_is_altered_in_a_workbook_it_is_read_or_refused(name: str, data: st.DataObject):
    content = part(WHOLE, name)
    at = data.draw(st.integers(0, len(content)))
    altered = content[:at] + data.draw(st.binary(max_size=12)) + content[at + data.draw(st.integers(0, 40)) :]
    with contextlib.suppress(Refused):
        assert reading.read(with_part(WHOLE, name, altered)).grid.width <= reading.MOST_COLUMNS + 4


@settings(max_examples=200)
@given(st.binary(max_size=200))
def test_whatever_bytes_come_they_are_read_or_refused(data: bytes):
    with contextlib.suppress(Refused):
        assert all(isinstance(cell, str) for row in reading.read(data).grid.rows for cell in row)
