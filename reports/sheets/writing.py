"""Tables written as files for a spreadsheet, such that no text of theirs is ever run as a formula.

Amounts stay exact: text with the currency's digits in a CSV file; in a workbook, whose numbers are binary fractions,
the one that shows as the amount.
"""

import io
import zipfile
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from reports.exchange.tables import Table

#: A text that begins so would be run by a spreadsheet that opens a CSV file.
_RUN = ("=", "+", "-", "@", "\t", "\r")
#: The most letters that a cell of a workbook holds.
_LONGEST = 32_767
_SHEET_NAME = 31


def harmless(text: str) -> str:
    """Put an apostrophe before a text that a spreadsheet would run.

    Source: OWASP, CSV injection.

    >>> harmless("=1+1"), harmless("Concrete"), harmless("-5 degrees")
    ("'=1+1", 'Concrete', "'-5 degrees")
    """
    return f"'{text}" if text.startswith(_RUN) else text


def as_csv(table: Table) -> bytes:
    """Write a table as CSV: UTF-8 with a mark that spreadsheets know it by, comma, a heading row.

    Source: RFC 4180.
    """
    import pandas

    kinds = [column.kind for column in table.columns]
    rows = [[_csv_cell(value, kind) for value, kind in zip(row, kinds, strict=True)] for row in table.rows]
    frame = pandas.DataFrame(rows, columns=[column.heading for column in table.columns], dtype=object)
    return frame.to_csv(index=False, lineterminator="\r\n").encode("utf-8-sig")


def _csv_cell(value: Any, kind: str) -> Any:
    if value is None:
        return ""
    if isinstance(value, Decimal):
        return format(value, "f")
    return harmless(str(value)) if kind == "text" else value


def as_zip(tables: Iterable[Table]) -> bytes:
    """Write tables as CSV files in one zip."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for table in tables:
            archive.writestr(zipfile.ZipInfo(f"{table.name}.csv", date_time=(1980, 1, 1, 0, 0, 0)), as_csv(table))
    return out.getvalue()


def as_workbook(tables: Iterable[Table]) -> bytes:
    """Write tables as one workbook, a sheet a table. Texts stay texts, whatever they begin with."""
    import pandas

    out = io.BytesIO()
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    with pandas.ExcelWriter(
        out, engine="xlsxwriter", date_format="yyyy-mm-dd", engine_kwargs={"options": options}
    ) as writer:
        for table in tables:
            _sheet(writer, table)
    return out.getvalue()


def _sheet(writer: Any, table: Table) -> None:
    import pandas

    rows = [[_book_cell(value) for value in row] for row in table.rows]
    frame = pandas.DataFrame(rows, columns=[column.heading for column in table.columns], dtype=object)
    name = table.name[:_SHEET_NAME]
    frame.to_excel(writer, sheet_name=name, index=False, freeze_panes=(1, 0))
    sheet, amount = writer.sheets[name], writer.book.add_format({"num_format": "#,##0.00##"})
    for place, column in enumerate(table.columns):
        widest = max([len(column.heading), *(len(str(row[place])) for row in rows[:200])])
        sheet.set_column(place, place, min(widest + 2, 60), amount if column.kind == "amount" else None)


def _book_cell(value: Any) -> Any:
    if isinstance(value, str) and len(value) > _LONGEST:
        return value[: _LONGEST - 1] + "\u2026"  # whole in the CSV file
    return value
