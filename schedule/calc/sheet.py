"""A plan as sheets: what the columns are called, and what the cells of a sheet say, with every cell that cannot be read.

Four sheets are known: activities, links, calendars and closures. A heading row is sought among the first rows; columns that
are not known, and those that hold what the program works out itself, are passed over. Nothing here knows what is in the plan:
a reading gives for each row the values that its sheet states, and no value for a column that is not there.

What an activity waits for is written in one cell as "A12; A13 (SS, 3 days); A24 (FS, 3 calendar days)": codes parted by
semicolons, and in brackets how it waits, where that is not simply for the other's finish.
"""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

Cell = str | int | float
Rows = Sequence[Sequence[Cell]]
#: What an activity waits for: code, kind, lag [days], lag in calendar days.
Waits = tuple[str, str, int, bool]

ACTIVITIES, LINKS, CALENDARS, CLOSURES = "Activities", "Links", "Calendars", "Closures"
SHEETS = (ACTIVITIES, LINKS, CALENDARS, CLOSURES)
LINK_KINDS = ("FS", "SS", "FF", "SF")
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
#: So far down a heading row is sought.
HEADING_WITHIN = 15
MOST_ROWS = 10_000
YES, NO = frozenset({"yes", "y", "x", "true", "1"}), frozenset({"no", "n", "", "false", "0", "-", "\u2013"})
DAYS = re.compile(r"([+-]?\d{1,4})\s*(?:(calendar|working)\s+)?d(?:ays?)?", re.IGNORECASE)
WAIT = re.compile(r"\s*([^;(),]+?)\s*(?:\(([^()]*)\))?\s*")
GUARDED = re.compile(r"'[=+@-]")
ISO = re.compile(r"(\d{4})-(\d{2})-(\d{2})(?:[T ]00:00(?::00)?)?")


class Unreadable(ValueError):
    """A cell says nothing that is understood; the message is a word for what was expected."""


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a row cannot be brought in: where, a word for what is wrong, and what it is about. Rows count from 1."""

    sheet: str
    row: int
    column: str
    kind: str
    about: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """A row of a sheet: its number, and the values that it states."""

    row: int
    values: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name in the program, its heading, and how its cells are read; None where it is only written."""

    name: str
    heading: str
    read: Callable[[Cell], Any] | None
    needed: bool = False
    also: tuple[str, ...] = ()


def text(cell: Cell) -> str:
    """A cell as text, without a spare decimal point, and without the apostrophe that keeps a text from being run.

    >>> text(12.0), text("'=1+1"), text(" two  words ")
    ('12', '=1+1', 'two words')
    """
    if isinstance(cell, float) and cell.is_integer():
        cell = int(cell)
    given = " ".join(str(cell).split())
    return given[1:] if GUARDED.match(given) else given


def passage(cell: Cell) -> str:
    """A longer text, with the ends of its lines."""
    given = cell.strip() if isinstance(cell, str) else text(cell)
    return given[1:] if GUARDED.match(given) else given


def whole(cell: Cell) -> int | None:
    """A whole number, None of an empty cell. Raises: Unreadable."""
    given = text(cell).replace("\u2212", "-")
    if not given:
        return None
    if not re.fullmatch(r"[+-]?\d{1,6}", given):
        raise Unreadable("whole number")
    return int(given)


def truth(cell: Cell) -> bool:
    """Yes or no; an empty cell is no. Raises: Unreadable."""
    given = text(cell).casefold()
    if given in YES:
        return True
    if given in NO:
        return False
    raise Unreadable("yes or no")


def day(cell: Cell) -> date | None:
    """A date as 2027-05-28, which is how cells that are dates arrive; None of an empty cell. Raises: Unreadable."""
    given = text(cell)
    if not given:
        return None
    found = ISO.fullmatch(given)
    try:
        return date(*map(int, found.groups())) if found else _no_date()
    except ValueError as fault:
        raise Unreadable("date") from fault


def _no_date() -> date:
    raise Unreadable("date")


def waits(cell: Cell) -> tuple[Waits, ...]:
    """What an activity waits for, of one cell. Raises: Unreadable.

    >>> waits("A12; A13 (SS, 3 days); A24 (3 calendar days)")
    (('A12', 'FS', 0, False), ('A13', 'SS', 3, False), ('A24', 'FS', 3, True))
    """
    return tuple(_wait(part) for part in text(cell).split(";") if part.strip())


def _wait(part: str) -> Waits:
    found = WAIT.fullmatch(part)
    if found is None:
        raise Unreadable("waits")
    kind, lag, elapsed = "FS", 0, False
    for word in filter(None, map(str.strip, (found[2] or "").split(","))):
        days = DAYS.fullmatch(word.replace("\u2212", "-"))
        if word.upper() in LINK_KINDS:
            kind = word.upper()
        elif days:
            lag, elapsed = int(days[1]), (days[2] or "").casefold() == "calendar"
        else:
            raise Unreadable("waits")
    return found[1], kind, lag, elapsed


def written(found: Iterable[Waits]) -> str:
    """Write what an activity waits for, the way `waits` reads it.

    >>> written([("A12", "FS", 0, False), ("A13", "SS", 1, False), ("A24", "FS", -3, True)])
    'A12; A13 (SS, 1 day); A24 (FS, -3 calendar days)'
    """
    return "; ".join(_written(*one) for one in found)


def _written(code: str, kind: str, lag: int, elapsed: bool) -> str:
    if kind == "FS" and not lag:
        return code
    days = f"{lag} {'calendar ' if elapsed else ''}{'day' if abs(lag) == 1 else 'days'}"
    return f"{code} ({kind}, {days})" if lag else f"{code} ({kind})"


def link_kind(cell: Cell) -> str:
    """How an activity waits, FS where the cell is empty. Raises: Unreadable."""
    given = text(cell).upper() or "FS"
    if given not in LINK_KINDS:
        raise Unreadable("link kind")
    return given


def weekdays(cell: Cell) -> frozenset[int]:
    """ISO weekdays of a cell such as "Monday to Friday" or "Tue, Thu". Raises: Unreadable.

    >>> sorted(weekdays("Monday to Thursday, Sat"))
    [1, 2, 3, 4, 6]
    """
    found: set[int] = set()
    for part in filter(None, re.split(r"[,;]|\band\b", text(cell))):
        first, _to, last = part.partition(" to ")
        begins = _weekday(first)
        found |= set(range(begins, (_weekday(last) if last else begins) + 1))
    if not found:
        raise Unreadable("weekdays")
    return frozenset(found)


def _weekday(word: str) -> int:
    given = word.strip().casefold()
    for number, name in enumerate(WEEKDAYS, start=1):
        if len(given) > 1 and name.casefold().startswith(given):
            return number
    raise Unreadable("weekdays")


def written_weekdays(found: Iterable[int]) -> str:
    """Write weekdays, the way `weekdays` reads them: "Monday, Tuesday"."""
    return ", ".join(WEEKDAYS[number - 1] for number in sorted(found))


def days(cell: Cell) -> tuple[date, ...]:
    """Dates parted by semicolons. Raises: Unreadable."""
    return tuple(found for part in text(cell).split(";") if (found := day(part)) is not None)


COLUMNS: Mapping[str, tuple[Column, ...]] = {
    ACTIVITIES: (
        Column("code", "Code", text, True),
        Column("name", "Activity", text, also=("Name", "What is done")),
        Column("kind", "Kind", text),
        Column("trade", "Trade", text),
        Column("area", "Area", text),
        Column("days", "Days", whole),
        Column("calendar", "Calendar", text),
        Column("elapsed", "Every day", truth),
        Column("after", "Waits for", waits),
        Column("not_before_on", "Not before", day),
        Column("not_before_why", "Why", text),
        Column("covers", "Covers", truth),
        Column("weather", "Weather", truth),
        Column("notice_days", "Notice", whole),
        Column("attended_by", "Attended by", text),
        Column("note", "Note", passage),
        Column("started_on", "Started", None),
        Column("finished_on", "Finished", None),
        Column("early_start_on", "Early start", None),
        Column("early_finish_on", "Early finish", None),
        Column("late_finish_on", "Latest finish", None),
        Column("float_days", "Float", None),
    ),
    LINKS: (
        Column("code", "Activity", text, True),
        Column("before", "Waits for", text, True),
        Column("kind", "How", link_kind),
        Column("lag_days", "Days between", whole),
        Column("lag_elapsed", "Calendar days", truth),
    ),
    CALENDARS: (
        Column("name", "Calendar", text, True),
        Column("weekdays", "Weekdays", weekdays, True),
        Column("region", "Public holidays of", text),
        Column("extra_days", "Worked all the same", days),
        Column("note", "Note", text),
    ),
    CLOSURES: (
        Column("name", "Calendar", text, True),
        Column("first_on", "First day", day, True),
        Column("last_on", "Last day", day),
        Column("reason", "Why", text),
    ),
}


def sheet_of(name: str, rows: Rows) -> str:
    """Which of the known sheets this is, by its name or else by its headings; "" for none."""
    named = next((known for known in SHEETS if known.casefold() == name.strip().casefold()), "")
    return named or next((known for known in SHEETS if _heading(known, rows) is not None), "")


def _heading(sheet: str, rows: Rows) -> int | None:
    """The place of the row that has every needed heading of a sheet."""
    needed = [column for column in COLUMNS[sheet] if column.needed]
    for place, row in enumerate(rows[:HEADING_WITHIN]):
        if all(_place(column, row) is not None for column in needed):
            return place
    return None


def _place(column: Column, row: Sequence[Cell]) -> int | None:
    wanted = {word.casefold() for word in (column.heading, *column.also)}
    return next((place for place, cell in enumerate(row) if text(cell).casefold() in wanted), None)


def read(sheet: str, rows: Rows) -> tuple[list[Line], list[Fault]]:
    """Read the rows of a sheet: what each states, and the cells that cannot be read. Empty rows are passed over."""
    heading = _heading(sheet, rows)
    if heading is None:
        needed = ", ".join(column.heading for column in COLUMNS[sheet] if column.needed)
        return [], [Fault(sheet, 0, "", "headings", needed)]
    if len(rows) > MOST_ROWS:
        return [], [Fault(sheet, 0, "", "too many", str(MOST_ROWS))]
    found = [(column, _place(column, rows[heading])) for column in COLUMNS[sheet] if column.read]
    places = [(column, place) for column, place in found if place is not None]
    lines: list[Line] = []
    faults: list[Fault] = []
    for number, row in enumerate(rows[heading + 1 :], start=heading + 2):
        if any(text(cell) for cell in row):
            line, wrong = _line(sheet, number, row, places)
            lines.append(line)
            faults += wrong
    return lines, faults


def _line(
    sheet: str, number: int, row: Sequence[Cell], places: Sequence[tuple[Column, int]]
) -> tuple[Line, list[Fault]]:
    values: dict[str, Any] = {}
    faults = []
    for column, place in places:
        cell = row[place] if place < len(row) else ""
        try:
            values[column.name] = column.read(cell) if column.read else None
        except Unreadable as fault:
            faults.append(Fault(sheet, number, column.heading, str(fault), text(cell)[:60]))
            continue
        if column.needed and values[column.name] in ("", None):
            faults.append(Fault(sheet, number, column.heading, "empty"))
    return Line(number, values), faults
