"""The sheets of what was billed, paid and held back.

An invoice stands in its own currency; what counts against the budget stands beside it in the project's.
"""

from collections.abc import Iterable, Iterator
from typing import Any

from django.utils.translation import gettext as _

from budget.models import Invoice
from budget.selectors.retained import Retained
from reports.selectors import workbook as rows
from reports.sheets.workbook.book import Book, Sheet
from reports.sheets.workbook.cells import quoted
from reports.sheets.workbook.table import Column, Table, yes_or_no

Row = tuple[Any, ...]


def invoices_sheet(book: Book) -> Sheet:
    note = _(
        "What falls to be paid is net less retention, with tax. Open is what is left of it; what was queried or refused counts as nothing."
    )
    return book.sheet(_("Invoices"), _("Invoices"), note)


def _invoice_columns(own: str, digits: int) -> list[Column]:
    counts = f"[counts]={quoted(_('yes'))}"
    open_now = f"IF({counts},ROUND([payable]-[paid],[digits]),0)"
    # A payment runs the way of its invoice: what is paid beyond it is as much too far for a credit note.
    beyond = "ROUND(MAX(0,IF([payable]<0,[payable]-[paid],[paid]-[payable])),[digits])"
    paid_own = f"ROUND(SUMIFS(payment_own,payment_invoice,[number]),{digits})"
    return [
        Column("number", _("No."), "key", 7, named=True),
        Column("name", _("Invoice"), width=16),
        Column("vendor", _("Vendor"), width=26),
        Column("kind", _("Kind"), width=11),
        Column("state", _("State"), width=10),
        Column("counts", _("Counts"), width=8),
        Column("on", _("Date"), "date", 12),
        Column("due", _("Due"), "date", 12),
        Column("currency", _("Currency"), "word", 9),
        Column("rate", _("Rate"), "rate", 10),
        Column("net", _("Net"), "own", 15),
        Column("retention", _("Retention"), "own", 14),
        Column("tax", _("Tax"), "own", 14),
        Column("payable", _("Falls to be paid"), "own", 15, "ROUND([net]-[retention]+[tax],[digits])"),
        Column("paid", _("Paid"), "own", 15, "ROUND(SUMIFS(payment_amount,payment_invoice,[number]),[digits])"),
        Column("open", _("Open"), "own", 15, open_now),
        Column("beyond", _("Paid beyond it"), "own", 13, beyond, named=True),
        Column("net_own", _("Net in %s") % own, "amount", 15, named=True, total=True),
        Column("paid_own", _("Paid in %s") % own, "amount", 15, paid_own, named=True, total=True),
    ]  # fmt: skip


def write_invoices(sheet: Sheet, billed: Iterable[tuple[int, rows.Billed]]) -> tuple[dict[int, int], int]:
    """Write the sheet. Returns: the number of each invoice's row, and how many are paid beyond what falls to be paid."""
    book, numbers, beyond = sheet.book, {}, 0
    columns = _invoice_columns(book.project.currency, book.digits)
    kinds, states = _labels(Invoice.Kind), _labels(Invoice.State)
    yes, no = _("yes"), _("no")

    def each() -> Iterator[Row]:
        nonlocal beyond
        for pk, row in billed:
            numbers[pk], payable, paid = row.number, row.payable, row.paid
            too_much = max(0, payable - paid if payable < 0 else paid - payable)
            beyond += too_much > 0
            yield (
                row.number, row.name, row.vendor, kinds[row.kind], states[row.state], yes if row.counts else no, row.invoiced_on,
                row.due_on, row.currency, row.rate, row.net, row.retention, row.tax, payable, paid,
                payable - paid if row.counts else 0, too_much, row.net_own, row.paid_own,
            )  # fmt: skip

    Table(sheet, "invoice", columns, freeze=3).write(each(), total=_("All invoices"), nothing=_("No invoice yet."))
    return numbers, beyond


def _labels(choices: Any) -> dict[str, str]:
    return {member.value: str(member.label) for member in choices}


def billed_sheet(book: Book) -> Sheet:
    note = _(
        "What each invoice bills on which line. Invoiced is the cost of invoices that count, with what the rate of the payment added."
    )
    return book.sheet(_("Invoice lines"), _("Invoice lines"), note)


def write_billed(sheet: Sheet, billed: Iterable[rows.BilledLine]) -> None:
    own, digits = sheet.book.project.currency, sheet.book.digits
    invoiced = f"IF([counts]={quoted(_('yes'))},ROUND([cost]+[exchange],{digits}),0)"
    columns = [
        Column("number", _("No."), "key", 7),
        Column("invoice", _("Invoice no."), "key", 8),
        Column("name", _("Invoice"), width=16),
        Column("line", _("Line no."), "key", 7, named=True),
        Column("code", _("Line"), width=12),
        Column("change", _("Change"), width=9),
        Column("counts", _("Counts"), width=8, named=True),
        Column("currency", _("Currency"), "word", 9),
        Column("net", _("Net"), "own", 15),
        Column("tax", _("Tax"), "own", 14),
        Column("retention", _("Retention"), "own", 14),
        Column("net_own", _("Net in %s") % own, "amount", 15, named=True, total=True),
        Column("retention_own", _("Retention in %s") % own, "amount", 14, named=True, total=True),
        Column("cost", _("Cost"), "amount", 15, total=True),
        Column("exchange", _("Added by the rate"), "signed", 13, total=True),
        Column("invoiced", _("Invoiced"), "amount", 15, invoiced, named=True, total=True),
        Column("paid", _("Paid, its share"), "amount", 15, named=True, total=True),
    ]
    yes, no = _("yes"), _("no")
    Table(sheet, "billed", columns, freeze=3).write(
        (
            (
                number, row.invoice, row.invoice_name, row.line.number, row.line.code, row.change, yes if row.counts else no,
                row.currency, row.net, row.tax, row.retention, row.net_own, row.retention_own, row.cost, row.exchange,
                row.cost + row.exchange if row.counts else 0, row.paid,
            )
            for number, row in enumerate(billed, start=1)
        ),
        total=_("All invoice lines"),
        nothing=_("Nothing was billed yet."),
    )  # fmt: skip


def payments_sheet(book: Book) -> Sheet:
    return book.sheet(
        _("Payments"), _("Payments"), _("Every payment, at the rate of its day; one that was taken back bears a minus.")
    )


def write_payments(sheet: Sheet, paid: Iterable[rows.Paid]) -> int:
    """Write the sheet. Returns: what was paid in all [project minor units]."""
    own = sheet.book.project.currency
    columns = [
        Column("number", _("No."), "key", 7),
        Column("invoice", _("Invoice no."), "key", 8, named=True),
        Column("name", _("Invoice"), width=16),
        Column("vendor", _("Vendor"), width=26),
        Column("on", _("Date"), "date", 12),
        Column("currency", _("Currency"), "word", 9),
        Column("amount", _("Amount"), "own", 15, named=True),
        Column("rate", _("Rate"), "rate", 10),
        Column("own", _("Amount in %s") % own, "amount", 15, named=True, total=True),
        Column("exchange", _("Added by the rate"), "signed", 13, total=True),
        Column("reference", _("Reference"), "after", 24),
        Column("reversal", _("Takes one back"), width=10),
    ]
    table = Table(sheet, "payment", columns, freeze=3)
    table.write(
        (
            (
                number, row.invoice, row.invoice_name, row.vendor, row.on, row.currency, row.amount, row.rate, row.amount_own,
                row.exchange, row.reference, yes_or_no(row.is_reversal),
            )
            for number, row in enumerate(paid, start=1)
        ),
        total=_("All payments"),
        nothing=_("Nothing was paid yet."),
    )  # fmt: skip
    return table.totals["own"]


def retention_sheet(book: Book) -> Sheet:
    return book.sheet(
        _("Retention"),
        _("Retention"),
        _("What was held back of each agreement's invoices, what was released of it, and what is still held."),
    )


def write_retention(sheet: Sheet, retained: Iterable[Retained]) -> None:
    own, digits = sheet.book.project.currency, sheet.book.digits
    columns = [
        Column("number", _("No."), "key", 6),
        Column("vendor", _("Vendor"), width=26),
        Column("lines", _("Lines"), width=40),
        Column("currency", _("Currency"), "word", 9),
        Column("withheld_quoted", _("Withheld"), "own", 15),
        Column("released_quoted", _("Released"), "own", 15),
        Column("held_quoted", _("Held"), "own", 15, "ROUND([withheld_quoted]-[released_quoted],[digits])"),
        Column("withheld", _("Withheld in %s") % own, "amount", 15, named=True, total=True),
        Column("released", _("Released in %s") % own, "amount", 15, named=True, total=True),
        Column("held", _("Held in %s") % own, "amount", 15, f"ROUND([withheld]-[released],{digits})", True, True),
        Column("next", _("Falls due next"), "after", 28),
        Column("due", _("Due"), "date", 12),
    ]
    Table(sheet, "retention", columns).write(
        (
            (
                number, row.vendor, ", ".join(row.lines), row.currency, row.withheld_quoted_minor, row.released_quoted_minor,
                row.held_quoted_minor, row.withheld_minor, row.released_minor, row.held_minor,
                row.next_due.name if row.next_due else "", row.next_due.due_on if row.next_due else None,
            )
            for number, row in enumerate(retained, start=1)
        ),
        total=_("All agreements"),
        nothing=_("No retention was held back yet."),
    )  # fmt: skip
