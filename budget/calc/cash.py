"""When money goes out, and whether it is there by then.

Every amount that is still to be paid has a name, a kind and, where it is known, a day. What has no day yet is spread
evenly over the days of its work where those are known (ADR 0407), else over the days until the opening; retention without
a day falls on the last of them, and what is overdue falls into the first month: nothing is left out, and the months add
up to the minor unit (ADR 0112).
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate, pairwise
from typing import Literal

from units.days import monday
from units.money import round_minor
from units.sharing import share_out

Kind = Literal["invoice", "stage", "retention", "rest"]
#: The first and the last day of some work.
Span = tuple[date, date]
#: The kinds in the order they are shown.
KINDS: tuple[Kind, ...] = ("invoice", "stage", "retention", "rest")
RETENTION = "retention"


class ReleasedTooSoon(ValueError):
    """Retention was to be released before the last payment it is held of."""


@dataclass(frozen=True, slots=True)
class Planned:
    """An amount that is still to be paid [minor units], and its day where that is known; below zero for a credit.

    `during` are the spans of the work it pays for, for an amount without a day.
    """

    name: str
    kind: Kind
    amount_minor: int
    on: date | None = None
    line: str = ""
    during: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Month:
    """What goes out in a month, by kind and in all, and with all the months before it [minor units]."""

    first: date
    amounts: dict[str, int] = field(default_factory=dict)
    total_minor: int = 0
    cumulative_minor: int = 0


@dataclass(frozen=True, slots=True)
class Week:
    """What falls due in a week that begins on a Monday, earliest first, and in all [minor units]."""

    first: date
    items: tuple[Planned, ...]
    total_minor: int


@dataclass(frozen=True, slots=True)
class Source:
    """Money promised to a project, and what of it has come in [minor units]."""

    name: str
    amount_minor: int
    received_minor: int = 0


@dataclass(frozen=True, slots=True)
class Funds:
    """Promised money that has not come in, money in hand, and room left when all is paid [minor units]."""

    undrawn_minor: int
    in_hand_minor: int
    room_minor: int


def by_month(planned: Iterable[Planned], *, start: date, end: date) -> tuple[Month, ...]:
    """Lay out what is still to be paid month by month.

    Args:
        planned: amounts still to be paid, in any order.
        start: today; what is due before falls into this month.
        end: the opening, or another day until which what has no day is spread; taken as `start` where it is before.
    Returns: each month from `start` to `end`, and those after it in which something falls due; in all exactly the sum
        of `planned`. Days of a span that have passed take no part; a span that has passed wholly counts as `start`.
    Source: our rule, ADR 0112 and 0407; sharing, ADR 0102.

    >>> rest = Planned("Slab", "rest", 60000)
    >>> [month.total_minor for month in by_month([rest], start=date(2027, 1, 22), end=date(2027, 2, 20))]
    [20000, 40000]
    """
    end = max(start, end)
    found: dict[date, dict[str, int]] = {first: {} for first in _months(start, end)}
    for item in planned:
        for first, amount in _laid_out(item, start, end):
            amounts = found.setdefault(first, {})
            amounts[item.kind] = amounts.get(item.kind, 0) + amount
    totals = {first: sum(found[first].values()) for first in sorted(found)}
    sums = accumulate(totals.values())
    return tuple(Month(first, found[first], totals[first], whole) for first, whole in zip(totals, sums, strict=True))


def next_weeks(planned: Iterable[Planned], *, today: date, weeks: int = 8) -> tuple[Week, ...]:
    """Name what falls due in the next weeks.

    Args:
        planned: amounts still to be paid, in any order; those without a day are left out.
        today: its week is the first; what is overdue falls into it.
        weeks: how many [weeks], one or more.
    Returns: every week, empty ones too.
    Source: our rule, ADR 0112; weeks as ISO 8601.

    >>> bill = Planned("Quarry", "invoice", 25000, date(2027, 2, 3))
    >>> [(week.first.isoformat(), week.total_minor) for week in next_weeks([bill], today=date(2027, 1, 29), weeks=2)]
    [('2027-01-25', 0), ('2027-02-01', 25000)]
    """
    first = monday(today)
    rows: list[list[Planned]] = [[] for _ in range(weeks)]
    for item in sorted((one for one in planned if one.on is not None), key=_by_day):
        place = max(0, (item.on - first).days // 7) if item.on is not None else weeks
        if place < weeks:
            rows[place].append(item)
    return tuple(
        Week(first + timedelta(weeks=place), tuple(row), sum(item.amount_minor for item in row))
        for place, row in enumerate(rows)
    )


def funds(sources: Iterable[Source], *, cost_to_complete_minor: int, paid_minor: int) -> Funds:
    """Hold the money promised against what is paid and still to be paid.

    Args:
        sources: money promised, and received of it.
        cost_to_complete_minor: still to be paid until the end [minor units].
        paid_minor: paid so far [minor units].
    Returns: [minor units]; a source that gave more than it promised counts with what it gave. A room below zero is
        money that nobody has promised.
    Source: our rule, ADR 0112; cost to complete against undrawn funds is what a lender's monitor asks for, common practice.

    >>> funds([Source("Shares", 69000, 69000), Source("Loan", 50000)], cost_to_complete_minor=70000, paid_minor=45000)
    Funds(undrawn_minor=50000, in_hand_minor=24000, room_minor=4000)
    """
    rows = list(sources)
    received = sum(source.received_minor for source in rows)
    undrawn = sum(max(0, source.amount_minor - source.received_minor) for source in rows)
    in_hand = received - paid_minor
    return Funds(undrawn, in_hand, in_hand + undrawn - cost_to_complete_minor)


def short_from(months: Iterable[Month], in_hand_minor: int) -> Month | None:
    """Find the first month by whose end more has to be paid than is in hand.

    Args:
        months: as `by_month` gives them.
        in_hand_minor: money in hand at the start [minor units].
    Returns: that month, or None where what is in hand lasts.
    Source: our rule, ADR 0112.

    >>> months = by_month([Planned("Bill", "invoice", 500)], start=date(2027, 1, 1), end=date(2027, 1, 1))
    >>> short_from(months, 500), short_from(months, 499).first.isoformat()
    (None, '2027-01-01')
    """
    return next((month for month in months if month.cumulative_minor > in_hand_minor), None)


def peak_month(amounts: Sequence[int]) -> int | None:
    """Find where most goes out at once.

    Args:
        amounts: month by month [minor units].
    Returns: the place of the largest, counted from 0, of equals the first; None where there is none.

    >>> peak_month([0, 18000, 27000, 9000])
    2
    """
    return max(range(len(amounts)), key=lambda place: amounts[place], default=None)


def outflow(
    earned: Sequence[int], *, retention_percent: Decimal, lag_months: int, release_month: int
) -> tuple[int, ...]:
    """Turn what is earned month by month into what goes out.

    Args:
        earned: month by month [minor units].
        retention_percent: held of each [%], 0 to 100.
        lag_months: from earning to paying [months], zero or above.
        release_month: the month in which all that was held goes out, counted from 0.
    Returns: month by month [minor units], in all the sum of `earned`; each month's retention rounded by itself.
    Raises: ReleasedTooSoon where the release comes before the last payment.
    Source: common practice, no source.

    >>> outflow([20000, 30000, 10000], retention_percent=Decimal(10), lag_months=1, release_month=5)
    (0, 18000, 27000, 9000, 0, 6000)
    """
    if release_month < len(earned) + lag_months - 1:
        raise ReleasedTooSoon("retention is released with the last payment or after it")
    held = [round_minor(Fraction(retention_percent) * amount / 100) for amount in earned]
    flow = [0] * (release_month + 1)
    for place, (amount, kept) in enumerate(zip(earned, held, strict=True), start=lag_months):
        flow[place] += amount - kept
    flow[release_month] += sum(held)
    return tuple(flow)


def _by_day(item: Planned) -> tuple[date, str]:
    return item.on or date.max, item.name


def _months(start: date, end: date) -> Iterator[date]:
    """The first day of each month from one day to another."""
    first = start.replace(day=1)
    while first <= end:
        yield first
        first = (first + timedelta(days=31)).replace(day=1)


def _laid_out(item: Planned, start: date, end: date) -> Iterable[tuple[date, int]]:
    """The months an amount falls into, each with its part."""
    day = end if item.on is None and item.kind == RETENTION else item.on
    if day is not None:
        return [(max(start, day).replace(day=1), item.amount_minor)]
    days: dict[date, int] = {}
    for first, last in item.during or [(start, end)]:
        for month, count in _days_by_month(max(start, first), max(start, first, last)):
            days[month] = days.get(month, 0) + count
    firsts = sorted(days)
    return zip(firsts, share_out(item.amount_minor, [days[first] for first in firsts]), strict=True)


def _days_by_month(first: date, last: date) -> Iterable[tuple[date, int]]:
    """Each month from one day to another, with how many of its days lie between, both ends counted."""
    firsts = list(_months(first, last))
    edges = [first, *firsts[1:], last + timedelta(days=1)]
    return [(month, (after - edge).days) for month, (edge, after) in zip(firsts, pairwise(edges), strict=True)]
