"""An amount the way people write it in a workbook of their own, beside whatever else the cell says.

A tidy sheet is read by `cells`, which refuses what is not plain. Here "20850 excl tipping" is 20,850 and a note, "18.9k"
is 18,900, "(600)" and "600-" are a credit, and "€158.400,00" bears its own marks. What can be meant in two ways is a
Doubt with the readings it may have, and is asked; nothing is settled by what is likely. The figures of a row, a column
or a sheet never decide how one cell is read, except for the one thing that is told about the whole sheet: which mark
parts its decimals.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from typing import NamedTuple

from budget.calc.sheets.cells import NOTHING
from budget.calc.sheets.grid import Cell
from units import money
from units.amounts import LARGEST_MINOR, meant_by


class Figure(NamedTuple):
    """An amount that was read [minor units of `currency`, any sign], and what else the cell said.

    `how` names the ways of writing that were met; `tax` is "net", "gross" or "" where the cell does not say; `named` is
    true where the cell itself names its currency.
    """

    minor: int
    currency: str
    how: tuple[str, ...] = ()
    note: str = ""
    tax: str = ""
    named: bool = False


class Empty(NamedTuple):
    """A cell without an amount: "blank", "dash" (empty, not zero) or "word", with the word kept."""

    how: str
    note: str = ""


class Doubt(NamedTuple):
    """A cell that is not read before somebody says what it means; `minors` are the readings to choose from.

    `note` and `tax` are what it says besides, as in a Figure.
    """

    kind: str
    currency: str
    minors: tuple[int, ...] = ()
    note: str = ""
    tax: str = ""


Read = Figure | Empty | Doubt


@dataclass(frozen=True, slots=True)
class Ways:
    """What is told about the cells of a sheet.

    Args:
        currency: the currency of an amount that names none.
        mark: "." or ",", what parts the decimals.
        own: the project's currency, which a sign that several share means first.
        rated: the currencies that the project has a rate for.
    """

    currency: str
    mark: str
    own: str
    rated: frozenset[str] = frozenset()


#: Plain figures: a sign, the whole with its thousands parted or not, and one or two decimals.
_PLAIN = {
    ".": re.compile(r"([£€])?([0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,12})(?:\.([0-9]{1,2}))?"),
    ",": re.compile(r"([£€])?([0-9]{1,3}(?:\.[0-9]{3})+|[0-9]{1,12})(?:,([0-9]{1,2}))?"),
}
_SPACES = str.maketrans(dict.fromkeys("\u00a0\u202f\u2009\t\r\n", " ") | {"\u2019": "'"})
_MINUSES = "-\u2212\u2013\u2014"
_ERROR = re.compile(r"#(?:REF|N/A|NAME|NULL|NUM|VALUE|DIV/0|SPILL|CALC)[!?]?.*", re.IGNORECASE)
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}.*|[0-9]{1,2}([-/.])[0-9]{1,2}\1(?:[0-9]{4}|[0-9]{2})")
_PERCENT_ALONE = re.compile(r"[^0-9]{0,12}[0-9]+(?:[.,][0-9]+)?\s*%[^0-9]*")
_RUN = re.compile(r"[0-9](?:[0-9.,' ]*[0-9])?")
_SIGN = r"(?:[A-Za-z]{0,3}[$£€¥₹₺₪₩]|[A-Z]{3}|kr\.?|Kr\.?|z[łl]|K[čc]|Ft|Fr\.|R)"
_BEFORE = re.compile(rf"(?:^|(?<=[^A-Za-z]))({_SIGN})\s*$")
_AFTER = re.compile(rf"\s*({_SIGN})(?![A-Za-z0-9])")
_CODE_APART = re.compile(r"[\s(,;:]*([A-Z]{3})[\s),;:]*")
_SCALE = re.compile(r"\s?(k|tsd\.?|thousand|mio\.?|mn|million|m)(?![A-Za-z0-9])", re.IGNORECASE)
_SCALES = {"k": 1_000, "tsd": 1_000, "thousand": 1_000, "mio": 1_000_000, "mn": 1_000_000, "million": 1_000_000}
_NO_CENTS = re.compile(r"(?:[.,]-{1,2}|/-)")
_CREDIT = re.compile(r"\s?cr\.?(?![A-Za-z])", re.IGNORECASE)
_RATE = re.compile(
    r"[\s(]*(?:@|per\b|p/|/\s?[a-z]|each\b|ea\b|m[23²³]?\b|sqm\b|kg\b|t\b|hrs?\b|hours?\b|days?\b|weeks?\b|wks?\b|nr\b|no\b|off\b|pcs?\b)",
    re.IGNORECASE,
)
_NET = re.compile(
    r"(?:\+|plus|ex\.?|excl\.?|excluding|exclusive of|net of)\s*(?:[0-9.,]+\s*%\s*)?(?:vat|gst|tax|sales tax)\b.*",
    re.IGNORECASE,
)
_GROSS = re.compile(
    r"(?:inc\.?|incl\.?|including|inclusive of|with)\s*(?:[0-9.,]+\s*%\s*)?(?:vat|gst|tax|sales tax)\b.*|gross\b.*",
    re.IGNORECASE,
)
_ABOUT = re.compile(
    r"(?:c\.|ca\.?|circa|approx\.?|approximately|about|say|est\.?|estimate[d]?|~|from|up to)(?![a-z]).*", re.IGNORECASE
)


def read(cell: Cell, ways: Ways) -> Read:
    """Read one cell of a column of amounts.

    Returns: a Figure, exact; an Empty; or a Doubt that has to be asked.
    Source: our rule, ADR 0210; the forms are those of common spreadsheets and ledgers.

    >>> ways = Ways("GBP", ".", "GBP")
    >>> [read(text, ways).minor for text in ("18.9k", "46 800", "(600)", "600-", "57,200+VAT")]
    [1890000, 4680000, -60000, -60000, 5720000]
    >>> read("€158.400,00", ways)[:2], read("1.234", ways).kind, read("TBC", ways).how
    ((15840000, 'EUR'), 'two ways', 'word')
    """
    if not isinstance(cell, str):
        return _number(cell, ways.currency)
    if quick := _quick(cell, ways):
        return quick
    text = " ".join(cell.translate(_SPACES).split())
    if not text:
        return Empty("blank")
    if text.casefold() in NOTHING or not text.strip(_MINUSES + " ."):
        return Empty("dash", text)
    if not any(map(str.isdigit, text)):
        return Doubt("sheet error", ways.currency) if _ERROR.fullmatch(text) else Empty("word", text)
    for kind, pattern in (("sheet error", _ERROR), ("percent", _PERCENT_ALONE), ("date", _DATE)):
        if pattern.fullmatch(text):
            return Doubt(kind, ways.currency)
    return _written(text, ways)


def _quick(cell: str, ways: Ways) -> Figure | None:
    """The plain ways of writing, which most cells of most sheets have, read at once; the same as the long way."""
    found = _PLAIN[ways.mark].fullmatch(cell)
    if found is None:
        return None
    currency, fault = _currency((found[1],) if found[1] else (), ways)
    if fault or money.digits(currency) != 2 or found[2][0] == "0" != found[2]:
        return None
    minor = int(found[2].replace(",", "").replace(".", "")) * 100 + int((found[3] or "0").ljust(2, "0"))
    how = ("currency",) if found[1] else ()
    return Figure(minor, currency, how, named=bool(found[1])) if minor <= LARGEST_MINOR else None


def _number(cell: int | float, currency: str) -> Read:
    """A number of the sheet; what a formula left below the smallest unit is rounded, and told."""
    if cell != cell or abs(cell) == float("inf"):
        return Doubt("sheet error", currency)
    exact = Decimal(f"{cell:.15g}").scaleb(money.digits(currency))
    minor = money.round_minor(exact)
    if abs(minor) > LARGEST_MINOR:
        return Doubt("too large", currency)
    return Figure(minor, currency, () if minor == exact else ("rounded",))


class _Part(NamedTuple):
    """A figure inside a text: its digits, and where it begins and ends."""

    digits: str
    start: int
    end: int


def _written(text: str, ways: Ways) -> Read:
    parts = [part for run in _RUN.finditer(text) for part in _parted(run) if _is_figure(text, part)]
    if not parts:
        return Empty("word", text)
    if len(parts) > 1:
        found = (_one(text, part, ways) for part in parts[:4])
        minors = tuple(dict.fromkeys(abs(one.minor) for one in found if isinstance(one, Figure)))
        return Doubt("several figures", ways.currency, minors)
    return _one(text, parts[0], ways)


def _parted(run: re.Match[str]) -> Iterable[_Part]:
    """A run of digits and marks is one figure, or, where its spaces part no thousands, several."""
    text = run[0]
    if " " not in text or re.fullmatch(r"[0-9]{1,3}(?: [0-9]{3})+(?:[.,][0-9]+)?", text):
        yield _Part(text, run.start(), run.end())
        return
    for piece in re.finditer(r"[^ ]+", text):
        yield _Part(piece[0].strip(".,'"), run.start() + piece.start(), run.start() + piece.end())


def _is_figure(text: str, part: _Part) -> bool:
    """Digits that belong to a word (v7, L1-02), to a unit (m2) or to a percentage are no amount."""
    before, after = text[: part.start], text[part.end :]
    if re.match(r"\s*%", after) or not part.digits:
        return False
    return not before[-1:].isalpha() or _BEFORE.search(before) is not None


def _one(text: str, part: _Part, ways: Ways) -> Read:
    """The one figure of a text, with its currency, its sign, its scale and what is left as a note."""
    before, after = text[: part.start], text[part.end :]
    before, after, names = _currencies(before, after)
    currency, fault = _currency(tuple(names), ways)
    if fault:
        return Doubt(fault, ways.currency)
    scale, after = _scaled(after)
    exact = _decimal(part.digits, ways.mark, currency)
    if isinstance(exact, str):
        return Doubt(exact, currency, _nearest(part.digits, currency), *_note(before, after))
    minor = _minor(exact * (scale or 1_000_000), currency)
    if minor is None:
        return Doubt("decimals or too large", currency)
    if scale == 0:
        return Doubt("millions or metres", currency, (minor, minor // 1_000_000))
    return _signed(minor, currency, before, after, _ways_met(part.digits, ways, names, scale))


def _currencies(before: str, after: str) -> tuple[str, str, list[str]]:
    """Take signs and codes of currencies off either side of a figure, around a minus or a bracket, too."""
    names: list[str] = []
    bare = before.rstrip(" (" + _MINUSES)
    for side in (before, bare):
        found = _BEFORE.search(side)
        if found and meant_by(found[1]):
            names.append(found[1])
            before = side[: found.start()] + before[len(side) :]
            break
    found = _AFTER.match(after)
    if found and meant_by(found[1]):
        names.append(found[1])
        after = after[found.end() :]
    elif (found := _CODE_APART.fullmatch(after)) and meant_by(found[1]):
        names.append(found[1])
        after = ")" if before.endswith("(") else ""
    return before, after, names


@lru_cache(maxsize=512)
def _currency(names: tuple[str, ...], ways: Ways) -> tuple[str, str]:
    """The currency that the signs beside a figure mean, or why it is not known."""
    meant: set[str] = set()
    for name in names:
        codes = meant_by(name)
        rated = codes & ways.rated
        sole = next(iter(rated)) if len(rated) == 1 else ""
        code = ways.own if ways.own in codes else sole or ("USD" if "USD" in codes else "")
        meant.add(code or (next(iter(codes)) if len(codes) == 1 else ""))
    if "" in meant or len(meant) > 1:
        return "", "which currency"
    return next(iter(meant), ways.currency), ""


def _scaled(after: str) -> tuple[int, str]:
    """Take "k" or "mio" off: the factor, 0 where "m" may be millions or metres, and what is left."""
    found = _SCALE.match(after)
    if found is None:
        return 1, after
    return _SCALES.get(found[1].casefold().rstrip("."), 0), after[found.end() :]


def _decimal(figure: str, mark: str, currency: str) -> Decimal | str:
    """The figure as an exact number, or the word for what is in doubt about its marks."""
    parts_decimals = _decimal_mark(figure, mark)
    if len(parts_decimals) > 1:
        return parts_decimals
    whole, _point, part = figure.partition(parts_decimals) if parts_decimals else (figure, "", "")
    groups = set(whole) - set("0123456789")
    if part and not part.isdigit() or len(groups) > 1:
        return "grouping"
    if groups:
        sign = re.escape(groups.pop())
        above = "{2}" if currency == "INR" and sign == "," else "{3}"
        if not re.fullmatch(rf"[1-9][0-9]{{0,2}}(?:{sign}[0-9]{above})*{sign}[0-9]{{3}}", whole):
            return "grouping"
        whole = re.sub(r"[^0-9]", "", whole)
    return Decimal(f"{whole}.{part or 0}")


def _decimal_mark(figure: str, mark: str) -> str:
    """What parts the decimals of one figure: a mark, "" for nothing, or the word for a doubt.

    Two marks tell it themselves: the last one parts the decimals. One mark with three digits behind it parts thousands,
    unless it is the very mark that parts the decimals in this sheet.
    """
    last = max(figure.rfind("."), figure.rfind(","))
    if last < 0:
        return ""
    sign, other = figure[last], "," if figure[last] == "." else "."
    if figure.count(sign) > 1:
        return "grouping" if other in figure else ""
    if other in figure or " " in figure or "'" in figure:
        return sign
    if len(figure) - last - 1 == 3 and last <= 3 and figure[0] != "0":
        return "two ways" if sign == mark else ""
    return sign if sign == mark else "other mark"


def _nearest(figure: str, currency: str) -> tuple[int, ...]:
    """The readings that a doubtful figure may have: its mark taken for either purpose."""
    found = []
    for mark in (".", ","):
        exact = _decimal(figure, mark, currency)
        minor = None if isinstance(exact, str) else _minor(exact, currency)
        found += [] if minor is None else [minor]
    return tuple(dict.fromkeys(found))


def _minor(exact: Decimal, currency: str) -> int | None:
    try:
        minor = money.to_minor(exact, currency=currency)
    except money.NotWholeMinor:
        return None
    return minor if minor <= LARGEST_MINOR else None


def _ways_met(figure: str, ways: Ways, names: list[str], scale: int) -> tuple[str, ...]:
    """The ways of writing that a reader may want to check."""
    met = ["thousands"] if scale == 1_000 else ["millions"] if scale > 1_000 else []
    if " " in figure:
        met.append("space")
    if "'" in figure:
        met.append("apostrophe")
    last = max(figure.rfind("."), figure.rfind(","))
    if last >= 0 and "." in figure and "," in figure and figure[last] != ways.mark:
        met.append("marks of its own")
    if names:
        met.append("currency")
    return tuple(met)


def _signed(minor: int, currency: str, before: str, after: str, met: tuple[str, ...]) -> Read:
    """Take the sign off both sides; what is left is the note."""
    bracketed = before.rstrip().endswith("(") and after.lstrip().startswith(")")
    if bracketed:
        before, after = before.rstrip()[:-1], after.lstrip()[1:]
    leading = before.rstrip()[-1:] in _MINUSES and bool(before.strip())
    if leading:
        before = before.rstrip()[:-1]
    after, trailing = _trailing(after)
    if bracketed + leading + bool(trailing) > 1 or ((bracketed or leading) and any(map(str.isalpha, before))):
        return Doubt("sign", currency, (minor, -minor))
    if _RATE.match(after):
        return Doubt("rate", currency, (minor,))
    sign = "brackets" if bracketed else "minus" if leading else trailing
    note, tax = _note(before, after)
    met = (*met, *([sign] if sign else []), *(["about"] if _ABOUT.fullmatch(note) else []))
    return Figure(-minor if sign else minor, currency, met, note, tax, "currency" in met)


def _trailing(after: str) -> tuple[str, str]:
    """Take a minus or "CR" behind a figure off, or a dash that stands for no cents."""
    if found := _NO_CENTS.match(after):
        return after[found.end() :], ""
    if found := _CREDIT.match(after):
        return after[found.end() :], "credit"
    stripped = after.lstrip()
    attached, alone = after[:1] and after[0] in _MINUSES, stripped and not stripped.strip(_MINUSES + " ")
    if attached or alone:
        return stripped[1:], "trailing minus"
    return after, ""


def _note(before: str, after: str) -> tuple[str, str]:
    """What a cell says beside its figure, and whether that tells about tax."""
    edges = " ,;:" + _MINUSES
    pieces = [piece.strip(edges) for piece in (before, after)]
    note = " ".join(piece for piece in pieces if any(map(str.isalpha, piece)) or "~" in piece).strip(edges)
    if note.startswith("(") and note.endswith(")"):
        note = note[1:-1].strip()
    if _NET.fullmatch(note):
        return f"{note}: net", "net"
    return (note, "gross") if _GROSS.fullmatch(note) else (note, "")


def marks_told(cells: Iterable[Cell], ways: Ways) -> set[str]:
    """Tell what the amounts of a sheet give away about the mark that parts their decimals.

    Amounts in another currency are not asked: a vendor abroad writes as it is done there.
    Returns: ".", ",", both where they contradict each other, or nothing.
    """
    by_mark = {mark: replace(ways, mark=mark) for mark in (".", ",")}
    told: set[str] = set()
    for cell in cells:
        if not isinstance(cell, str):
            continue
        plain = {mark for mark, pattern in _PLAIN.items() if pattern.fullmatch(cell)}
        if plain:
            ends = cell[-2:-1] + cell[-3:-2]  # a mark before one or two decimals
            told |= plain & set(ends) if cell[0] != "€" or ways.own == "EUR" else set()
            continue
        found = {mark: read(cell, way) for mark, way in by_mark.items()}
        firm = {mark for mark, one in found.items() if isinstance(one, Figure) and one.currency == ways.own}
        if firm == {".", ","}:
            told |= _told_by_both(cell)
        elif firm and any(isinstance(one, Doubt) and one.kind == "other mark" for one in found.values()):
            told |= firm
    return told


def _told_by_both(cell: str) -> set[str]:
    """The mark that a figure with both marks tells: "1.234,56"."""
    run = _RUN.search(cell)
    if run is None or "." not in run[0] or "," not in run[0]:
        return set()
    return {"." if run[0].rfind(".") > run[0].rfind(",") else ","}
