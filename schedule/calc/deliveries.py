"""When a thing that is ordered arrives, and the latest day to order it.

The maker works by a calendar with closures; the road after that takes every day. The day of the order is the first day of
making where the maker works on it, as the day an activity begins is its first. From that two questions are answered: when
does an order of a given day arrive, and which is the latest day that still arrives in time (ADR 0408).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from schedule.calc import calendars
from schedule.calc.calendars import Calendar, Span

#: A day of waiting that costs as many calendar days as this is worth telling: more than the holidays of Easter. Our choice.
WORTH_TELLING = 7
#: How far ahead is looked for what waiting costs [calendar days].
AHEAD = 56


@dataclass(frozen=True, slots=True)
class Way:
    """How a thing comes: made in so many days of the maker's calendar, then on the road on every day.

    `approval_days` go before the order: for drawings, samples, the word of those who pay [calendar days].
    """

    making_days: int
    maker: Calendar
    road_days: int = 0
    approval_days: int = 0


@dataclass(frozen=True, slots=True)
class Coming:
    """What becomes of an order: the first and the last day it is worked on, and the day it is on site."""

    begun_on: date
    made_on: date
    on_site_on: date


@dataclass(frozen=True, slots=True)
class LastOrder:
    """The latest day to order, and the latest day to begin with its approval before that."""

    order_on: date
    begin_on: date


@dataclass(frozen=True, slots=True)
class Wait:
    """What an order of a day comes to."""

    ordered_on: date
    coming: Coming


@dataclass(frozen=True, slots=True)
class Jump:
    """A day on which ordering a day later costs more than a day: a closure is crossed.

    `begun_later` and `on_site_later` are what that one day costs [calendar days]; `closed` is the closure that is crossed, or None
    where public holidays are.
    """

    last_on: date
    before: Coming
    after: Coming
    closed: Span | None

    @property
    def begun_later(self) -> int:
        return (self.after.begun_on - self.before.begun_on).days

    @property
    def on_site_later(self) -> int:
        return (self.after.on_site_on - self.before.on_site_on).days


def coming(way: Way, ordered_on: date) -> Coming:
    """Tell what becomes of an order.

    Args:
        ordered_on: the day of the order; it counts where the maker works on it.
    Raises: NoSuchCalendar, TooFar.
    Source: our rule, ADR 0408.

    >>> works = Calendar("works", frozenset({1, 2, 3, 4, 5, 6}), closed=((date(2027, 1, 30), date(2027, 2, 20)),))
    >>> coming(Way(50, works), date(2027, 2, 1))
    Coming(begun_on=datetime.date(2027, 2, 22), made_on=datetime.date(2027, 4, 20), on_site_on=datetime.date(2027, 4, 20))
    """
    if not way.making_days:
        return Coming(ordered_on, ordered_on, ordered_on + timedelta(days=way.road_days))
    begun = calendars.on_or_after(way.maker, ordered_on)
    made = calendars.step(way.maker, begun, way.making_days - 1)
    return Coming(begun, made, made + timedelta(days=way.road_days))


def last_order(way: Way, on_site_by: date) -> LastOrder:
    """Find the latest day to order for a thing to be on site by a day, that day included.

    Raises: NoSuchCalendar, TooFar.
    Source: our rule, ADR 0408; the inverse of `coming`.

    >>> works = Calendar("works", frozenset({1, 2, 3, 4, 5, 6}), closed=((date(2027, 1, 30), date(2027, 2, 20)),))
    >>> last_order(Way(50, works, approval_days=7), date(2027, 4, 14))
    LastOrder(order_on=datetime.date(2027, 1, 25), begin_on=datetime.date(2027, 1, 18))
    """
    order_on = on_site_by - timedelta(days=way.road_days)
    if way.making_days:
        order_on = calendars.step(way.maker, calendars.on_or_before(way.maker, order_on), 1 - way.making_days)
    return LastOrder(order_on, order_on - timedelta(days=way.approval_days))


def waiting(way: Way, first: date, *, days: int = AHEAD) -> Iterator[Wait]:
    """Tell for each day from the first on what an order of it comes to."""
    for ahead in range(days + 1):
        ordered_on = first + timedelta(days=ahead)
        yield Wait(ordered_on, coming(way, ordered_on))


def jumps(way: Way, first: date, *, days: int = AHEAD, least: int = WORTH_TELLING) -> tuple[Jump, ...]:
    """Find the days after which an order is begun, or is on site, so much later that it is worth telling.

    Args:
        first: the first day on which it could be ordered.
        days: how far to look [calendar days].
        least: from how many calendar days on a jump is told.
    Returns: in order of days.

    >>> works = Calendar("works", frozenset({1, 2, 3, 4, 5, 6}), closed=((date(2027, 1, 30), date(2027, 2, 20)),))
    >>> [(one.last_on, one.begun_later, one.on_site_later) for one in jumps(Way(50, works), date(2027, 1, 25))]
    [(datetime.date(2027, 1, 29), 24, 1)]
    """
    waits = list(waiting(way, first, days=days + 1))
    found = (_jump(way, one, other) for one, other in zip(waits, waits[1:], strict=False))
    return tuple(jump for jump in found if max(jump.begun_later, jump.on_site_later) >= least)


def _jump(way: Way, one: Wait, other: Wait) -> Jump:
    before, after = one.coming, other.coming
    spans = ((before.begun_on, after.begun_on), (before.made_on, after.made_on))
    widest = max(spans, key=lambda span: span[1] - span[0])
    return Jump(one.ordered_on, before, after, _closed_in(way.maker, widest))


def _closed_in(maker: Calendar, span: Span) -> Span | None:
    """The first closure between two days; closures that follow each other at once are one."""
    found: Span | None = None
    for first, last in sorted(maker.closed):
        if last <= span[0] or first >= span[1]:
            continue
        if found is not None and first > found[1] + timedelta(days=1):
            break
        found = (found[0] if found else first, max(last, found[1]) if found else last)
    return found


def days_in_hand(needed_by: date, expected_on: date) -> int:
    """Days from the day a thing is on site to the day it is needed [calendar days]; below zero when it comes too late.

    >>> days_in_hand(date(2027, 3, 24), date(2027, 2, 16))
    36
    """
    return (needed_by - expected_on).days


def length_to(calendar: Calendar, start: date, last_on: date) -> int:
    """How long work has to be to end on a day, or on its first working day after that [working days], at least 1.

    >>> length_to(Calendar("crew", frozenset({1, 2, 3, 4, 5})), date(2027, 2, 8), date(2027, 2, 13))
    6
    """
    return max(1, calendars.count(calendar, start, calendars.on_or_after(calendar, last_on)) + 1)
