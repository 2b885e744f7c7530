"""A network worked out by walking from day to day: slow, and written from the definitions alone.

Days are ordinals. Work lies at (start, day after its last); a milestone lies at a boundary between two days, twice the
same. Each is put on the first day on which everything that it waits on allows it. Late days and floats are found by pushing:
an activity is held back a little more, everything is put again, and one looks what has moved.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache

from schedule.calc.calendars import EVERY_DAY, Calendar
from schedule.calc.network import Activity, Link, Network

Place = tuple[int, int]
ONE_DAY = timedelta(days=1)


@lru_cache(maxsize=100_000)
def works(calendar: Calendar, day: int) -> bool:
    on = date.fromordinal(day)
    if on in calendar.worked:
        return True
    return on.isoweekday() in calendar.weekdays and not any(first <= on <= last for first, last in calendar.closed)


def working(calendar: Calendar, first: int, after: int) -> int:
    """How many days are worked from one up to another."""
    return sum(works(calendar, day) for day in range(first, after))


def next_working(calendar: Calendar, day: int) -> int:
    while not works(calendar, day):
        day += 1
    return day


def go(calendar: Calendar, day: int, days: int) -> int:
    """Some working days on from a working day, or back."""
    for _ in range(abs(days)):
        day += 1 if days > 0 else -1
        while not works(calendar, day):
            day += 1 if days > 0 else -1
    return day


def enough(calendar: Calendar, day: int, since: int, link: Link) -> bool:
    """Whether a working day lies the lag after the first working day on or after another."""
    if link.lag_elapsed:
        return day >= since + link.lag
    first = next_working(calendar, since)
    return day >= go(calendar, first, link.lag)


@dataclass(frozen=True)
class Work:
    """An activity with its calendar, and what has happened turned into a place that it is not put before."""

    activity: Activity
    calendar: Calendar
    after: tuple[Link, ...]
    not_before: int
    length: int
    #: days that its real start and end lie beside those of its calendar
    beside: tuple[int, int] = (0, 0)

    @property
    def is_milestone(self) -> bool:
        return self.activity.duration == 0

    def place(self, start: int) -> Place:
        return (start, start) if self.is_milestone else (start, go(self.calendar, start, self.length - 1) + 1)

    def allows(self, link: Link, start: int, before: Place) -> bool:
        """Whether a link lets the work start on a day, when what it waits on lies at `before`."""
        since = before[link.kind in ("FS", "FF")]
        if self.is_milestone:
            return self._allows_milestone(link, start, since)
        last = self.place(start)[1] - 1
        if link.kind == "FF":
            return enough(self.calendar, last, since - 1, link)
        if link.kind == "SF":
            return enough(self.calendar, go(self.calendar, last, 1), since, link)
        return enough(self.calendar, start, since, link)

    def _allows_milestone(self, link: Link, boundary: int, since: int) -> bool:
        if link.lag_elapsed or link.lag == 0:
            return boundary >= since + link.lag
        if link.lag > 0:
            return working(self.calendar, since, boundary) >= link.lag
        return boundary >= go(self.calendar, next_working(self.calendar, since), link.lag)

    def first(self, not_before: int, ready: Callable[[int], bool]) -> int:
        """The first day on or after one on which it can be put, and is ready."""
        day = not_before
        while not ((self.is_milestone or works(self.calendar, day)) and ready(day)):
            day += 1
        return day

    def later(self, start: int, days: int) -> int:
        """Some working days later; a milestone stands before the day it then stands before."""
        if not self.is_milestone or days == 0:
            return go(self.calendar, start, days)
        return go(self.calendar, next_working(self.calendar, start), days - 1) + 1


class DayByDay:
    """A network put in place; `at` finds the place of each activity."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.works = {activity.id: self._work(activity) for activity in network.activities}
        self.at = self.put({})
        self.works = {id_: replace(work, after=tuple(self._kept(work))) for id_, work in self.works.items()}
        self.end = self.end_of(self.at)

    def _work(self, activity: Activity) -> Work:
        network, name = self.network, activity.calendar or self.network.default_calendar
        calendar = EVERY_DAY if activity.elapsed or not name else network.calendars[name]
        bounds = (network.start, activity.not_before, network.data_on)
        earliest = max(bound.toordinal() for bound in bounds if bound is not None)
        plain = Work(activity, calendar, activity.after, earliest, activity.duration)
        return self._begun(plain) if activity.started_on or activity.finished_on else plain

    def _begun(self, work: Work) -> Work:
        activity, calendar = work.activity, work.calendar
        if work.is_milestone:
            reached = activity.finished_on or activity.started_on
            return replace(work, not_before=reached.toordinal() + 1)
        if activity.started_on:
            start = activity.started_on.toordinal()
        else:
            last = activity.finished_on.toordinal()
            while not works(calendar, last):
                last -= 1
            start = go(calendar, last, 1 - activity.duration)
        first = next_working(calendar, start)
        if activity.finished_on:
            length = max(1, working(calendar, start, activity.finished_on.toordinal() + 1))
            end = activity.finished_on.toordinal() - go(calendar, first, length - 1)
        else:
            until = self.network.data_on.toordinal() if self.network.data_on else start
            length, end = max(activity.duration, working(calendar, first, next_working(calendar, until) + 1)), 0
        return replace(work, not_before=first, length=length, beside=(start - first, end))

    @staticmethod
    def _has_begun(work: Work) -> bool:
        return bool(work.activity.started_on or work.activity.finished_on)

    def _kept(self, work: Work) -> Iterator[Link]:
        """Links that work which has begun has waited for; all links of other work."""
        for link in work.after:
            start = self.at[work.activity.id][0] - work.beside[0]
            if not self._has_begun(work) or work.allows(link, start, self.at[link.before]):
                yield link

    def put(self, held: Mapping[str, int]) -> dict[str, Place]:
        """Put everything; `held` activities are not put before a day. Until links are sorted out, none holds what has begun."""
        found: dict[str, Place] = {}
        waiting = list(self.works)
        while waiting:
            id_ = next(one for one in waiting if all(link.before in found for link in self.works[one].after))
            waiting.remove(id_)
            found[id_] = self._put(self.works[id_], held.get(id_, 0), found)
        return found

    def _put(self, work: Work, held: int, found: Mapping[str, Place]) -> Place:
        free = self._has_begun(work) and not hasattr(self, "at")
        links = () if free else work.after

        def ready(day: int) -> bool:
            return all(work.allows(link, day, found[link.before]) for link in links)

        start = work.first(work.not_before, ready)
        if work.activity.slip and not self._has_begun(work):
            start = work.later(start, work.activity.slip)
        start = max(start, held)
        first, after = work.place(start)
        return first + work.beside[0], after + work.beside[1]

    @staticmethod
    def end_of(at: Mapping[str, Place]) -> int:
        return max(after for _, after in at.values())

    def latest(self, id_: str, still: Callable[[dict[str, Place]], bool]) -> int:
        """The latest day an activity can be put on while something still holds."""
        work = self.works[id_]
        best = day = self.at[id_][0] - work.beside[0]
        while True:
            day = day + 1 if work.is_milestone else go(work.calendar, day, 1)
            if not still(self.put({id_: day})):
                return best
            best = day

    def float_until(self, id_: str, latest: int) -> int:
        work = self.works[id_]
        start = self.at[id_][0] - work.beside[0]
        return working(work.calendar, start, latest) - working(work.calendar, latest, start)

    def total_float(self, id_: str) -> int:
        return self.float_until(id_, self.latest(id_, lambda at: self.end_of(at) <= self.end))

    def free_float(self, id_: str) -> int:
        def nothing_else_moves(at: dict[str, Place]) -> bool:
            same = all(at[other] == place for other, place in self.at.items() if other != id_)
            return same and self.end_of(at) <= self.end

        return self.float_until(id_, self.latest(id_, nothing_else_moves))

    def latest_by(self, id_: str, end: int) -> int:
        """The latest day an activity can be put on, before its time if need be, so that it and what waits on it end in time."""
        work = self.works[id_]
        day = self.at[id_][0] - work.beside[0]
        if not work.is_milestone:
            day = next_working(work.calendar, day)
        while self._ends(id_, day) > end:
            day = day - 1 if work.is_milestone else go(work.calendar, day, -1)
        while self._ends(id_, after := day + 1 if work.is_milestone else go(work.calendar, day, 1)) <= end:
            day = after
        return day

    def _ends(self, id_: str, start: int) -> int:
        """When the last of an activity and what waits on it ends, as if there were nothing else."""
        first, after = self.works[id_].place(start)
        beside = self.works[id_].beside
        found = {id_: (first + beside[0], after + beside[1])}
        for other in self.at:
            work = self.works[other]
            links = [link for link in work.after if link.before in found]
            if links and other != id_:
                found[other] = self._follow(work, links, found, start)
        return self.end_of(found)

    def _follow(self, work: Work, links: list[Link], found: Mapping[str, Place], start: int) -> Place:
        day = work.first(start - 60, lambda on: all(work.allows(link, on, found[link.before]) for link in links))
        if work.activity.slip and not self._has_begun(work):
            day = work.later(day, work.activity.slip)
        first, after = work.place(day)
        return first + work.beside[0], after + work.beside[1]

    def late_dates(self, id_: str, start: int) -> tuple[date, date]:
        """The dates of a late start; a milestone falls on the last working day before, if that is not before its early day."""
        work = self.works[id_]
        early_start = self.at[id_][0] - work.beside[0]
        if start == early_start:
            return self.early_dates(id_)
        if not work.is_milestone:
            first, after = work.place(start)
            return date.fromordinal(first), date.fromordinal(after - 1)
        day = start - 1
        while not works(work.calendar, day):
            day -= 1
        early = self.early_dates(id_)[0].toordinal()
        return (date.fromordinal(max(day, early) if start > early_start else min(day, early)),) * 2

    def early_dates(self, id_: str) -> tuple[date, date]:
        work, (start, after) = self.works[id_], self.at[id_]
        if work.is_milestone:
            return (self._falls_on(id_),) * 2
        return date.fromordinal(start), date.fromordinal(after - 1)

    def _falls_on(self, id_: str) -> date:
        work, boundary = self.works[id_], self.at[id_][0]
        eve = date.fromordinal(boundary) - ONE_DAY
        if self._has_begun(work):
            return eve
        ends = [link.before for link in work.after if link.kind in ("FS", "FF") and link.lag == 0]
        day = boundary - 1
        if work.activity.slip or not any(self.early_dates(other)[1] == eve for other in ends):
            while not works(work.calendar, day):
                day -= 1
        return max(date.fromordinal(day), self.network.start, self.network.data_on or self.network.start)
