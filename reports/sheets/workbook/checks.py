"""The last sheet: does every sum agree, by the formulas and as the program shows it?

A formula that changes a cell elsewhere shows up here at once, and so would a figure of the program that its own rows do
not bear out.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from budget.models import Cause
from reports.selectors import workbook as rows
from reports.sheets.workbook.book import Book, Put, Sheet
from reports.sheets.workbook.cells import quoted
from reports.sheets.workbook.plan import counts_words
from reports.sheets.workbook.summary import FIGURES, Told, if_sum


@dataclass(frozen=True, slots=True)
class Check:
    """One sum by its formula and as the program shows it, or as another formula gives it."""

    what: str
    formula: str
    value: int
    shown: int
    other: str = ""
    kind: str = "amount"


@dataclass(frozen=True, slots=True)
class Extra:
    """What the checks need besides the summary [project minor units]."""

    currency_moved: int
    billed_net: int
    beyond: int
    contingency_left: int


def checks_sheet(book: Book) -> Sheet:
    note = _("Every sum by the formulas of this workbook, beside what the program shows on its pages.")
    return book.sheet(_("Checks"), _("Checks"), note)


def write_checks(sheet: Sheet, told: Told, extra: Extra) -> None:
    sheet.widths([7, 58, 20, 20, 16, 12])
    checks, lines = list(_checks(sheet.book.digits, told, extra)), told.plan.lines
    wrong = sum(check.value != check.shown for check in checks) + sum(line.likely != line.kept.likely for line in lines)
    # The verdict, a gap, the headings of both parts with a gap and a title between, and every row.
    last = sheet.row + 2 + 1 + len(checks) + 3 + len(lines)
    _verdict(sheet, wrong, last)
    heads = [(_("What is checked"), "left"), (_("By the formulas"), "right"), (_("As the program shows it"), "right")]
    ends = [(_("Difference"), "right"), (_("Verdict"), "right")]
    sheet.headings([(_("No."), "left"), *heads, *ends], freeze=2)
    for number, check in enumerate(checks, start=1):
        left, right = Put(check.value, check.kind, check.formula), Put(check.shown, check.kind, check.other)
        _row(sheet, number, check.what, left, right)
    sheet.skip()
    sheet.put(Put(_("First budget and movements of each line, beside its likely final as kept"), "section"), height=22)
    sheet.headings(
        [(_("No."), "left"), (_("Line"), "left"), (_("By the formulas"), "right"), (_("As kept"), "right"), *ends]
    )
    for line in lines:
        _row(sheet, line.number, f"{line.code} {line.description}", *_likely(sheet.book.digits, line))
    assert sheet.row == last, "the verdict counts every row"  # noqa: S101


def _verdict(sheet: Sheet, wrong: int, last: int) -> None:
    agrees, differs = _("Every sum agrees."), _("Something differs: look below.")
    area = f"F{sheet.row + 1}:F{last}"
    said = f"IF(COUNTIF({area},{quoted(_('differs'))})=0,{quoted(agrees)},{quoted(differs)})"
    sheet.put(Put(differs if wrong else agrees, "section", said), height=22)
    sheet.skip()


def _row(sheet: Sheet, number: int, what: str, left: Put, right: Put) -> None:
    difference = left.value - right.value
    kind = "signed" if left.kind == "amount" else "number"
    verdict = f"IF(E[row]=0,{quoted(_('agrees'))},{quoted(_('differs'))})"
    sheet.put(
        Put(number, "key"), Put(what), left, right, Put(difference, kind, f"ROUND(C[row]-D[row],{sheet.book.digits})"),
        Put(_("differs") if difference else _("agrees"), "word", verdict),
    )  # fmt: skip


def _likely(digits: int, line: rows.Line) -> tuple[Put, Put]:
    said = f"ROUND(SUMIFS(line_budget,line_number,$A[row])+SUMIFS(movement_amount,movement_line,$A[row]),{digits})"
    return Put(line.likely, "amount", said), Put(line.kept.likely, "amount")


def _checks(digits: int, told: Told, extra: Extra) -> Iterator[Check]:
    yield from _of_lines(digits, told)
    yield from _of_the_ledger(digits, told, extra)
    yield from _of_bills(digits, told, extra)
    net = told.savings.net_minor
    yield Check(_("Savings, net of all that counts"), "savings_net", net, net)


def _of_lines(digits: int, told: Told) -> Iterator[Check]:
    """Each figure of all trades, as Money shows it."""
    names = {
        "budget": _("First budget of the work"), "original": _("Original quotes"), "agreed": _("Agreed"),
        "changes": _("Changes agreed"), "invoiced": _("Invoiced"), "likely": _("Likely final of the work"),
        "over": _("Over or under budget"), "against": _("Extra or saved against the original quotes"),
    }  # fmt: skip
    work = quoted(counts_words()[rows.WORK])
    for column, name, _signed in FIGURES:
        value = sum(_of(line, column) or 0 for line in told.plan.lines if line.counts == rows.WORK)
        said = if_sum(f"line_{column}", digits, "line_counts", work)
        yield Check(names[column], said, value, getattr(told.seen.total, name))


def _of(line: rows.Line, column: str) -> int | None:
    return line.likely - line.budget if column == "over" else getattr(line, column)


def _of_the_ledger(digits: int, told: Told, extra: Extra) -> Iterator[Check]:
    lines = told.plan.lines
    every = f"ROUND(SUM(line_budget)+SUM(movement_amount),{digits})"
    likely = sum(line.likely for line in lines)
    yield Check(
        _("First budgets and movements are the likely finals, of all lines"),
        every,
        likely,
        sum(line.kept.likely for line in lines),
    )
    bridge = told.seen.bridge
    yield Check(
        _("The bridge ends at the likely final"),
        "bridge_end",
        bridge[-1].running if bridge else told.seen.total.budget,
        told.seen.total.likely,
    )
    yield Check(
        _("Budget moved adds up to nothing"), f"ROUND(SUM(line_moved),{digits})", sum(line.moved for line in lines), 0
    )
    aside = [line for line in lines if line.counts == rows.ASIDE]
    left = sum(line.budget + line.moved for line in aside)
    yield Check(_("Left of the contingency"), "contingency_left", left, extra.contingency_left)
    said = if_sum("movement_amount", digits, "movement_cause", quoted(capfirst(str(Cause.CURRENCY.label))))
    yield Check(_("What exchange rates moved"), said, extra.currency_moved, sum(line.kept.currency for line in lines))


def _of_bills(digits: int, told: Told, extra: Extra) -> Iterator[Check]:
    def whole(name: str) -> str:
        return f"ROUND(SUM({name}),{digits})"

    by_line = sum(line.paid for line in told.plan.lines)
    withheld = sum(line.withheld for line in told.plan.lines)
    yield Check(
        _("Invoice lines add up to the invoices, net"),
        whole("billed_net_own"),
        extra.billed_net,
        extra.billed_net,
        whole("invoice_net_own"),
    )
    yield Check(_("Payments add up, by invoice"), whole("invoice_paid_own"), told.paid, told.paid, whole("payment_own"))
    yield Check(_("Payments add up, by line"), whole("line_paid"), by_line, told.paid, whole("payment_own"))
    yield Check(
        _("Invoices paid beyond what falls to be paid"), 'COUNTIF(invoice_beyond,">0")', extra.beyond, 0, kind="number"
    )
    yield Check(
        _("Retention withheld, by line and by agreement"),
        whole("line_withheld"),
        withheld,
        told.withheld,
        whole("retention_withheld"),
    )
