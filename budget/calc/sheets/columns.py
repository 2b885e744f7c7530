"""Which column of a sheet holds what, guessed from its headings."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from budget.calc.sheets.grid import Cell
from units.currencies import CURRENCIES

#: The heading is looked for in so many rows from the top.
DEEPEST_HEADING = 30


@dataclass(frozen=True, slots=True)
class Wanted:
    """A column that a sheet may have: the headings it goes by, most telling first, and the longest text it takes."""

    name: str
    headings: tuple[str, ...]
    longest: int = 0
    needed: bool = False


LINES = (
    Wanted("trade", ("trade code", "trade", "division", "section", "package", "work section"), 120),
    Wanted("trade_name", ("trade name", "name of trade", "division name", "section name"), 120),
    Wanted("code", ("line code", "code", "item code", "cost code", "item no", "item number", "line no", "ref", "no"), 20),
    Wanted(
        "description",
        ("description", "line item", "item", "item description", "description of work", "element", "scope", "works", "work"),
        200,
        needed=True,
    ),
    Wanted("kind", ("kind", "type", "kind of line")),
    Wanted("unit", ("unit", "units", "uom", "unit of measure"), 20),
    Wanted("quantity", ("quantity", "qty", "quant", "no off")),
    Wanted(
        "budget",
        ("first budget", "budget", "budget amount", "baseline", "original budget", "amount", "total", "cost", "estimate", "sum"),
        needed=True,
    ),
)  # fmt: skip
QUOTES = (
    Wanted(
        "vendor",
        ("vendor", "supplier", "contractor", "subcontractor", "sub contractor", "bidder", "tenderer", "company", "firm", "quoted by"),
        160,
        needed=True,
    ),
    Wanted("line", ("line code", "line", "code", "item code", "cost code", "line item", "item no", "item"), 20, needed=True),
    Wanted("amount", ("amount quoted", "quote amount", "amount", "price", "quoted", "quote", "sum", "total", "net"), needed=True),
    Wanted("currency", ("currency", "ccy", "cur")),
    Wanted("quoted_on", ("quote date", "date of quote", "quoted on", "dated", "date"), needed=True),
    Wanted("valid_until", ("valid until", "valid to", "validity", "expires", "expiry", "expiry date", "runs out")),
    Wanted("lead_days", ("lead time", "lead days", "lead weeks", "lead", "lead time days", "lead time weeks", "delivery time", "delivery")),
    Wanted("basis", ("price basis", "basis", "firm or estimate", "type")),
    Wanted("reference", ("quote reference", "quote ref", "quote no", "quote number", "reference", "ref", "number"), 60),
    Wanted("note", ("note", "notes", "remarks", "remark", "comments", "comment"), 2000),
)  # fmt: skip
INVOICES = (
    Wanted(
        "vendor",
        ("vendor", "supplier", "contractor", "subcontractor", "sub contractor", "company", "firm", "payee", "invoiced by", "from"),
        160,
        needed=True,
    ),
    Wanted(
        "number",
        ("invoice number", "invoice no", "invoice ref", "invoice reference", "invoice", "number", "no", "reference", "ref"),
        60,
        needed=True,
    ),
    Wanted("invoiced_on", ("invoice date", "date of invoice", "tax point", "dated", "date"), needed=True),
    Wanted("line", ("line code", "line", "code", "cost code", "line item", "item"), 20, needed=True),
    Wanted("amount", ("net amount", "net", "amount net", "amount", "sum", "total net"), needed=True),
    Wanted("tax", ("tax amount", "tax", "vat amount", "vat", "sales tax", "gst")),
    Wanted("retention", ("retention held", "retention", "retainage", "retention amount", "held", "held back")),
    Wanted("change", ("change", "change code", "change no", "variation", "variation no", "change order"), 12),
    Wanted("due_on", ("due date", "due on", "due", "payable by", "pay by")),
    Wanted("currency", ("currency", "ccy", "cur")),
    Wanted("note", ("note", "notes", "remarks", "remark", "comments", "comment"), 2000),
)  # fmt: skip
WANTED: Mapping[str, tuple[Wanted, ...]] = {"lines": LINES, "quotes": QUOTES, "invoices": INVOICES}
_SIGNS = {"£": "GBP", "€": "EUR", "us$": "USD"}


def plain(heading: Cell) -> str:
    """Bring a heading to the form that synonyms are written in.

    >>> plain("  Lead-time (weeks) "), plain("BUDGET £"), plain("Qty.")
    ('lead time weeks', 'budget', 'qty')
    """
    words = re.sub(r"[^a-z0-9]+", " ", str(heading).casefold()).split()
    return " ".join(word for word in words if word.upper() not in CURRENCIES or word in ("all", "top", "cup", "try"))


def guess(headings: Sequence[Cell], kind: str) -> dict[str, int]:
    """Guess the columns from a row of headings.

    Returns: {name of the wanted column: place from 0}; each place is used once, the most telling heading first.
    """
    plains = [plain(heading) for heading in headings]
    found: dict[str, int] = {}
    for wanted in WANTED[kind]:
        for heading in wanted.headings:
            places = [place for place, text in enumerate(plains) if text == heading and place not in found.values()]
            if places:
                found[wanted.name] = places[0]
                break
    return found


def heading_row(rows: Sequence[Sequence[Cell]], kind: str) -> int | None:
    """Find the row of headings: the one near the top with the most headings that are known.

    Returns: its place from 0, or None where no row has two of them.
    """
    best, most = None, 1
    for place, row in enumerate(rows[:DEEPEST_HEADING]):
        known = len(guess(row, kind))
        if known > most:
            best, most = place, known
    return best


def currency_of(heading: Cell) -> str:
    """Find the currency that a heading names, or "".

    >>> currency_of("Amount (EUR)"), currency_of("Budget £"), currency_of("Amount")
    ('EUR', 'GBP', '')
    """
    text = str(heading)
    for word in re.findall(r"\b[A-Z]{3}\b", text):
        if word in CURRENCIES:
            return str(word)
    return next((code for sign, code in _SIGNS.items() if sign in text.casefold()), "")
