"""Working calendars: which days are worked, and counting along them.

A calendar is a set of weekdays, less the public holidays of a region, less closures, plus single days that are worked all
the same. Days are numbered by `date.toordinal`. Counting goes through tables (day to index of a working day and back), so
that nothing walks from day to day; a table grows by whole years when somebody asks past its end (ADR 0401).
"""

import re
from bisect import bisect_left
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

#: The first and the last year a calendar is laid out for. Public holidays end earlier, where the library's rules do.
FIRST_YEAR, LAST_YEAR = 1800, 2500
EVERY_WEEKDAY = frozenset(range(1, 8))
Span = tuple[date, date]
#: Countries whose holidays the library knows for fewer years than its rules reach, as it warns itself.
_ENDS_EARLIER = {"IN": 2035}
#: ISO 3166: a country, or a part of one after a hyphen.
_CODE = re.compile(r"[A-Z]{2}(-[A-Z0-9]{1,3})?")


class NoSuchRegion(ValueError):
    """Nobody knows public holidays of this region."""


class NoSuchCalendar(ValueError):
    """A calendar cannot be used: what is wrong with it, by its name, and the mend."""


@dataclass(frozen=True, slots=True)
class Calendar:
    """Which days are worked.

    `weekdays` are 1 Monday to 7 Sunday; `region` is "US", "GB", "GB-SCT" …, whose public holidays are not worked, as observed;
    `closed` are spans of days, both ends included; `worked` are days that are worked whatever the rest says.
    """

    name: str = ""
    weekdays: frozenset[int] = EVERY_WEEKDAY
    region: str = ""
    closed: tuple[Span, ...] = ()
    worked: tuple[date, ...] = ()

    @property
    def label(self) -> str:
        return f'the calendar "{self.name}"' if self.name else "the calendar without a name"


EVERY_DAY = Calendar()


def alike(one: Calendar, other: Calendar) -> bool:
    """Tell whether two calendars have the same rules, whatever they are called."""
    return _rules(one) == _rules(other)


def _rules(calendar: Calendar) -> tuple[object, ...]:
    return calendar.weekdays, calendar.region, frozenset(calendar.closed), frozenset(calendar.worked)


def check(calendar: Calendar) -> None:
    """Refuse a calendar on which nothing can ever be worked, or whose region is not known.

    Raises: NoSuchCalendar.
    """
    if not calendar.weekdays or not calendar.weekdays <= EVERY_WEEKDAY:
        raise NoSuchCalendar(f"{calendar.label} has no working day; give weekdays from 1 for Monday to 7 for Sunday")
    for first, last in calendar.closed:
        if last < first:
            raise NoSuchCalendar(f"{calendar.label} has a closure that ends on {last}, before it starts on {first}")
    last_year(calendar)


def knows_region(region: str) -> bool:
    """Tell whether public holidays are known for a country or a part of one.

    >>> knows_region("GB-SCT"), knows_region("ZZ")
    (True, False)
    """
    try:
        _rules_of(region, None)
    except NoSuchRegion:
        return False
    return True


def last_year(calendar: Calendar) -> int:
    """The last year that a calendar is known for. Raises: NoSuchCalendar, for a region that is not known."""
    return min(LAST_YEAR, _last_holidays(calendar.region, calendar.label)) if calendar.region else LAST_YEAR


@lru_cache(maxsize=256)
def _last_holidays(region: str, label: str) -> int:
    try:
        return min(_ENDS_EARLIER.get(region[:2], LAST_YEAR), int(_rules_of(region, None).end_year))
    except NoSuchRegion:
        mend = 'give a country such as "US" or "GB", or a part of one such as "GB-SCT"'
        raise NoSuchCalendar(f'{label}: public holidays of "{region[:20]}" are not known; {mend}') from None


def _rules_of(region: str, year: int | None) -> Any:
    """What the library knows of a region. It is loaded when first asked for, for most calendars name no region.

    Raises: NoSuchRegion.
    """
    import holidays

    if not _CODE.fullmatch(region):  # the library knows its own names too, which are no regions
        raise NoSuchRegion(region)
    country, _, part = region.partition("-")
    try:
        return holidays.country_holidays(country, subdiv=part or None, years=year)
    except NotImplementedError:  # the library's word for a place that it does not know
        raise NoSuchRegion(region) from None


@lru_cache(maxsize=4096)
def public_holidays(region: str, year: int) -> frozenset[date]:
    """The public holidays of a region in one year, on the days they are observed.

    Args:
        region: a country by ISO 3166, or a part of one after a hyphen.
    Source: the `holidays` library; for the United States 5 U.S.C. 6103 and Executive Order 11582.

    >>> date(2026, 7, 3) in public_holidays("US", 2026)
    True
    """
    return frozenset(day for day in _rules_of(region, year) if day.year == year)


@lru_cache(maxsize=16384)
def _year(calendar: Calendar, year: int) -> tuple[int, ...]:
    """The working days of a year, as ordinals."""
    first, last = date(year, 1, 1).toordinal(), date(year, 12, 31).toordinal()
    off = _closed(calendar, first, last)
    if calendar.region:
        off |= {day.toordinal() for day in public_holidays(calendar.region, year)}
    days = {day for day in range(first, last + 1) if (day + 6) % 7 + 1 in calendar.weekdays}
    extra = {day.toordinal() for day in calendar.worked if day.year == year}
    return tuple(sorted((days - off) | extra))


def _closed(calendar: Calendar, first: int, last: int) -> set[int]:
    found: set[int] = set()
    for start, end in calendar.closed:
        found.update(range(max(first, start.toordinal()), min(last, end.toordinal()) + 1))
    return found


class TooFar(ValueError):
    """A date runs past the years a calendar is laid out for. `calendar` is the one, `year` its last (or first) year."""

    def __init__(self, calendar: Calendar, year: int, *, empty: bool = False) -> None:
        of = f"public holidays of {calendar.region} are known" if calendar.region else "calendars are laid out"
        reach = f"from {FIRST_YEAR}" if year <= FIRST_YEAR else f"to {year}"
        self.calendar, self.year = calendar, year
        super().__init__(f"{calendar.label} has no working day" if empty else f"{of} {reach} only")


class Table:
    """A calendar laid out: `days[i]` is the working day of index i, `ceil[n]` the index of the first one on or after day n.

    Days are counted from `base` [ordinal]. Both lists grow in place, so that whoever holds them sees more, never other, days.
    """

    __slots__ = ("base", "calendar", "ceil", "days", "next_year")

    def __init__(self, calendar: Calendar, base: int) -> None:
        if base < date(FIRST_YEAR, 1, 1).toordinal():
            raise TooFar(calendar, FIRST_YEAR)
        self.calendar, self.base = calendar, base
        self.days: list[int] = []
        self.ceil: list[int] = []
        self.next_year = date.fromordinal(base).year

    def grow(self, years: int = 1) -> None:
        """Lay out some more years. Raises: TooFar, when there are no more."""
        last = last_year(self.calendar)
        if self.next_year > last:
            raise TooFar(self.calendar, last, empty=not self.days)
        until = min(self.next_year + years - 1, last)
        for year in range(self.next_year, until + 1):
            self._add(_year(self.calendar, year))
        self.next_year = until + 1

    def _add(self, ordinals: Iterable[int]) -> None:
        count, reached = len(self.days), len(self.ceil)
        fresh = [day - self.base for day in ordinals if day >= self.base]
        for place, day in enumerate(fresh):
            self.ceil.extend([count + place] * (day + 1 - reached))
            reached = day + 1
        self.days.extend(fresh)

    def double(self) -> None:
        """Lay out as many more years as there are already."""
        self.grow(self.next_year - date.fromordinal(self.base).year)

    def reach(self, day: int) -> None:
        """Lay out as far as a day [ordinal] and the first working day after it."""
        while len(self.ceil) <= day + 1 - self.base:
            self.grow()

    def last_before(self, day: int) -> int:
        """The last working day before a day [both ordinals]."""
        index = self.index(day)
        if index:
            return self.base + self.days[index - 1]
        return on_or_before(self.calendar, date.fromordinal(day - 1)).toordinal()

    def index(self, day: int) -> int:
        """The index of the first working day on or after a day [ordinal]."""
        self.reach(day)
        return self.ceil[day - self.base]


def table(calendar: Calendar, first: date, last: date) -> Table:
    """Lay a calendar out from one day to another at least.

    Raises: NoSuchCalendar, and TooFar where it has no working day after `last`.

    >>> laid = table(Calendar("crew", frozenset({1, 2, 3, 4, 5})), date(2026, 11, 23), date(2026, 12, 31))
    >>> laid.days[:6], laid.ceil[:8]
    ([0, 1, 2, 3, 4, 7], [0, 1, 2, 3, 4, 5, 5, 5])
    """
    check(calendar)
    laid = Table(calendar, first.toordinal())
    laid.grow(max(1, last.year - first.year + 1))
    laid.reach(last.toordinal())
    return laid


def is_worked(calendar: Calendar, day: date) -> bool:
    """Tell whether a day is worked.

    >>> is_worked(Calendar("crew", frozenset({1, 2, 3, 4, 5}), "US"), date(2026, 7, 3))
    False
    """
    days = _year(calendar, day.year)
    place = bisect_left(days, day.toordinal())
    return place < len(days) and days[place] == day.toordinal()


def on_or_after(calendar: Calendar, day: date) -> date:
    """The first working day on or after a day. Raises: NoSuchCalendar, TooFar."""
    return step(calendar, day, 0)


def on_or_before(calendar: Calendar, day: date) -> date:
    """The last working day on or before a day. Raises: NoSuchCalendar, TooFar.

    >>> on_or_before(Calendar("crew", frozenset({1, 2, 3, 4, 5}), "US"), date(2026, 7, 4))
    datetime.date(2026, 7, 2)
    """
    return day if is_worked(calendar, day) else step(calendar, day, -1)


def step(calendar: Calendar, day: date, days: int) -> date:
    """Go some working days on from the first working day on or after a day; back where `days` is below zero.

    Args:
        days: how many [working days]; 0 gives the first working day on or after `day`.
    Raises: NoSuchCalendar, TooFar.
    Source: our rule, ADR 0401; the same as a business-day offset that rolls forward.

    >>> step(Calendar("crew", frozenset({1, 2, 3, 4, 5})), date(2026, 7, 4), 1)
    datetime.date(2026, 7, 7)
    """
    check(calendar)
    year, last = day.year, last_year(calendar)
    left = days + bisect_left(_year(calendar, year), day.toordinal())
    while left < 0:
        year -= 1
        if year < FIRST_YEAR:
            raise TooFar(calendar, FIRST_YEAR)
        left += len(_year(calendar, year))
    while left >= len(found := _year(calendar, year)):
        left -= len(found)
        year += 1
        if year > last:
            raise TooFar(calendar, last)
    return date.fromordinal(found[left])


def count(calendar: Calendar, first: date, after: date) -> int:
    """Count the working days from a day up to, and without, another; below zero where the other lies before.

    >>> crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}))
    >>> count(crew, date(2011, 1, 1), date(2011, 2, 1)), count(crew, date(2011, 2, 7), date(2011, 1, 31))
    (21, -5)
    """
    if after < first:
        return -count(calendar, after, first)
    years = [_year(calendar, year) for year in range(first.year, after.year + 1)]
    return (
        sum(map(len, years[:-1])) + bisect_left(years[-1], after.toordinal()) - bisect_left(years[0], first.toordinal())
    )
