"""Which activities are shown, in which groups, and over which days.

A build has far more activities than fit in one view. What is asked for is narrowed in one place, so that the picture
and the list always speak of the same ones.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from units.days import monday

DONE, UNDER_WAY, NOT_STARTED = "done", "under way", "not started"
SPANS = ("six", "quarter", "whole")
#: Weeks before the week of today, and from it on, that a span shows.
_WEEKS = {"six": (0, 6), "quarter": (2, 10)}
#: Activities that start later than this are grouped by month, not by week [weeks from the week of today].
WEEKS_APART = 10


@dataclass(frozen=True, slots=True)
class Row:
    """An activity as a list or a picture shows it; its dates are the kept ones."""

    pk: int
    code: str
    name: str
    kind: str
    trade: str
    area: str
    days: int
    calendar_id: int | None
    elapsed: bool
    covers: bool
    started_on: date | None
    finished_on: date | None
    start_on: date
    finish_on: date
    #: Worked back from the project's own finish.
    late_finish_on: date
    float_days: int
    #: To the day the project is to open; None where none is set.
    target_float_days: int | None
    critical: bool
    #: By the newest frozen plan; None where it was not in it.
    planned_finish_on: date | None = None

    @property
    def state(self) -> str:
        return DONE if self.finished_on else UNDER_WAY if self.started_on else NOT_STARTED

    @property
    def is_left(self) -> bool:
        return self.finished_on is None

    @property
    def is_critical(self) -> bool:
        """Whether it still can move the finish: what is done cannot."""
        return self.critical and self.is_left


@dataclass(frozen=True, slots=True)
class Asked:
    """What somebody wants to see: nothing narrowed unless given."""

    span: str = "quarter"
    what: str = "all"
    by: str = "week"
    trade: str = ""
    area: str = ""
    calendar_id: int = 0
    state: str = ""
    words: str = ""

    @property
    def is_narrowed(self) -> bool:
        return bool(self.what != "all" or self.trade or self.area or self.calendar_id or self.state or self.words)


@dataclass(frozen=True, slots=True)
class Window:
    """The days a picture shows, both counted in."""

    first: date
    last: date

    @property
    def days(self) -> int:
        return (self.last - self.first).days + 1

    def meets(self, row: Row) -> bool:
        return row.start_on <= self.last and row.finish_on >= self.first


@dataclass(frozen=True, slots=True)
class Group:
    """Activities under one heading: `kind` is "done", "now", "week", "month" or "trade"; `first` is the day or the trade."""

    key: str
    kind: str
    first: date | str
    rows: tuple[Row, ...]

    @property
    def count(self) -> int:
        return len(self.rows)

    @property
    def critical(self) -> int:
        return sum(row.is_critical for row in self.rows)

    @property
    def done(self) -> int:
        return sum(not row.is_left for row in self.rows)

    @property
    def start_on(self) -> date:
        return min(row.start_on for row in self.rows)

    @property
    def finish_on(self) -> date:
        return max(row.finish_on for row in self.rows)


def window(span: str, rows: Iterable[Row], today: date, until: date | None = None) -> Window:
    """The days that a span shows, in whole weeks.

    Args:
        span: "six" (six weeks from this one), "quarter" (two weeks back, ten on), or "whole".
        rows: at least one; before the work begins, or after it has ended, the window stands at its nearer end.
        until: a day that the whole build has to show as well, such as the target.
    Source: our choice; six weeks are the usual look-ahead.
    """
    found = list(rows)
    first, last = min(row.start_on for row in found), max(row.finish_on for row in found)
    if span not in _WEEKS:
        return Window(monday(first), monday(max(last, until or last)) + timedelta(days=6))
    back, on = _WEEKS[span]
    start = monday(min(max(today, first), last))
    return Window(start - timedelta(weeks=back), start + timedelta(weeks=on, days=-1))


def chosen(rows: Iterable[Row], asked: Asked) -> tuple[Row, ...]:
    """The activities that are asked for, in the order they come."""
    words = asked.words.casefold().split()
    return tuple(row for row in rows if _fits(row, asked) and all(word in _spoken(row) for word in words))


def _fits(row: Row, asked: Asked) -> bool:
    return (
        (asked.what != "critical" or row.is_critical)
        and (asked.what != "left" or row.is_left)
        and (not asked.trade or row.trade == asked.trade)
        and (not asked.area or row.area == asked.area)
        and (not asked.calendar_id or row.calendar_id == asked.calendar_id)
        and (not asked.state or row.state == asked.state)
    )


def _spoken(row: Row) -> str:
    return f"{row.code} {row.name}".casefold()


def by_start(rows: Iterable[Row]) -> list[Row]:
    """In the order they start, then finish, then come in the plan."""
    return sorted(rows, key=lambda row: (row.start_on, row.finish_on))


def grouped(rows: Sequence[Row], by: str, today: date) -> tuple[Group, ...]:
    """Put activities under headings.

    Args:
        by: "week" (what is under way, then by the week of the start, later ones by month, and what is done last) or "trade" (in
            the order of their first start).
    """
    groups: dict[tuple[str, date | str], list[Row]] = {}
    for row in by_start(rows):
        groups.setdefault(("trade", row.trade) if by == "trade" else _time(row, today), []).append(row)
    order = {"now": 0, "week": 1, "month": 1, "trade": 1, "done": 2}
    found = sorted(groups.items(), key=lambda item: order[item[0][0]])
    return tuple(Group(_key(kind, first), kind, first, tuple(held)) for (kind, first), held in found)


def _time(row: Row, today: date) -> tuple[str, date]:
    if not row.is_left:
        return "done", date.min
    if row.started_on:
        return "now", date.min
    week = monday(row.start_on)
    return (
        ("week", week)
        if week < monday(today) + timedelta(weeks=WEEKS_APART)
        else ("month", row.start_on.replace(day=1))
    )


def _key(kind: str, first: date | str) -> str:
    if isinstance(first, str):
        return f"{kind}-{first}"
    return kind if first == date.min else f"{kind}-{first.isoformat()}"
