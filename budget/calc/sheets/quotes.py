"""A sheet of quotes, read: one row a price on a line, rows of one vendor, reference and date being one quote."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from budget.calc.sheets import cells, columns
from budget.calc.sheets.grid import Cell, Fault, Grid, shown
from budget.calc.sheets.preview import Choices, Known, Preview, Reading, differing
from units import money
from units.amounts import NotAnAmount, parse_amount

BASES = {
    "": "firm", "firm": "firm", "firm price": "firm", "fixed": "firm", "fixed price": "firm", "quote": "firm", "quotation": "firm",
    "lump sum": "firm", "estimate": "estimate", "est": "estimate", "budget": "estimate", "budget price": "estimate",
    "rates": "rates", "rates only": "rates", "rate": "rates", "schedule of rates": "rates",
}  # fmt: skip
#: What rows of one quote have to agree on.
SHARED = ("currency", "valid_until", "lead_days", "basis", "note")


@dataclass(frozen=True, slots=True)
class Paper:
    """What tells one kind of paper with priced rows from another.

    `share` names the number that rows of one paper share, `dated` its date, `must` the columns that no row may lack with
    what is said where one does; the rest is how its values are read, held against each other, and put together.
    """

    kind: str
    share: str
    dated: str
    must: tuple[tuple[str, str], ...]
    values: Callable[[Reading, str], dict[str, list[Any]]]
    fit: Callable[[Reading, dict[str, list[Any]]], None]
    grouped: Callable[[Reading, dict[str, list[Any]]], list[int]]


def read_papers(paper: Paper, grid: Grid, known: Known, choices: Choices) -> Preview:
    """Read a sheet of papers whose rows have a vendor, a line and an amount, such as quotes."""
    sheet = Reading(paper.kind, grid, known, choices)
    currency = currency_of(sheet)
    found = paper.values(sheet, currency)
    totals = sheet.totals("vendor", ("vendor", "line"), "line")
    one = len(set(filter(None, found["currency"]))) == 1
    checked = sheet.checked_totals(found["amount"], totals, "amount") if one else ()
    for name, kind in paper.must:
        sheet.must_have(found[name], name, kind)
    sheet.facts()
    out = sheet.left_out(totals)
    stay, take = sheet.kept(out)
    sheet.rows = take(sheet.rows)
    sheet.forget()
    sheet.places = [sheet.places[place] for place in stay]
    values = {name: take(column) for name, column in found.items()}
    paper.fit(sheet, values)
    values[paper.share] = paper.grouped(sheet, values)
    if checked:
        differing(checked, sheet, "amount", next(filter(None, found["currency"])))
    return Preview(
        kind=paper.kind, heading=sheet.heading, headings=sheet.headings, columns=sheet.columns, places=sheet.places, read=values,
        out=out, totals=checked, troubles=tuple(sheet.troubles), mark=sheet.mark("amount"), date_order=sheet.order(paper.dated),
        currency=currency,
    )  # fmt: skip


def read(grid: Grid, known: Known, choices: Choices) -> Preview:
    """Read quotes from a sheet.

    Returns: `read` has, by row: vendor, line (code), amount [minor units of currency], currency, quoted_on, valid_until,
        lead_days, basis, reference, note, and quote: a number from 0 that rows of one quote share.
    """
    must = (("vendor", "no vendor"), ("line", "no line"), ("amount", "no amount"), ("quoted_on", "no date given"))
    paper = Paper("quotes", "quote", "quoted_on", must, _values, _fit, _grouped)
    return read_papers(paper, grid, known, choices)


def currency_of(sheet: Reading) -> str:
    """The currency of amounts that name none: as chosen, as the heading tells, or the project's."""
    place = sheet.columns.get("amount", -1)
    named = columns.currency_of(sheet.headings[place]) if 0 <= place < len(sheet.headings) else ""
    return sheet.choices.currency or named or sheet.known.currency


def _values(sheet: Reading, currency: str) -> dict[str, list[Any]]:
    weeks = "lead_days" in sheet.columns and "week" in sheet.headings[sheet.columns["lead_days"]].casefold()
    found = {"vendor": sheet.text("vendor"), "line": lines_of(sheet), "currency": currencies_of(sheet, currency)}
    found["amount"] = amounts_of(sheet, found["currency"])
    found["quoted_on"] = sheet.dates("quoted_on")
    found["valid_until"] = sheet.dates("valid_until")
    found["lead_days"] = sheet.column("lead_days", cells.days_reader(weeks))
    found["basis"] = sheet.column("basis", cells.word_reader(BASES))
    found["reference"] = sheet.text("reference")
    found["note"] = sheet.text("note")
    return found


def lines_of(sheet: Reading) -> list[Any]:
    """The codes of the lines, as the project writes them."""
    cells_ = sheet.given("line")
    if sheet.known.codes.issuperset(cells_):
        return list(cells_)
    by_small = {code.casefold(): code for code in sheet.known.codes}
    text = cells.text_reader(200)

    def reader(cell: Cell) -> str | Fault:
        given: str | Fault = text(cell)
        if isinstance(given, Fault) or given == "":
            return given
        return by_small.get(given.casefold(), Fault("unknown line"))

    return sheet.column("line", reader)


def currencies_of(sheet: Reading, currency: str) -> list[Any]:
    if "currency" not in sheet.columns:
        return [currency] * len(sheet.rows)

    def reader(cell: Cell) -> str | Fault:
        code = shown(cell).strip().upper() or currency
        code = columns.currency_of(code) or code
        return code if code in money.CURRENCIES else Fault("unknown currency")

    return sheet.column("currency", reader)


def amounts_of(sheet: Reading, currencies: Sequence[Any]) -> list[Any]:
    """Read each amount in its row's currency; without a column of currencies a sign of another one is a trouble."""
    currencies = [code or sheet.known.currency for code in currencies]  # one that is not known is a trouble already
    mark, given, codes = sheet.mark("amount"), sheet.given("amount"), set(currencies)
    memos = {code: cells.Memo(cells.amount_reader(code, mark)) for code in codes}
    at_once = cells.numbers(given, *codes) if len(codes) == 1 else None
    found: list[Any] = at_once or [memos[code][cell] for cell, code in zip(given, currencies, strict=True)]
    if any(memo.faulty for memo in memos.values()):
        for place, value in enumerate(found):
            if type(value) is Fault:
                about = _named(given[place], mark) if value.kind == "other currency" else value.about
                sheet.say(
                    "two currencies" if value.kind == "other currency" else value.kind, place, "amount", about=about
                )
                found[place] = None
    _formats(sheet, currencies)
    return found


def _named(cell: Cell, mark: str) -> str:
    """The currency that an amount's own sign or code names, as far as it can be one only."""
    for code in ("GBP", "EUR", "USD", *money.CURRENCIES):
        try:
            parse_amount(str(cell), currency=code, decimal_mark=mark)
        except NotAnAmount as fault:
            if fault.kind in ("other currency", "not a number"):
                continue
        return code
    return ""


def _formats(sheet: Reading, currencies: Sequence[Any]) -> None:
    if not sheet.grid.facts.formats:
        return
    for place, code in enumerate(currencies):
        shown_in = sheet.formats("amount", place)
        if shown_in and code and shown_in != code:
            sheet.say("two currencies", place, "amount", about=shown_in)


def _fit(sheet: Reading, values: dict[str, list[Any]]) -> None:
    """Say which currencies have no rate, and which dates do not fit together."""
    rates, today = sheet.known.rates, sheet.known.today
    for code in dict.fromkeys(filter(None, values["currency"])):
        if code not in rates:
            name = "currency" if "currency" in sheet.columns else "amount"
            sheet.say("no rate", values["currency"].index(code), name, about=code)
    pairs = list(zip(values["quoted_on"], values["valid_until"], strict=True))
    late = {on for on in set(values["quoted_on"]) if on is not None and on > today}
    crossed = {(on, until) for on, until in set(pairs) if on is not None and until is not None and until < on}
    for place, (on, until) in enumerate(pairs if late or crossed else ()):
        if on in late:
            sheet.say("in the future", place, "quoted_on", about=today.isoformat())
        if (on, until) in crossed:
            sheet.say("runs out before", place, "valid_until", about=on.isoformat())


def _grouped(sheet: Reading, values: dict[str, list[Any]]) -> list[int]:
    """Put rows of one vendor, reference and date together, and say where they contradict each other."""
    small = {name: " ".join((name or "").split()).casefold() for name in set(values["vendor"])}
    vendors = map(small.__getitem__, values["vendor"])
    keys = list(zip(vendors, values["reference"], values["quoted_on"], strict=True))
    quotes: dict[tuple[Any, ...], int] = {}
    numbers = [quotes.setdefault(key, len(quotes)) for key in keys]
    if sheet.known.logged:
        for place, (key, line) in enumerate(zip(keys, values["line"], strict=True)):
            if (*key, line) in sheet.known.logged:
                sheet.say("logged already", place, "line")
    if len(quotes) < len(keys):
        _fit_together(sheet, values, numbers)
    return numbers


def _fit_together(sheet: Reading, values: dict[str, list[Any]], numbers: Sequence[int]) -> None:
    heads: dict[int, int] = {}
    lines: dict[tuple[int, Any], int] = {}
    for place, (number, line) in enumerate(zip(numbers, values["line"], strict=True)):
        head, other = heads.setdefault(number, place), lines.setdefault((number, line), place)
        if line and other != place:
            sheet.say("line twice", place, "line", about=str(sheet.places[other] + 1))
        if head != place:
            _agree(sheet, values, head, place)


def _agree(sheet: Reading, values: dict[str, list[Any]], head: int, place: int) -> None:
    for name in SHARED:
        if values[name][head] != values[name][place]:
            sheet.say("differs in one quote", place, name, about=str(sheet.places[head] + 1))
