"""The first sheet: the four figures and the two yardsticks by trade, the bridge, the contingency, bills and savings."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.text import capfirst
from django.utils.translation import gettext as _

from budget.models import Cause
from budget.selectors.overview import Figures, Overview
from decisions.calc import savings_book
from decisions.selectors.book_entries import LABELS
from reports.selectors import workbook as rows
from reports.sheets.workbook.book import Book, Put, Sheet
from reports.sheets.workbook.cells import letters, quoted
from reports.sheets.workbook.plan import counts_words, savings_words

#: Column on the sheet of lines, name of the figure, and whether it is a difference.
FIGURES = (
    ("budget", "budget", False),
    ("original", "original", False),
    ("agreed", "agreed", False),
    ("changes", "changes", True),
    ("invoiced", "invoiced", False),
    ("likely", "likely", False),
    ("over", "over_budget", True),
    ("against", "against_original", True),
)
#: Where those figures begin, counted from 0: number, trade and three counts stand before them.
_FIRST = 5
_COUNTS = (("lines", ""), ("let", "line_agreed"), ("with_original", "line_original"))


@dataclass(frozen=True, slots=True)
class Told:
    """What the program shows on its pages, for the cells of the summary [project minor units]."""

    seen: Overview
    plan: rows.Plan
    savings: savings_book.Totals
    paid: int
    withheld: int
    released: int


def summary_sheet(book: Book) -> Sheet:
    note = _(
        "As of %s. Money set aside is kept apart: a contingency is no work. Every figure is a formula over the other sheets."
    )
    return book.sheet(_("Summary"), _("Summary"), note % book.on.isoformat())


def write_summary(sheet: Sheet, told: Told) -> None:
    sheet.widths([6, 40, 8, 8, 10, *[16] * len(FIGURES)])
    sheet.part.fit_to_pages(1, 1)
    total = _trades(sheet, told)
    _bridge(sheet, told, total)
    _contingency(sheet, told)
    _bills(sheet, told)
    _savings(sheet, told.savings)


def if_sum(amounts: str, digits: int, *where: str) -> str:
    """The sum of named cells where others are as asked, rounded to the digits of its currency."""
    return f"ROUND(SUMIFS({','.join((amounts, *where))}),{digits})"


def _section(sheet: Sheet, title: str, headings: Sequence[tuple[str, str]]) -> int:
    sheet.skip()
    sheet.put(Put(title, "section"), height=22)
    return sheet.headings(headings, height=48 if len(headings) > _FIRST + 2 else 18)


# --- By trade -------------------------------------------------------------------------------------------------------


def _trades(sheet: Sheet, told: Told) -> int:
    """Returns: the row of the totals."""
    heads = [
        (_("No."), "left"),
        (_("Trade"), "left"),
        (_("Lines"), "right"),
        (_("Let"), "right"),
        (_("With an original quote"), "right"),
    ]
    money = [
        _("First budget"), _("Original quotes"), _("Agreed"), _("Changes agreed"), _("Invoiced"), _("Likely final"),
        _("Over or under budget"), _("Extra or saved against the original quotes"),
    ]  # fmt: skip
    _section(sheet, _("By trade"), [*heads, *((head, "right") for head in money)])
    first = sheet.row + 1
    for trade in told.seen.trades:
        number, code, name = told.plan.trades[trade.trade_id]
        sheet.put(Put(number, "key"), Put(f"{code} {name}"), *_trade_cells(sheet.book, trade.figures))
    if sheet.row < first:
        sheet.put(None, Put(_("No line yet."), "soft"))
    last = sheet.row
    row = sheet.put(
        Put(total=True),
        Put(_("All trades"), total=True),
        *_total_cells(sheet.book, told.seen.total, first, last),
    )
    for place, (_column, _figure, signed) in enumerate(FIGURES, start=_FIRST):
        if signed and place > _FIRST + 3:
            sheet.book.over_is_brick(sheet.part, f"{letters(place)}{first}:{letters(place)}{row}")
    return row


def _trade_cells(book: Book, figures: Figures) -> Iterator[Put]:
    here = ("line_trade_number", "$A[row]", "line_counts", quoted(counts_words()[rows.WORK]))
    for name, filled in _COUNTS:
        where = (*here, filled, quoted("<>")) if filled else here
        yield Put(getattr(figures, name), "number", f"COUNTIFS({','.join(where)})")
    for column, name, signed in FIGURES:
        yield Put(
            getattr(figures, name), "signed" if signed else "amount", if_sum(f"line_{column}", book.digits, *here)
        )


def _total_cells(book: Book, total: Figures, first: int, last: int) -> Iterator[Put]:
    for place, (name, _filled) in enumerate(_COUNTS, start=2):
        letter = letters(place)
        yield Put(getattr(total, name), "number", f"SUM({letter}{first}:{letter}{last})", total=True)
    for place, (_column, name, signed) in enumerate(FIGURES, start=_FIRST):
        letter = letters(place)
        said = f"ROUND(SUM({letter}{first}:{letter}{last}),{book.digits})"
        yield Put(getattr(total, name), "signed" if signed else "amount", said, total=True)


# --- The bridge -----------------------------------------------------------------------------------------------------


def _bridge(sheet: Sheet, told: Told, total: int) -> None:
    book, work = sheet.book, quoted(counts_words()[rows.WORK])
    blank = [("", "right")] * 3
    _section(
        sheet, _("From the first budget to the likely final"),
        [("", "left"), (_("Cause"), "left"), *blank, (_("Moved it by"), "right"), (_("Stands at"), "right")],
    )  # fmt: skip
    amounts, running = {step.cause: step.amount for step in told.seen.bridge}, told.seen.total.budget
    sheet.put(None, Put(_("First budget")), None, None, None, None, Put(running, "amount", f"{letters(_FIRST)}{total}"))
    first = sheet.row
    for cause in Cause:
        amount = amounts.get(cause.value, 0)
        running += amount
        by = if_sum("movement_amount", book.digits, "movement_cause", "$B[row]", "movement_counts", work)
        stands = f"ROUND(G{sheet.row}+F[row],{book.digits})"
        sheet.put(
            None,
            Put(capfirst(str(cause.label))),
            None,
            None,
            None,
            Put(amount, "signed", by),
            Put(running, "amount", stands),
        )
    book.over_is_brick(sheet.part, f"F{first}:F{sheet.row}")
    row = sheet.put(*_bold(_("Likely final")), Put(running, "amount", f"G{sheet.row}", total=True))
    book.name("bridge_end", f"'{sheet.name}'!$G${row}")


def _bold(label: str) -> list[Put]:
    """The first six cells of a row of totals."""
    blank = Put(total=True)
    return [blank, Put(label, total=True), *[blank] * 4]


# --- Contingency, bills, savings ------------------------------------------------------------------------------------


def _contingency(sheet: Sheet, told: Told) -> None:
    digits, aside = sheet.book.digits, quoted(counts_words()[rows.ASIDE])
    held = [line for line in told.plan.lines if line.counts == rows.ASIDE]
    start, drawn = sum(line.budget for line in held), -sum(line.moved for line in held)
    _section(sheet, _("Contingency"), [("", "left"), ("", "left"), *[("", "right")] * 3, (_("Amount"), "right")])
    first = _figure(sheet, _("At the start"), start, if_sum("line_budget", digits, "line_counts", aside))
    _figure(sheet, _("Drawn, less what came back"), drawn, f"ROUND(-SUMIFS(line_moved,line_counts,{aside}),{digits})")
    row = _figure(sheet, _("Left"), start - drawn, f"ROUND(F{first}-F{first + 1},{digits})", total=True)
    sheet.book.name("contingency_left", f"'{sheet.name}'!$F${row}")


def _bills(sheet: Sheet, told: Told) -> None:
    digits = sheet.book.digits
    _section(sheet, _("Billed and paid"), [("", "left"), ("", "left"), *[("", "right")] * 3, (_("Amount"), "right")])
    invoiced = sum(line.invoiced for line in told.plan.lines)
    _figure(sheet, _("Invoiced, of invoices that count"), invoiced, f"ROUND(SUM(billed_invoiced),{digits})")
    _figure(sheet, _("Paid, with its tax"), told.paid, f"ROUND(SUM(payment_own),{digits})")
    first = _figure(sheet, _("Retention withheld"), told.withheld, f"ROUND(SUM(retention_withheld),{digits})")
    _figure(sheet, _("Retention released"), told.released, f"ROUND(SUM(retention_released),{digits})")
    held = f"ROUND(F{first}-F{first + 1},{digits})"
    _figure(sheet, _("Retention held"), told.withheld - told.released, held, total=True)


def _figure(sheet: Sheet, label: str, amount: int, said: str, *, total: bool = False) -> int:
    before = _bold(label)[:5] if total else [None, Put(label), None, None, None]
    return sheet.put(*before, Put(amount, "amount", said, total=total))


def _savings(sheet: Sheet, book: savings_book.Totals) -> None:
    heads = [
        ("", "left"),
        (_("Kind"), "left"),
        *[("", "right")] * 3,
        (_("Promised"), "right"),
        (_("Realised"), "right"),
    ]
    _section(sheet, _("Saved against the original quotes, and what ate into it"), heads)
    first = sheet.row + 1
    _kinds(sheet, book, savings_book.COUNTED, "counted")
    net, realised = (
        sum(cells) for cells in zip(*(_promised(book, kind) for kind in savings_book.COUNTED), strict=True)
    )
    last, digits = sheet.row, sheet.book.digits
    sums = [f"ROUND(SUM({letter}{first}:{letter}{last}),{digits})" for letter in "FG"]
    row = sheet.put(
        *_bold(_("Net of all that counts"))[:5],
        Put(net, "signed", sums[0], total=True),
        Put(realised, "signed", sums[1], total=True),
    )
    sheet.book.name("savings_net", f"'{sheet.name}'!$F${row}")
    sheet.skip()
    sheet.put(None, Put(capfirst(savings_words()["beside"]), "soft"))
    _kinds(sheet, book, savings_book.NOT_COUNTED, "beside")
    sheet.book.over_is_brick(sheet.part, f"F{first}:G{sheet.row}", turned=True)


def _promised(book: savings_book.Totals, kind: str) -> tuple[int, int]:
    part = book.by_kind.get(kind)
    return (part.amount_minor, part.realised_minor) if part else (0, 0)


def _kinds(sheet: Sheet, book: savings_book.Totals, kinds: Sequence[str], counts: str) -> None:
    where = ("saving_kind", "$B[row]", "saving_counts", quoted(savings_words()[counts]))
    for kind in kinds:
        sums = zip(("saving_promised", "saving_realised"), _promised(book, kind), strict=True)
        cells = (Put(amount, "signed", if_sum(name, sheet.book.digits, *where)) for name, amount in sums)
        sheet.put(None, Put(capfirst(str(LABELS[kind]))), None, None, None, *cells)
