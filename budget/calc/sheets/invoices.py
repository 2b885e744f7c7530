"""A sheet of invoices, read: one row an amount billed on a line, rows of one vendor and number being one invoice."""

from collections.abc import Sequence
from typing import Any

from budget.calc.numbering import number_key
from budget.calc.sheets import cells, quotes
from budget.calc.sheets.grid import Cell, Fault, Grid
from budget.calc.sheets.preview import Choices, Known, Preview, Reading

#: What rows of one invoice have to agree on.
SHARED = ("currency", "invoiced_on", "due_on", "note")


def read(grid: Grid, known: Known, choices: Choices) -> Preview:
    """Read invoices from a sheet.

    Returns: `read` has, by row: vendor, number, line (code), amount (net), tax and retention [minor units of currency; the
        last two None where the sheet leaves them open], currency, invoiced_on, due_on, change (code), note, and invoice: a
        number from 0 that rows of one invoice share.
    """
    must = (
        ("vendor", "no vendor"),
        ("number", "no number"),
        ("line", "no line"),
        ("amount", "no amount"),
        ("invoiced_on", "no invoice date"),
    )
    paper = quotes.Paper("invoices", "invoice", "invoiced_on", must, _values, _fit, _grouped)
    return quotes.read_papers(paper, grid, known, choices)


def _values(sheet: Reading, currency: str) -> dict[str, list[Any]]:
    found = {"vendor": sheet.text("vendor"), "number": sheet.text("number"), "line": quotes.lines_of(sheet)}
    found["currency"] = quotes.currencies_of(sheet, currency)
    found["amount"] = quotes.amounts_of(sheet, found["currency"])
    for name in ("tax", "retention"):
        found[name] = _beside(sheet, name, found["currency"])
    found["invoiced_on"] = sheet.dates("invoiced_on")
    found["due_on"] = sheet.dates("due_on")
    found["change"] = _changes(sheet)
    found["note"] = sheet.text("note")
    return found


def _beside(sheet: Reading, name: str, currencies: Sequence[Any]) -> list[Any]:
    """Amounts beside the net one, each in its row's currency; None for an empty cell and where there is no such column."""
    if name not in sheet.columns:
        return [None] * len(sheet.rows)
    codes = [code or sheet.known.currency for code in currencies]
    memos = {code: cells.Memo(cells.amount_reader(code, sheet.mark("amount"))) for code in set(codes)}
    found: list[Any] = [memos[code][cell] for cell, code in zip(sheet.given(name), codes, strict=True)]
    for place, value in enumerate(found):
        if type(value) is Fault:
            sheet.say(value.kind, place, name, about=value.about)
            found[place] = None
    return found


def _changes(sheet: Reading) -> list[Any]:
    """The codes of the changes, as the project writes them."""
    by_small = {code.casefold(): code for code in sheet.known.changes}
    text = cells.text_reader(12)

    def reader(cell: Cell) -> str | Fault:
        given: str | Fault = text(cell)
        if isinstance(given, Fault) or given == "":
            return given
        return by_small.get(given.casefold(), Fault("unknown change"))

    return sheet.column("change", reader) if "change" in sheet.columns else [""] * len(sheet.rows)


def _fit(sheet: Reading, values: dict[str, list[Any]]) -> None:
    """Say which currencies have no rate, which dates do not fit, and which changes belong to another line."""
    for code in dict.fromkeys(filter(None, values["currency"])):
        if code not in sheet.known.rates:
            name = "currency" if "currency" in sheet.columns else "amount"
            sheet.say("no rate", values["currency"].index(code), name, about=code)
    for place, (on, due) in enumerate(zip(values["invoiced_on"], values["due_on"], strict=True)):
        if on is not None and on > sheet.known.today:
            sheet.say("dated ahead", place, "invoiced_on", about=sheet.known.today.isoformat())
        if on is not None and due is not None and due < on:
            sheet.say("due before", place, "due_on", about=on.isoformat())
    for place, (change, line) in enumerate(zip(values["change"], values["line"], strict=True)):
        if change and line and sheet.known.changes[change] != line:
            sheet.say("change of another line", place, "change", about=sheet.known.changes[change])


def _grouped(sheet: Reading, values: dict[str, list[Any]]) -> list[int]:
    """Put rows of one vendor and number together, and say where they contradict each other or are there already."""
    keys = [
        (" ".join((vendor or "").split()).casefold(), number_key(number or ""))
        for vendor, number in zip(values["vendor"], values["number"], strict=True)
    ]
    invoices: dict[tuple[str, str], int] = {}
    numbers = [invoices.setdefault(key, len(invoices)) for key in keys]
    heads: dict[int, int] = {}
    billed: dict[tuple[int, Any, Any], int] = {}
    for place, (key, number) in enumerate(zip(keys, numbers, strict=True)):
        head = heads.setdefault(number, place)
        if head == place and key in sheet.known.numbers:
            sheet.say("entered already", place, "number")
        what = (number, values["line"][place], values["change"][place])
        other = billed.setdefault(what, place)
        if other != place and what[1]:
            sheet.say("billed twice", place, "line", about=str(sheet.places[other] + 1))
        _agree(sheet, values, head, place)
    return numbers


def _agree(sheet: Reading, values: dict[str, list[Any]], head: int, place: int) -> None:
    for name in SHARED:
        if values[name][head] != values[name][place]:
            sheet.say("differs in one invoice", place, name, about=str(sheet.places[head] + 1))
