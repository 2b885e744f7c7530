"""One cell read into a value, or into the reason why it cannot be.

A sheet has thousands of cells and few different ones, so each reader is wrapped in `Memo`, which asks it once for each
different cell. A number arrives as the binary fraction the sheet itself holds; it is taken at the fifteen digits that
a sheet shows, and from then on it is exact.
"""

import re
from collections.abc import Callable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any, Literal

from budget.calc.sheets.grid import Cell, Fault, shown
from units import money
from units.amounts import LARGEST_MINOR, NotAnAmount, parse_amount

DateOrder = Literal["", "dmy", "mdy"]
Reader = Callable[[Cell], Any]

#: What people write into a cell that holds nothing.
NOTHING = frozenset({"", "-", "\u2013", "\u2014", "\u2212", "n/a", "na", "nil", "none", "."})
#: The span of days that a number without a date format may stand for: 1954 to 2119.
SERIALS = range(20_000, 80_001)
_PLAIN = re.compile(r"(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]{1,12})(?:\.([0-9]{1,2}))?")
_TWO_WAYS = re.compile(r"[^0-9.,]*[0-9]{1,3}([.,])[0-9]{3}[^0-9.,]*")
_PERCENT = re.compile(r"[-+]?[0-9.,\s]+%")
_ISO = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?:[T ]00:00(?::00)?)?")
_THREE = re.compile(r"([0-9]{1,2})([-/. ])([0-9]{1,2})\2([0-9]{4}|[0-9]{2})")
_DAY_FIRST = re.compile(
    r"(?:[a-z]{3,9},? )?([0-9]{1,2})(?:st|nd|rd|th)?[-/. ]*([a-z]{3,9})\.?[-/., ]*([0-9]{4}|[0-9]{2})"
)
_MONTH_FIRST = re.compile(r"(?:[a-z]{3,9},? )?([a-z]{3,9})\.?[-/. ]*([0-9]{1,2})(?:st|nd|rd|th)?[-/., ]+([0-9]{4})")
_DURATION = re.compile(r"([0-9]{1,4})\s*(?:(d|days?|calendar days?)|(w|wks?|weeks?))?\.?")
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_LONG_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december",
)  # fmt: skip


class Memo(dict[Cell, Any]):
    """A reader that reads each different cell once, and knows whether any of them was a fault."""

    def __init__(self, read: Reader) -> None:
        super().__init__()
        self.read = read
        self.faulty = False

    def __missing__(self, cell: Cell) -> Any:
        found = self[cell] = self.read(cell)
        if type(found) is Fault:
            self.faulty = True
        return found


def text_reader(longest: int) -> Reader:
    """Make a reader of texts: spaces at the ends are cut, a number is written plainly, too long is a fault."""

    def read(cell: Cell) -> str | Fault:
        text = cell.strip() if type(cell) is str else shown(cell)
        if "\n" in text or "\t" in text or "\r" in text:
            text = " ".join(text.split())
        return text if len(text) <= longest else Fault("too long", str(longest))

    return read


def texts(cells: Sequence[Cell], longest: int) -> list[str] | None:
    """Read a whole column of texts at once, or None where a cell needs a look of its own: the same as `text_reader`."""
    try:
        whole = "".join(cells)  # type: ignore[arg-type]
    except TypeError:  # a number is among them
        return None
    if "\n" in whole or "\t" in whole or "\r" in whole or max(map(len, cells), default=0) > longest:  # type: ignore[arg-type]
        return None
    return list(map(str.strip, cells))  # type: ignore[arg-type]


def numbers(cells: Sequence[Cell], currency: str) -> list[int] | None:
    """Read a whole column of numbers as minor units at once, or None where a cell needs a look of its own.

    The same as `amount_reader`: what comes back was tried against each number.
    """
    if not cells or not set(map(type, cells)) <= {float, int}:
        return None
    scale: int = 10 ** money.digits(currency)
    if not (min(cells) >= 0 and max(cells) <= LARGEST_MINOR // scale):  # type: ignore[operator,type-var]
        return None
    try:
        minors = [round(cell * scale) for cell in cells]  # type: ignore[arg-type]
    except ValueError:  # no number at all
        return None
    return minors if [minor / scale for minor in minors] == list(cells) else None


def amount_reader(currency: str, mark: str) -> Reader:
    """Make a reader of amounts.

    Args:
        currency: code of ISO 4217.
        mark: "." or ",", what parts the decimals in a text; a number of the sheet needs none.
    Returns: a reader that gives whole minor units, None for an empty cell, or a Fault: "empty" never, else the kinds of
        `units.amounts.NotAnAmount`, or "percent", "two ways" (1.234), "negative".
    """
    places = money.digits(currency)
    quick = mark == "." and places == 2
    most_major = LARGEST_MINOR // 10**places

    def read(cell: Cell) -> int | Fault | None:
        if not isinstance(cell, str):
            return _number_as_minor(cell, currency, places, most_major)
        if quick and (found := _PLAIN.fullmatch(cell)):
            return _quick_minor(cell, found[1])
        return _text_as_minor(cell, currency, mark)

    return read


def _quick_minor(text: str, part: str | None) -> int | Fault:
    whole = int(text.partition(".")[0].replace(",", ""))
    minor = whole * 100 + int((part or "0").ljust(2, "0"))
    if text[0] == "0" and "," in text:
        return Fault("grouping")
    return minor if minor <= LARGEST_MINOR else Fault("too large")


def _number_as_minor(cell: int | float, currency: str, places: int, most_major: int) -> int | Fault:
    """A number of the sheet as minor units.

    The quick way asks whether the number is the very one that so many hundredths make; then it means that amount and
    no other. Whatever is left is looked at digit by digit.
    """
    if not 0 <= cell <= most_major:  # also what is no number at all
        if cell != cell or abs(cell) == float("inf"):
            return Fault("not a number")
        return Fault("negative" if cell < 0 else "too large")
    scale: int = 10**places
    minor = round(cell * scale)
    if minor / scale == cell:
        return minor
    try:
        return money.to_minor(Decimal(f"{cell:.15g}"), currency=currency)
    except money.NotWholeMinor:
        return Fault("decimals")


def _text_as_minor(text: str, currency: str, mark: str) -> int | Fault | None:
    plain = text.strip()
    if plain.lower() in NOTHING:
        return None
    if _PERCENT.fullmatch(plain):
        return Fault("percent")
    try:
        minor = parse_amount(plain, currency=currency, decimal_mark=mark)
    except NotAnAmount as fault:
        two_ways = fault.kind in ("decimals", "other mark", "grouping") and _TWO_WAYS.fullmatch(plain)
        return Fault("two ways" if two_ways else fault.kind)
    return Fault("negative") if minor < 0 else minor


def quantity_reader(mark: str) -> Reader:
    """Make a reader of quantities: an exact number of at most twelve digits, none below zero, or None."""

    def read(cell: Cell) -> Decimal | Fault | None:
        if not isinstance(cell, str):
            return _bounded(Decimal(f"{cell:.15g}"))
        text = cell.strip().replace("\u00a0", " ")
        if text.lower() in NOTHING:
            return None
        other = "," if mark == "." else "."
        if re.fullmatch(rf"[0-9]{{1,3}}(?:[{other} ][0-9]{{3}})*(?:[{mark}][0-9]+)?|[0-9]+(?:[{mark}][0-9]+)?", text):
            return _bounded(Decimal(text.replace(other, "").replace(" ", "").replace(mark, ".")))
        return Fault("not a number")

    return read


def _bounded(number: Decimal) -> Decimal | Fault:
    if not number.is_finite():
        return Fault("not a number")
    if number < 0:
        return Fault("negative")
    return number if number < 10**12 else Fault("too large")


def word_reader(words: dict[str, str]) -> Reader:
    """Make a reader of a few known words.

    Args:
        words: {way of writing it, in small letters: what it means}; "" may be among them.
    """

    def read(cell: Cell) -> str | Fault:
        text = " ".join(shown(cell).split()).casefold()
        return (
            words[text]
            if text in words
            else Fault("unknown word", ", ".join(dict.fromkeys(filter(None, words.values()))))
        )

    return read


def days_reader(weeks: bool) -> Reader:
    """Make a reader of durations in calendar days: "84", "84 days", "12 weeks"; `weeks` where a bare number means weeks."""

    def read(cell: Cell) -> int | Fault | None:
        text = shown(cell).strip().casefold()
        if text in NOTHING:
            return None
        found = _DURATION.fullmatch(text)
        if found is None:
            return Fault("no duration")
        number = int(found[1])
        days = number * 7 if found[3] or (weeks and not found[2]) else number
        return days if days <= 3650 else Fault("too large")

    return read


def date_reader(order: DateOrder, *, earliest: date, latest: date, from_1904: bool = False) -> Reader:
    """Make a reader of dates.

    Args:
        order: what "3/4/2027" means: "dmy", "mdy", or "" where nobody has said so and it is a Fault "day or month".
        earliest, latest: a date outside is a Fault "out of range".
        from_1904: numbers of days count from 1904.
    Source: ISO 8601 for year-month-day; ISO/IEC 29500-1, 18.17.4.1 for days counted by a sheet.
    """
    start = date(1904, 1, 1) if from_1904 else date(1899, 12, 30)

    def read(cell: Cell) -> date | Fault | None:
        found = _written_date(cell, order, start) if isinstance(cell, str) else _serial(cell, start)
        if isinstance(found, date) and not earliest <= found <= latest:
            return Fault("out of range", found.isoformat())
        return found

    return read


def _serial(cell: int | float, start: date) -> date | Fault:
    whole = int(cell) if cell == cell and abs(cell) < 1e9 else 0
    return start + timedelta(days=whole) if whole in SERIALS else Fault("no date")


def _written_date(cell: str, order: DateOrder, start: date) -> date | Fault | None:
    text = " ".join(cell.split()).casefold()
    if text in NOTHING:
        return None
    if found := _ISO.fullmatch(text):
        return _date(found[1], found[2], found[3])
    if found := _THREE.fullmatch(text):
        return _parted(found[1], found[3], found[4], dotted=found[2] == ".", order=order)
    if found := _DAY_FIRST.fullmatch(text):
        return _date(found[3], _month(found[2]), found[1])
    if found := _MONTH_FIRST.fullmatch(text):
        return _date(found[3], _month(found[1]), found[2])
    return _serial(int(text), start) if text.isascii() and text.isdigit() and len(text) == 5 else Fault("no date")


def _parted(first: str, second: str, year: str, *, dotted: bool, order: DateOrder) -> date | Fault:
    """A date in three numbers; points part the day from the month, by common practice never the other way round."""
    if dotted or order == "dmy":
        return _date(year, second, first)
    if order == "mdy":
        return _date(year, first, second)
    if first == second:
        return _date(year, first, second)
    return Fault("day or month")


def _month(word: str) -> str:
    for names in (_MONTHS, _LONG_MONTHS):
        if word in names:
            return str(names.index(word) + 1)
    return "9" if word == "sept" else "0"


def _date(year: str, month: str, day: str) -> date | Fault:
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return Fault("no date")


def order_told(cells: set[Cell]) -> tuple[DateOrder, bool]:
    """Tell from the dates of one column in which order day and month stand.

    Returns: the order that a number above twelve gives away, "" where none does or two contradict; and whether any date
        hangs on it at all.
    """
    told: set[DateOrder] = set()
    open_ = False
    for cell in cells:
        found = _THREE.fullmatch(" ".join(cell.split())) if isinstance(cell, str) else None
        if found is None or found[2] == ".":
            continue
        open_ = open_ or int(found[1]) != int(found[3])
        if int(found[1]) > 12 >= int(found[3]):
            told.add("dmy")
        if int(found[3]) > 12 >= int(found[1]):
            told.add("mdy")
    return (told.pop() if len(told) == 1 else ""), open_


def mark_told(cells: Sequence[Cell]) -> str:
    """Tell from the amounts of one column what parts their decimals: ".", ",", or "" where nothing does or both do."""
    if str not in set(map(type, cells)):
        return ""
    texts = {cell for cell in cells if isinstance(cell, str)}
    ends = {found[1] for text in texts if (found := re.search(r"([.,])[0-9]{1,2}[^0-9.,]*$", text))}
    return ends.pop() if len(ends) == 1 else ""
