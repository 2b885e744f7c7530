"""Why an activity starts when it does.

Its start follows from what holds it there: work that has to be done before, a day before which it must not begin, today, or
the start of the plan; and then its calendar may rest.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from schedule.calc import calendars, rests
from schedule.calc.calendars import Calendar
from schedule.calc.rests import Closed, Rest

BEGUN, LINK, NOT_BEFORE, TODAY, PLAN = "begun", "link", "not before", "today", "plan"
#: How far back a rest is looked for [days].
FAR = 90


@dataclass(frozen=True, slots=True)
class Held:
    """What is known of one activity that has to do with its start."""

    start_on: date
    started_on: date | None
    #: Codes of the activities that hold it there.
    drives: Sequence[str]
    not_before_on: date | None
    today: date | None
    plan_start: date
    days: int = 1


@dataclass(frozen=True, slots=True)
class Why:
    """`kind` names the reason; `rest` is the stretch of days off just before the start that put it off further, or None."""

    kind: str
    drives: tuple[str, ...]
    rest: Rest | None


def why(held: Held, calendar: Calendar, closed: Sequence[Closed]) -> Why:
    """Name what holds an activity where it starts; of several the work before comes first.

    Args:
        closed: closures of its calendar with their reasons.
    Source: our rule; it tells what the engine worked out and works nothing out itself.
    """
    if held.started_on:
        return Why(BEGUN, (), None)
    rest = rest_before(calendar, closed, held.start_on) if held.days else None
    if held.drives:
        return Why(LINK, tuple(held.drives), rest)
    reasons = ((NOT_BEFORE, held.not_before_on), (TODAY, held.today), (PLAN, held.plan_start))
    kind = next((kind for kind, day in reasons if day and calendars.on_or_after(calendar, day) == held.start_on), PLAN)
    return Why(kind, (), rest)


def rest_before(calendar: Calendar, closed: Sequence[Closed], start_on: date) -> Rest | None:
    """The days off that end the day before a start, unless they are a plain weekend.

    >>> crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}), "", ((date(2027, 3, 1), date(2027, 3, 5)),))
    >>> found = rest_before(crew, ((date(2027, 3, 1), date(2027, 3, 5), "crew away"),), date(2027, 3, 8))
    >>> (found.first.isoformat(), found.why) if found else None
    ('2027-02-27', 'crew away')
    """
    eve = start_on - timedelta(days=1)
    found = rests.rests(calendar, closed, eve - timedelta(days=FAR), eve)
    last = found[-1] if found else None
    return last if last and last.last == eve and not last.weekend else None


def latest_without_harm(calendar: Calendar, finish_on: date, free_days: int) -> date:
    """The last day an activity may be finished on before anything that waits for it moves.

    Args:
        free_days: its free float [working days of its calendar], not below zero.

    >>> latest_without_harm(Calendar("crew", frozenset({1, 2, 3, 4, 5})), date(2027, 1, 29), 2)
    datetime.date(2027, 2, 2)
    """
    return calendars.step(calendar, finish_on, free_days) if free_days > 0 else finish_on
