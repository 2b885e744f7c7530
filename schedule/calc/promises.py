"""What became of the week's promises, and how early it was seen what stood in their way.

Two shares belong together: of the promises made, how many were kept; and of what was needed, how much was there by its day.
One can keep every promise and still fall behind, when too little is made ready to be promised.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_EVEN, Decimal

from units.days import monday

#: What is raised fewer days than this before it is needed is raised late [calendar days]. Our choice, a week.
EARLY = 7


@dataclass(frozen=True, slots=True)
class Raised:
    """One thing that was needed: by when, when that was said, when the work it is for begins, when it was there."""

    by_on: date
    raised_on: date
    start_on: date | None
    cleared_on: date | None = None


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many."""

    part: int
    whole: int

    @property
    def of_one(self) -> Decimal | None:
        return share(self.part, self.whole)


@dataclass(frozen=True, slots=True)
class Early:
    """How many days before the start needs were raised: each in order, the middle one, and how many came late."""

    days: tuple[int, ...]
    late: Share

    @property
    def middle(self) -> int | None:
        """The middle number of days; of an even number the lower of the two in the middle."""
        return self.days[(len(self.days) - 1) // 2] if self.days else None


def share(part: int, whole: int) -> Decimal | None:
    """A part of a whole, as a fraction of one in thousandths; None of nothing.

    Source: rounded half to even, as the figures of the common weekly plan are (13 of 16 is 81.2 %).

    >>> share(10, 14), share(13, 16), share(0, 0)
    (Decimal('0.714'), Decimal('0.812'), None)
    """
    return (Decimal(part) / whole).quantize(Decimal("0.001"), ROUND_HALF_EVEN) if whole else None


def made_ready(needs: Iterable[Raised], first: date, last: date) -> Share:
    """Of what was needed in a span of days, how much was there on its day.

    Args:
        first, last: both ends belong to the span; a need falls in it by its own day.
    Source: our rule: a need cleared on its day or before counts, one cleared later does not.
    """
    due = [need for need in needs if first <= need.by_on <= last]
    return Share(sum(1 for need in due if need.cleared_on is not None and need.cleared_on <= need.by_on), len(due))


def how_early(needs: Iterable[Raised], *, least: int = EARLY) -> Early:
    """Tell how long before the work begins its needs were raised.

    Args:
        needs: those of work without a start are left out.
        least: raised fewer days before than this is late.

    >>> start = date(2027, 2, 15)
    >>> found = how_early([Raised(start, date(2027, 2, day), start) for day in (1, 10, 12)])
    >>> found.days, found.middle, found.late
    ((3, 5, 14), 5, Share(part=2, whole=3))
    """
    days = tuple(sorted((need.start_on - need.raised_on).days for need in needs if need.start_on is not None))
    return Early(days, Share(sum(1 for one in days if one < least), len(days)))


def counted(causes: Iterable[str]) -> tuple[tuple[str, int], ...]:
    """Count causes, the most frequent first, equal ones by their words.

    >>> counted(["crew", "weather", "crew"])
    (('crew', 2), ('weather', 1))
    """
    return tuple(sorted(Counter(causes).items(), key=lambda one: (-one[1], one[0])))


def last_weeks(this: date, number: int) -> Sequence[date]:
    """The Mondays of so many weeks up to and with the week of a day, the oldest first.

    >>> last_weeks(date(2027, 1, 29), 2)
    [datetime.date(2027, 1, 18), datetime.date(2027, 1, 25)]
    """
    return [monday(this) - timedelta(weeks=back) for back in reversed(range(number))]
