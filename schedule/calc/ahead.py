"""The coming weeks: which work falls into which, and when those who do it are called.

Trades are called three times before they begin: two weeks, one week and the day before. A call that would fall on a day nobody
works is made on the last working day before it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from schedule.calc import calendars
from schedule.calc.calendars import Calendar
from units.days import monday

#: Calendar days before the start on which a trade is called. Source: common practice of those who run subcontractors.
CALLS = (14, 7, 1)


@dataclass(frozen=True, slots=True)
class Week:
    """A week from Monday to Sunday."""

    first_on: date

    @property
    def last_on(self) -> date:
        return self.first_on + timedelta(days=6)

    def touches(self, start: date, finish: date) -> bool:
        """Whether a span of days, both ends included, has a day in this week."""
        return start <= self.last_on and finish >= self.first_on

    def holds(self, day: date) -> bool:
        return self.first_on <= day <= self.last_on


@dataclass(frozen=True, slots=True)
class Call:
    """A call to make: on which day, so many days before the start."""

    call_on: date
    days_before: int


def weeks(today: date, number: int) -> tuple[Week, ...]:
    """The weeks from the one of a day on.

    >>> [week.first_on.isoformat() for week in weeks(date(2027, 1, 29), 2)]
    ['2027-01-25', '2027-02-01']
    """
    first = monday(today)
    return tuple(Week(first + timedelta(weeks=ahead)) for ahead in range(number))


def calls(start: date, calendar: Calendar) -> tuple[Call, ...]:
    """The calls before work begins, the earliest first.

    Args:
        calendar: the days on which calls are made.
    Source: two weeks, one week, the day before: common practice; the move to a working day is our rule.

    >>> [(one.call_on.isoformat(), one.days_before) for one in calls(date(2027, 2, 15), Calendar("", frozenset(range(1, 6))))]
    [('2027-02-01', 14), ('2027-02-08', 7), ('2027-02-12', 1)]
    """
    return tuple(Call(calendars.on_or_before(calendar, start - timedelta(days=before)), before) for before in CALLS)


def due_calls(start: date, calendar: Calendar, week: Week, today: date) -> Sequence[Call]:
    """Those calls that fall in a week, less those before the day itself when the week has begun."""
    return [call for call in calls(start, calendar) if week.holds(call.call_on) and call.call_on >= today]
