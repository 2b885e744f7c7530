"""When a calendar rests within some days, as stretches that a picture can shade."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from schedule.calc import calendars
from schedule.calc.calendars import Calendar

#: first day, last day, why
Closed = tuple[date, date, str]


@dataclass(frozen=True, slots=True)
class Rest:
    """Days in a row that are not worked: `why` is the reason of the closure, "" where it is a public holiday or a weekend."""

    first: date
    last: date
    why: str
    #: Only days of the week on which this calendar never works.
    weekend: bool


def rests(calendar: Calendar, closed: Sequence[Closed], first: date, last: date) -> tuple[Rest, ...]:
    """Every stretch of days from `first` to `last`, both counted in, that a calendar does not work.

    Args:
        closed: its closures with their reasons.
    Returns: in order, none touching the next; a stretch is named by the first closure in it.

    >>> crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}), "", ((date(2027, 3, 1), date(2027, 3, 2)),))
    >>> [(rest.first.day, rest.last.day, rest.weekend) for rest in rests(crew, (), date(2027, 2, 22), date(2027, 3, 5))]
    [(27, 2, False)]
    """
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    runs: list[list[date]] = []
    for day in days:
        if calendars.is_worked(calendar, day):
            continue
        if runs and runs[-1][-1] + timedelta(days=1) == day:
            runs[-1].append(day)
        else:
            runs.append([day])
    return tuple(_rest(run, calendar, closed) for run in runs)


def _rest(run: Sequence[date], calendar: Calendar, closed: Sequence[Closed]) -> Rest:
    why = next((why for begins, ends, why in closed if begins <= run[-1] and ends >= run[0] and why), "")
    weekend = all(day.isoweekday() not in calendar.weekdays for day in run)
    return Rest(run[0], run[-1], "" if weekend else why, weekend)
