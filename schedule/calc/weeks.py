"""The coming weeks of a calendar, day by day: worked, or why not."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from schedule.calc import calendars
from schedule.calc.calendars import Calendar
from schedule.calc.rests import Closed
from units.days import monday

#: What a day is: worked, worked although the calendar would rest, closed, a public holiday, or no weekday of the calendar.
WORKED, EXTRA, SHUT, HOLIDAY, OFF = "worked", "extra", "shut", "holiday", "off"


@dataclass(frozen=True, slots=True)
class Day:
    on: date
    kind: str
    #: The reason of the closure, where it has one.
    why: str = ""


@dataclass(frozen=True, slots=True)
class Week:
    """Seven days from a Monday."""

    monday: date
    days: tuple[Day, ...]

    @property
    def worked(self) -> int:
        return sum(day.kind in (WORKED, EXTRA) for day in self.days)


def weeks(calendar: Calendar, closed: Sequence[Closed], first: date, count: int) -> tuple[Week, ...]:
    """Lay out whole weeks from the one that a day lies in.

    Args:
        closed: the closures of the calendar with their reasons.
        count: how many weeks [weeks].

    >>> crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}), "", ((date(2027, 3, 1), date(2027, 3, 2)),))
    >>> [week.worked for week in weeks(crew, (), date(2027, 2, 24), 2)]
    [5, 3]
    """
    start = monday(first)
    return tuple(_week(calendar, closed, start + timedelta(weeks=n)) for n in range(count))


def _week(calendar: Calendar, closed: Sequence[Closed], monday: date) -> Week:
    return Week(monday, tuple(day(calendar, closed, monday + timedelta(days=n)) for n in range(7)))


def day(calendar: Calendar, closed: Sequence[Closed], on: date) -> Day:
    """Say what a calendar makes of a day.

    >>> day(Calendar("crew", frozenset({1, 2, 3, 4, 5}), "US"), (), date(2027, 7, 5)).kind
    'holiday'
    """
    if calendars.is_worked(calendar, on):
        return Day(on, EXTRA if on in calendar.worked else WORKED)
    if on.isoweekday() not in calendar.weekdays:
        return Day(on, OFF)
    if any(first <= on <= last for first, last in calendar.closed):
        return Day(on, SHUT, next((why for first, last, why in closed if first <= on <= last), ""))
    return Day(on, HOLIDAY)
