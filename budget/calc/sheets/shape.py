"""The shape of a practitioner's own sheet: where its headings stand, what each column is for, what each row is.

Titles stand above the headings, the headings may take two rows, a trade is written once and holds for the rows below it,
and sub-totals, blank rows and repeated headings stand among the lines. Nothing is thrown away silently: every row comes
out with the word for what it is taken to be.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from budget.calc.sheets import columns, loose
from budget.calc.sheets.grid import Cell, Grid, shown
from budget.calc.sheets.preview import looks_like_total
from units.currencies import CURRENCIES

#: What a column may be for. Of "quote", "vendor", "paid", "kept" and "note" there may be several, of the others one.
ONCE = ("trade", "code", "description", "kind", "unit", "quantity", "budget")
MANY = ("quote", "vendor", "paid", "kept", "note")
ROLES = (*ONCE, *MANY)
_PAID = frozenset(
    ("paid to date", "paid", "amount paid", "payments", "payments to date", "invoiced", "invoiced to date", "billed", "spent", "actual")
)  # fmt: skip
_KEPT = frozenset(
    (
        "rate", "unit rate", "deposit", "deposit paid", "retention", "retainage", "balance", "changes", "extras", "vo", "vos",
        "variations", "change orders", "revised", "revised budget", "chosen", "awarded", "agreed", "contract sum", "forecast",
        "likely final", "over", "under", "over under", "variance", "difference", "saving", "savings", "date", "paid on",
        "date paid", "due", "due date", "invoice no", "invoice", "cheque", "cheque no", "check no", "ref", "reference", "po",
        "po no", "order no", "status", "remaining", "left", "vat", "tax", "contact", "phone", "who", "by", "currency", "lead time",
        "valid until", "",
    )
)  # fmt: skip
_NOTES = frozenset(("note", "notes", "remark", "remarks", "comment", "comments", "details"))
_QUOTE_WORDS = re.compile(
    r"\b(?:quotes?|quotations?|quoted|tenders?|tendered|bids?|bidders?|prices?|priced|offers?|proposals?|vendors?|contractors?|"
    r"suppliers?|by|from|no|nr|the|of|amount|sum|net|ex vat|excl vat)\b|[#№]|\b[0-9a-f]\b",
    re.IGNORECASE,
)
_QUOTE = re.compile(
    r"\b(?:quotes?|quotations?|quoted|tender(?:s|ed)?|bids?|bidder|price[sd]?|offers?|proposals?)\b", re.IGNORECASE
)
#: Over names this heads the vendors of the prices beside them, over amounts the prices themselves.
_VENDOR = re.compile(
    r"(?:name of )?(?:vendor|supplier|(?:sub[- ]?)?contractor|bidder|tenderer|company|firm|quoted by|quote from|from)"
    r"(?: name)?[ #.]*[0-9a-f]?",
    re.IGNORECASE,
)
_PRINTED = re.compile(
    r"(?:last )?(?:print(?:ed)?|saved|updated|exported|as at|as of|dated?|rev(?:ision)?\b|version|issued?|page|prepared|status)\b.*",
    re.IGNORECASE,
)
_WORD = re.compile(r"[^\W\d_]{2,}")
#: So many rows below the headings tell what a column without a known heading holds.
_LOOKED_AT = 200


@dataclass(frozen=True, slots=True)
class Shape:
    """Where the headings stand and what they say.

    Args:
        first, last: places of the rows of headings, from 0; None where there is none.
        headings: what stands over each column, both rows of headings together.
        roles: {role, or role and place for those that may come several times: place}: {"trade": 0, "quote 3": 3}.
    """

    first: int | None
    last: int | None
    headings: tuple[str, ...]
    roles: Mapping[str, int]

    def vendor_beside(self, place: int) -> int | None:
        """The column that names the vendors of a column of prices: left of it, or right of it where all stand so."""
        vendors, quotes = self.of("vendor"), self.of("quote")
        if place - 1 in vendors:
            return place - 1
        paired = len(vendors) == len(quotes) and all(quote + 1 in vendors for quote in quotes)
        return place + 1 if paired else None

    def of(self, role: str) -> tuple[int, ...]:
        """The places of the columns with a role, from left to right."""
        return tuple(sorted(place for name, place in self.roles.items() if name.partition(" ")[0] == role))


def shape_of(grid: Grid, *, heading: int | None, roles: Mapping[str, int] | None) -> Shape:
    """Find the headings and guess what the columns are for, as far as neither is told.

    Args:
        heading: place of the last row of headings, from 0.
        roles: as in `Shape`.
    """
    rows = grid.rows
    last = _heading_row(rows) if heading is None else heading
    if last is None or last >= len(rows):
        return Shape(None, None, (), dict(roles or {}))
    first, last = _extended(grid, last, fixed=heading is not None)
    headings = _joined(grid, first, last)
    guessed = guess(headings, rows[last + 1 : last + 1 + _LOOKED_AT]) if roles is None else roles
    width = grid.width
    return Shape(first, last, headings, {name: place for name, place in guessed.items() if 0 <= place < width})


def _heading_row(rows: Sequence[Sequence[Cell]]) -> int | None:
    """The row near the top with the most headings that are known; of several the first."""
    best, most = None, 1
    for place, row in enumerate(rows[: columns.DEEPEST_HEADING]):
        known = sum(1 for cell in row if isinstance(cell, str) and cell.strip() and known_role(cell))
        if known > most:
            best, most = place, known
    return best


def known_role(heading: Cell) -> str:
    """What a heading says that its column is for, or "" where it is no heading that is known.

    >>> [known_role(text) for text in ("Item", "Budget £", "Quote 1", "Aridlow quote", "Paid to date", "Aridlow")]
    ['description', 'budget', 'quote', 'quote', 'paid', '']
    """
    text = columns.plain(heading)
    if text in _PAID:
        return "paid"
    if text in _NOTES:
        return "note"
    if text and text in _KEPT:
        return "kept"
    for wanted in columns.LINES:
        if text in wanted.headings and wanted.name in ONCE:
            return wanted.name
    if "budget" in text.split():
        return "budget"
    return "quote" if _QUOTE.search(str(heading)) and len(text) < 60 else ""


def _extended(grid: Grid, last: int, *, fixed: bool) -> tuple[int, int]:
    """The rows of headings: the known one with a second row above or below it."""
    rows = grid.rows
    if not fixed and last + 1 < len(rows) and _goes_on(rows[last], rows[last + 1]):
        return last, last + 1
    if last and _stands_over(grid, last - 1):
        return last - 1, last
    return last, last


def _filled(row: Sequence[Cell]) -> list[int]:
    return [place for place, cell in enumerate(row) if shown(cell).strip()]


def _goes_on(heading: Sequence[Cell], row: Sequence[Cell]) -> bool:
    """A second row of headings stands under the amounts alone, in words, and has no amount."""
    filled = _filled(row)
    if not filled or any(not isinstance(row[place], str) or any(map(str.isdigit, str(row[place]))) for place in filled):
        return False
    under = [known_role(heading[place]) if place < len(heading) else "" for place in filled]
    return all(role in ("quote", "budget", "paid", "kept", "") for role in under) and filled[0] > 0


def _stands_over(grid: Grid, place: int) -> bool:
    """A first row of headings is no title: it has no digit but a number of a quote, and spans a part of the columns."""
    row, below = grid.rows[place], grid.rows[place + 1]
    filled = _filled(row)
    spans = [right for top, left, bottom, right in grid.facts.merged if top == bottom == place + 1 and left > 1]
    if not filled or filled[0] == 0 or not (len(filled) > 1 or spans):
        return False
    return all(
        isinstance(row[at], str)
        and at < len(below)
        and (_QUOTE.search(str(row[at])) is not None or not any(map(str.isdigit, str(row[at]))))
        for at in filled
    )


def _joined(grid: Grid, first: int, last: int) -> tuple[str, ...]:
    """What stands over each column: of two rows the upper word, over all columns that it was merged over, then the lower."""
    lower = [" ".join(shown(cell).split()) for cell in grid.rows[last]]
    if first == last:
        return tuple(lower)
    upper = [" ".join(shown(cell).split()) for cell in grid.rows[first]]
    for top, left, bottom, right in grid.facts.merged:
        if top == bottom == first + 1:
            upper[left - 1 : right] = [upper[left - 1]] * len(upper[left - 1 : right])
    width = max(len(upper), len(lower))
    upper, lower = upper + [""] * (width - len(upper)), lower + [""] * (width - len(lower))
    return tuple(" ".join(filter(None, pair)) for pair in zip(upper, lower, strict=True))


def guess(headings: Sequence[str], rows: Sequence[Sequence[Cell]]) -> dict[str, int]:
    """Guess what each column is for by its heading, and by what stands in it where the heading is not known."""
    found: dict[str, int] = {}
    for place, heading in enumerate(headings):
        role = known_role(heading)
        if _VENDOR.fullmatch(heading.strip()):
            by_content = _by_content(heading, [row[place] for row in rows if place < len(row)])
            role = "vendor" if by_content == "kept" else by_content
        if role in ONCE and role in found:
            role = "kept"
        if not role:
            role = _by_content(heading, [row[place] for row in rows if place < len(row)])
        if role:
            found[role if role in ONCE else f"{role} {place}"] = place
    return found


def _by_content(heading: str, cells: Sequence[Cell]) -> str:
    """A column under a name, with amounts, holds the quotes of a vendor; any other is kept as it is, if it holds anything."""
    filled = [cell for cell in cells if shown(cell).strip()]
    amounts = [cell for cell in filled if isinstance(loose.read(cell, loose.Ways("USD", ".", "USD")), loose.Figure)]
    if not filled:
        return ""
    return "quote" if _WORD.search(heading) and len(amounts) * 2 >= len(filled) else "kept"


def vendor_named(heading: str) -> str:
    """The vendor that the heading of a column of quotes names, or "".

    >>> [vendor_named(text) for text in ("Quote 1", "Quote 2 (EUR)", "Aridlow quote", "Tender: Norrowby Steel £", "Bid B")]
    ['', '', 'Aridlow', 'Norrowby Steel', '']
    """
    text = re.sub(r"[£$€¥]", " ", heading)
    text = re.sub(r"\b[A-Z]{3}\b", lambda code: " " if code[0] in CURRENCIES else code[0], text)
    text = _QUOTE_WORDS.sub(" ", text)
    text = " ".join(re.sub(r"[()\[\]:;/]", " ", text).split()).strip(" -.,\u2013\u2014")
    return text if _WORD.search(text) else ""


def is_plain_name(heading: str) -> bool:
    """True for a heading without a word for quotes: it may be a vendor's name, and may be something else."""
    return _QUOTE.search(heading) is None


def of_title(row: Sequence[Cell]) -> str:
    """What a row above the headings is."""
    filled = _filled(row)
    if not filled:
        return "blank"
    return "print note" if _PRINTED.fullmatch(shown(row[filled[0]]).strip()) else "title"


def of_row(row: Sequence[Cell], shape: Shape, headings: Sequence[Cell]) -> str:
    """What a row below the headings is, as far as its words tell: "" for a line.

    "blank", "sub-total", "total", "heading" (repeated), "print note", or "trade" (a trade over the rows below it).
    """
    filled = _filled(row)
    if not filled:
        return "blank"
    total = next((shown(row[place]) for place in filled if looks_like_total(row[place])), "")
    if total and not _own_code(row, shape):
        whole = re.match(r"\s*(?:grand|overall|net)?\s*total|\s*sum\b", total, re.IGNORECASE)
        return "total" if whole and not _names_trade(total) else "sub-total"
    if len(filled) > 1 and all(place < len(headings) and _same(row[place], headings[place]) for place in filled):
        return "heading"
    if len(filled) == 1:
        return _alone(row, filled[0], shape)
    return ""


def _own_code(row: Sequence[Cell], shape: Shape) -> bool:
    place = shape.roles.get("code")
    cell = row[place] if place is not None and place < len(row) else ""
    return bool(shown(cell).strip()) and not looks_like_total(cell)


def _names_trade(total: str) -> bool:
    """ "Total groundworks" closes a trade, "TOTAL" and "Total budget" the sheet."""
    rest = re.sub(
        r"\b(?:grand|overall|net|total|totals|sum|budget|cost|costs|project|all|of|the)\b", " ", total.casefold()
    )
    return _WORD.search(rest) is not None


def _same(one: Cell, other: Cell) -> bool:
    return columns.plain(one) == columns.plain(other) != ""


def _alone(row: Sequence[Cell], place: int, shape: Shape) -> str:
    """A row with a single cell: a trade over what follows, a print note, or a line without anything else."""
    cell = row[place]
    text = shown(cell).strip()
    if _PRINTED.fullmatch(text):
        return "print note"
    heads = {shape.roles.get("trade")} if "trade" in shape.roles else {shape.roles.get("description"), 0}
    return "trade" if place in heads and isinstance(cell, str) and _WORD.search(text) else ""
