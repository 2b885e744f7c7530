"""Sheets as files, made by another library than the one that reads them."""

import io
import zipfile
from collections.abc import Callable
from typing import Any

import openpyxl

LINES = [
    ["Trade code", "Trade name", "Code", "Description", "First budget"],
    ["T01", "Groundworks", "G1", "Dig", 14500.5],
    ["T01", "Groundworks", "G2", "Cart", 7000],
]


def workbook(rows: list[list[Any]], *, name: str = "Budget", mend: Callable[[Any], None] | None = None) -> bytes:
    """A workbook with one sheet, and whatever `mend` does to it."""
    book = openpyxl.Workbook()
    book.active.title = name
    for row in rows:
        book.active.append(row)
    if mend:
        mend(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def with_part(data: bytes, name: str, content: bytes | None) -> bytes:
    """The same workbook with one part put in, changed, or, for None, left out."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.namelist():
            if entry != name:
                new.writestr(entry, old.read(entry))
        if content is not None:
            new.writestr(name, content)
    return out.getvalue()


def csv(*lines: str, encoding: str = "utf-8") -> bytes:
    return "\r\n".join(lines).encode(encoding)
