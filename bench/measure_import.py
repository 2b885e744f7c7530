"""Reading a sheet of 10,000 rows into a full preview, against another library just walking over its cells."""

import gc
import io
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

from bench.figures import Figure, faster

ROWS = 10_000
ROUNDS = 11
#: The goal: at most a quarter of the time.
LEAST = 4


def _amount(number: int) -> float:
    return (number * 7919 % 9_999_999) / 100


def _lines() -> list[list[Any]]:
    head = ["Trade code", "Trade name", "Code", "Description", "Kind", "Unit", "Quantity", "First budget"]
    return [head, *(
        [f"T{n % 40:02d}", f"Trade {n % 40}", f"L{n:05d}", f"Piece of work number {n} in the hall", "work", "m2", n % 1000 / 10, _amount(n)]
        for n in range(ROWS)
    )]  # fmt: skip


def _quotes() -> list[list[Any]]:
    head = [
        "Vendor",
        "Line code",
        "Amount",
        "Currency",
        "Date",
        "Valid until",
        "Lead time",
        "Basis",
        "Reference",
        "Note",
    ]
    start = datetime(2026, 11, 1)  # noqa: DTZ001  # a sheet has no time zones
    return [head, *(
        [f"Vendor {n % 300}", f"L{n:05d}", _amount(n), "GBP", start - timedelta(n % 28), start, "12 weeks", "firm", f"Q{n:05d}",
         "as per drawing"]
        for n in range(ROWS)
    )]  # fmt: skip


def _workbook(rows: list[list[Any]]) -> bytes:
    import xlsxwriter

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"default_date_format": "yyyy-mm-dd"}) as book:
        sheet = book.add_worksheet("Budget")
        for place, row in enumerate(rows):
            sheet.write_row(place, 0, row)
    return out.getvalue()


def _walked(data: bytes) -> int:
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    count = sum(1 for _row in book.worksheets[0].iter_rows(values_only=True))
    book.close()
    return count


def _seconds(deed: Callable[[], object]) -> float:
    gc.collect()
    start = time.process_time()
    deed()
    return time.process_time() - start


def _both(data: bytes, read: Callable[[], object]) -> tuple[float, float]:
    """Both ways by turns, the best of each: whoever else uses the machine makes times longer, never shorter."""
    pairs = [(_seconds(read), _seconds(lambda: _walked(data))) for _round in range(ROUNDS)]
    ours, theirs = (min(column) for column in zip(*pairs, strict=True))
    return ours, theirs


def measure() -> list[Figure]:
    import django

    django.setup()
    from budget.calc.sheets import lines, quotes
    from budget.calc.sheets.preview import Choices, Known
    from reports.sheets import reading

    codes = frozenset(f"L{n:05d}" for n in range(ROWS))
    shared = {
        "currency": "GBP",
        "mark": ".",
        "today": date(2027, 1, 29),
        "earliest": date(1990, 1, 1),
        "latest": date(2150, 12, 31),
    }
    kinds = {
        "line items": (lines.read, _workbook(_lines()), Known(**shared), "GBP"),
        "quotes": (quotes.read, _workbook(_quotes()), Known(**shared, codes=codes, rates=frozenset({"GBP"})), ""),
    }  # fmt: skip
    found = []
    for name, (read, data, known, own) in kinds.items():
        seen = read(reading.read(data, own=own).grid, known, Choices())
        assert len(seen.places) == ROWS and not seen.stops
        ours, theirs = _both(data, lambda: read(reading.read(data, own=own).grid, known, Choices()))  # noqa: B023
        found.append(faster(f"{ROWS} {name} of XLSX, previewed", ours, theirs, "openpyxl read-only", at_least=LEAST))
    return found
