"""The generated project as somebody keeps it in a general spreadsheet: rows, a SUMIFS for every figure of a line, totals.

No formula of ours is in it; that its totals are ours is asserted once it was worked out there.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from budget.calc.forecast import ChangeFact, expected_changes
from budget.models import Change, InvoiceLine, LineItem, Movement, Payment
from budget.selectors.facts import IN_FORCE
from projects.models import Project

INVOICES, NET = "Invoices", 5
#: Where the script that edits it finds things: the sheet, the column of the net amounts, the cells of the totals.
PLAN = {"sheet": INVOICES, "column": NET, "totals": {"invoiced": (1, 3), "likely": (1, 5)}}


def _major(minor: int | None) -> float | None:
    return None if minor is None else minor / 100


def _changes(project: Project) -> Iterable[Sequence[Any]]:
    rows = Change.objects.filter(project=project).select_related("line").order_by("pk")
    for row in rows:
        counts = expected_changes(
            [ChangeFact(row.amount_minor, row.state, row.chance)] if row.state in IN_FORCE else ()
        )
        yield row.line.code, row.code, row.title, row.state, _major(row.amount_minor), _major(counts)


def _invoices(project: Project) -> Iterable[Sequence[Any]]:
    rows = InvoiceLine.objects.filter(invoice__project=project).order_by("pk")
    for line, number, vendor, on, state, net, held, tax in rows.values_list(
        "line__code", "invoice__number", "invoice__vendor__name", "invoice__invoiced_on", "invoice__state", "cost_minor",
        "retention_minor", "tax_quoted_minor",
    ):  # fmt: skip
        yield line, number, vendor, on, state, _major(net), _major(held), _major(tax)


def _payments(project: Project) -> Iterable[Sequence[Any]]:
    rows = Payment.objects.filter(invoice__project=project).order_by("pk")
    for line, number, on, amount in rows.values_list(
        "invoice__lines__line__code", "invoice__number", "paid_on", "amount_minor"
    ):
        yield line, number, on, _major(amount)


def _movements(project: Project) -> Iterable[Sequence[Any]]:
    rows = Movement.objects.filter(project=project).order_by("pk")
    for line, on, cause, amount in rows.values_list("line__code", "occurred_on", "cause", "amount_minor"):
        yield line, on, cause, _major(amount)


#: Each sheet of rows: its headings, and the column whose amounts are summed.
ROWS = {
    "Changes": (_changes, ("Line", "Number", "Title", "State", "Amount", "Counts"), 5),
    INVOICES: (_invoices, ("Line", "Number", "Vendor", "Date", "State", "Net", "Held", "Tax"), NET),
    "Payments": (_payments, ("Line", "Number", "Date", "Amount"), 3),
    "Movements": (_movements, ("Line", "Date", "Cause", "Amount"), 3),
}


def write(project: Project, path: Path) -> None:
    """Write the workbook."""
    import xlsxwriter

    with xlsxwriter.Workbook(str(path), {"default_date_format": "yyyy-mm-dd"}) as book:
        totals, lines = book.add_worksheet("Totals"), book.add_worksheet("Lines")
        sums = {name: _rows(book, name, project) for name in ROWS}
        count = _lines(lines, project, sums)
        _totals(totals, project, count)


def _rows(book: Any, name: str, project: Project) -> str:
    """Write a sheet of rows. Returns: the SUMIFS of one line's share of it, with a place for the line."""
    read, headings, column = ROWS[name]
    sheet, last = book.add_worksheet(name), 1
    sheet.write_row(0, 0, headings)
    for last, row in enumerate(read(project), start=1):
        for place, value in enumerate(row):
            (sheet.write_datetime if isinstance(value, date) else sheet.write)(last, place, value)
    letter, last = "ABCDEFGH"[column], last + 1
    return f"SUMIFS({name}!${letter}$2:${letter}${last},{name}!$A$2:$A${last},A{{row}})"


def _lines(sheet: Any, project: Project, sums: dict[str, str]) -> int:
    """Write the lines: budget and agreed typed, the rest worked out. Returns: the number of the last row."""
    sheet.write_row(0, 0, ("Code", "Trade", "Budget", "Agreed", "Changes", "Invoiced", "Paid", "Moved", "Likely final"))
    place = 0
    for place, line in enumerate(
        LineItem.objects.filter(project=project, removed_on=None).select_related("trade"), start=1
    ):
        row = place + 1
        sheet.write_row(place, 0, (line.code, line.trade.code, _major(line.budget_minor), _major(line.agreed_minor)))
        for column, name in enumerate(ROWS, start=4):
            sheet.write_formula(place, column, "=" + sums[name].format(row=row))
        sheet.write_formula(place, 8, f'=IF(D{row}="",C{row}+H{row},MAX(D{row}+E{row},F{row}))')
    return place + 1


def _totals(sheet: Any, project: Project, last: int) -> None:
    """Write the totals in all (row 2) and by trade."""
    columns = "CDEFGI"
    sheet.write_row(0, 0, ("Trade", "Budget", "Agreed", "Invoiced", "Changes", "Likely final", "Paid"))
    order = ("C", "D", "F", "E", "I", "G")
    assert sorted(order) == sorted(columns)
    for place, letter in enumerate(order, start=1):
        sheet.write_formula(1, place, f"=SUM(Lines!{letter}2:{letter}{last})")
    codes = LineItem.objects.filter(project=project).order_by("trade__code").values_list("trade__code", flat=True)
    for row, code in enumerate(dict.fromkeys(codes), start=2):
        sheet.write(row, 0, code)
        for place, letter in enumerate(order, start=1):
            sums, codes_at = f"Lines!${letter}$2:${letter}${last}", f"Lines!$B$2:$B${last}"
            sheet.write_formula(row, place, f"=SUMIFS({sums},{codes_at},A{row + 1})")
