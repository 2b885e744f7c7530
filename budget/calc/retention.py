"""Money held back until work is proved, what falls due for payment, and what being late costs.

Retention is a share of each payment that the vendor has earned and does not get yet: usually one half at practical
completion and the other after the defects period (ADR 0110). Payments are cumulative: each one is what was earned so
far, less what is held of it, less what was paid before. Local law and the agreement come before every rule here.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import lcm

from units.money import round_minor
from units.sharing import share_out

PRACTICAL_COMPLETION = "practical completion"
DEFECTS_END = "end of the defects period"
#: Length of the defects period: common practice, no source.
DEFECTS_MONTHS = 12
#: The most that a federal owner of the United States holds back [%]; guidance only, many states cap at 5. Source:
#: FAR 32.103 (never by itself, only for unsatisfactory progress).
GUIDANCE_GREATEST_PERCENT = 10

SATURDAY = 5


class TooMuchReleased(ValueError):
    """More was released than was ever held."""


class SharesNotWhole(ValueError):
    """The shares of some stages do not make a whole, or one is below zero."""


@dataclass(frozen=True, slots=True)
class Kept:
    """What was held of one invoice, and what was released of it since [minor units]."""

    held_minor: int
    released_minor: int = 0


@dataclass(frozen=True, slots=True)
class Stage:
    """A share of the retention [%] and the day it falls due, None where that day is not known."""

    name: str
    share: Decimal
    due_on: date | None = None


@dataclass(frozen=True, slots=True)
class Due:
    """What is still to be released at a stage [minor units]."""

    name: str
    amount_minor: int
    due_on: date | None


@dataclass(frozen=True, slots=True)
class Earned:
    """What was earned so far of one kind, such as work in place or stored materials, and what is held of it [%]."""

    kind: str
    amount_minor: int
    retention_percent: Decimal


@dataclass(frozen=True, slots=True)
class PaymentDue:
    """What is held, what is to be paid now, and what is then left to be paid in all [minor units]."""

    retained_minor: int
    due_minor: int
    balance_minor: int | None = None


def held(rows: Iterable[Kept]) -> int:
    """Add up what is still held back.

    Args:
        rows: what was held and released, invoice by invoice.
    Returns: [minor units].
    Raises: TooMuchReleased where one invoice gave back more than was held of it.

    >>> held([Kept(69500, 34750), Kept(109500)])
    144250
    """
    total = 0
    for row in rows:
        _check_released(row.held_minor, row.released_minor)
        total += row.held_minor - row.released_minor
    return total


def usual_stages(completion: date | None) -> tuple[Stage, ...]:
    """Give the stages that are usual where an agreement says nothing else.

    Args:
        completion: day of practical completion, None where it is not known.
    Returns: one half on that day, the other twelve months later.
    Source: common practice, no source.

    >>> [(stage.name, stage.due_on.isoformat()) for stage in usual_stages(date(2028, 2, 29))]
    [('practical completion', '2028-02-29'), ('end of the defects period', '2029-02-28')]
    """
    later = None if completion is None else months_after(completion, DEFECTS_MONTHS)
    return Stage(PRACTICAL_COMPLETION, Decimal(50), completion), Stage(DEFECTS_END, Decimal(50), later)


def months_after(day: date, months: int) -> date:
    """Give the same day some months later, or the last of a month that is too short.

    Args:
        day: any.
        months: [months], zero or above.
    Source: the usual way to count months.

    >>> months_after(date(2027, 8, 31), 6).isoformat()
    '2028-02-29'
    """
    years, month = divmod(day.month - 1 + months, 12)
    first = date(day.year + years, month + 1, 1)
    last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
    return first.replace(day=min(day.day, last.day))


def release_plan(held_minor: int, stages: Sequence[Stage], *, released_minor: int = 0) -> tuple[Due, ...]:
    """Say what of a retention falls due at each stage.

    Args:
        held_minor: all that was held [minor units], zero or above.
        stages: in the order they come; their shares add up to 100 %.
        released_minor: what was given back before [minor units], zero or above; it goes to the earlier stages first.
    Returns: one amount for each stage [minor units], zero or above, in all `held_minor` less `released_minor`.
    Raises: SharesNotWhole, TooMuchReleased.
    Source: our rule, ADR 0110; sharing, ADR 0102.

    >>> [due.amount_minor for due in release_plan(144251, usual_stages(None))]
    [72126, 72125]
    >>> [due.amount_minor for due in release_plan(144251, usual_stages(None), released_minor=80000)]
    [0, 64251]
    """
    _check_released(held_minor, released_minor)
    parts = share_out(held_minor, _weights([stage.share for stage in stages]))
    plan = []
    for stage, part in zip(stages, parts, strict=True):
        used = min(part, released_minor)
        released_minor -= used
        plan.append(Due(stage.name, part - used, stage.due_on))
    return tuple(plan)


def releasable(held_minor: int, stages: Sequence[Stage], *, released_minor: int, on: date) -> int:
    """Say how much of a retention may be given back on a day.

    Args:
        held_minor, stages, released_minor: as for `release_plan`.
        on: the day; a stage without a date is not due.
    Returns: [minor units], zero or above.
    Raises: as `release_plan`.
    Source: our rule, ADR 0110.

    >>> releasable(144251, usual_stages(date(2027, 5, 28)), released_minor=0, on=date(2027, 6, 1))
    72126
    """
    plan = release_plan(held_minor, stages, released_minor=released_minor)
    return sum(due.amount_minor for due in plan if due.due_on is not None and due.due_on <= on)


def payment_due(
    earned: Iterable[Earned], *, previously_paid_minor: int, withheld_minor: int = 0, contract_minor: int | None = None
) -> PaymentDue:
    """Work out a progress payment from what was earned so far.

    Args:
        earned: by kind, all since the beginning [minor units].
        previously_paid_minor: all that was paid before [minor units].
        withheld_minor: kept for another reason, such as work to be put right [minor units], zero or above.
        contract_minor: what the whole comes to [minor units], where the balance is wanted.
    Returns: held back, due and balance [minor units]; each kind's retention rounded on its own. A due below zero was
        paid too early.
    Source: our rule, ADR 0110; common practice, no source.

    >>> work, stored = Earned("work", 42000, Decimal(10)), Earned("stored materials", 8000, Decimal(5))
    >>> payment_due([work, stored], previously_paid_minor=25000)
    PaymentDue(retained_minor=4600, due_minor=20400, balance_minor=None)
    """
    rows = list(earned)
    retained = sum(round_minor(Fraction(row.retention_percent) * row.amount_minor / 100) for row in rows)
    due = sum(row.amount_minor for row in rows) - retained - previously_paid_minor - withheld_minor
    balance = None if contract_minor is None else contract_minor - previously_paid_minor - due
    return PaymentDue(retained, due, balance)


def due_on(received: date, days: int, closed: frozenset[date] = frozenset()) -> date:
    """Give the day a payment falls due.

    Args:
        received: day the invoice came.
        days: term of payment [calendar days], zero or above.
        closed: days on which no bank pays, beside Saturdays and Sundays.
    Returns: the day after the term, or the next one on which banks pay.
    Source: calendar days as FAR 52.232-27; the roll forward from memory.

    >>> due_on(date(2026, 6, 20), days=14, closed=frozenset({date(2026, 7, 3)})).isoformat()
    '2026-07-06'
    """
    day = received + timedelta(days=days)
    while day.weekday() >= SATURDAY or day in closed:
        day += timedelta(days=1)
    return day


def late_interest(principal_minor: int, rate: Decimal, days: int, basis: int = 365) -> int:
    """Work out simple interest on a late payment.

    Args:
        principal_minor: what is late [minor units].
        rate: of a year [fraction of one], zero or above.
        days: late [calendar days], zero or above.
        basis: days of a year by convention [days], 365 or 360.
    Returns: [minor units], rounded once.
    Source: simple interest; the 360 days are from memory of 5 CFR 1315. Local law sets rate and basis.

    >>> late_interest(1000000, Decimal("0.04875"), days=30, basis=360)
    4063
    """
    return round_minor(Fraction(rate) * principal_minor * days / basis)


def delay_damages(rate_minor: int, days: int, cap_minor: int | None = None) -> int:
    """Work out what a late finish costs whoever promised it.

    Args:
        rate_minor: of one day [minor units], zero or above.
        days: late [calendar days]; early days earn nothing.
        cap_minor: the most that was agreed [minor units], or None.
    Returns: [minor units], zero or above.
    Source: rate times days up to a cap; from memory of the idea of FAR 52.211-12.

    >>> delay_damages(45000, days=12), delay_damages(45000, days=12, cap_minor=500000)
    (540000, 500000)
    """
    whole = rate_minor * max(0, days)
    return whole if cap_minor is None else min(whole, cap_minor)


def _check_released(held_minor: int, released_minor: int) -> None:
    if released_minor > held_minor:
        raise TooMuchReleased(f"{released_minor} released of {held_minor} held")


def _weights(shares: Sequence[Decimal]) -> list[int]:
    if sum(shares) != 100 or any(share < 0 for share in shares):
        raise SharesNotWhole("the shares of the stages add up to 100 %, none below zero")
    ratios = [share.as_integer_ratio() for share in shares]
    whole = lcm(*(bottom for _, bottom in ratios))
    return [top * whole // bottom for top, bottom in ratios]
