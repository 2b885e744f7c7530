"""The stages in which a long-lead thing is paid for, and the money that is out before it is on site.

A stage is a share of the price or a fixed amount. What is fixed stands; the shares split the rest, so that the stages come
to the price exactly even after a change. Until the thing arrives, everything paid for it rests on its maker (ADR 0113).
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import lcm

from units.sharing import share_out


class StagesDoNotAddUp(ValueError):
    """The stages come to another sum than the price."""


@dataclass(frozen=True, slots=True)
class Stage:
    """One stage: a share of the price [%] or a fixed amount [minor units], one of the two."""

    name: str
    share: Decimal | None = None
    amount_minor: int | None = None


@dataclass(frozen=True, slots=True)
class Advance:
    """What was paid for a thing [minor units], and whether it is on site."""

    name: str
    paid_minor: int
    arrived: bool


def amounts(total_minor: int, stages: Sequence[Stage]) -> tuple[int, ...]:
    """Say what each stage comes to.

    Args:
        total_minor: the price [minor units], zero or above.
        stages: in the order they are paid; shares none below zero, together 100 % where no amount is fixed.
    Returns: one amount for each [minor units], in all `total_minor`; what is not fixed is split in proportion to the shares,
        by largest remainder.
    Raises: StagesDoNotAddUp; ValueError for a stage with both a share and an amount, or neither.
    Source: our rule, ADR 0113; sharing, ADR 0102.

    >>> amounts(15520000, [Stage("Deposit", Decimal(30)), Stage("Half-way", Decimal(30)), Stage("Delivery", Decimal(40))])
    (4656000, 4656000, 6208000)
    >>> amounts(100001, [Stage("Deposit", amount_minor=20000), Stage("A", Decimal(40)), Stage("B", Decimal(40))])
    (20000, 40001, 40000)
    """
    if any((stage.share is None) == (stage.amount_minor is None) for stage in stages):
        raise ValueError("a stage has a share or an amount, one of the two")
    fixed = sum(stage.amount_minor or 0 for stage in stages)
    parts = iter(_shared(total_minor - fixed, stages))
    return tuple(next(parts) if stage.amount_minor is None else stage.amount_minor for stage in stages)


def remaining(parts: Sequence[int], billed_minor: int) -> tuple[int, ...]:
    """Say what of each stage is still to be billed.

    Args:
        parts: what the stages come to [minor units], in the order they are paid, none below zero.
        billed_minor: billed so far [minor units]; it goes to the earlier stages first.
    Returns: one amount for each [minor units], zero or above; nothing where more was billed than all of them.
    Source: our rule, ADR 0113.

    >>> remaining([4656000, 4656000, 6208000], 5000000)
    (0, 4312000, 6208000)
    """
    left, found = max(0, billed_minor), []
    for part in parts:
        used = min(part, left)
        left -= used
        found.append(part - used)
    return tuple(found)


def exposure(paid_minor: int, *, arrived: bool) -> int:
    """Say what would be lost if the maker failed today.

    Args:
        paid_minor: paid for the thing [minor units].
        arrived: whether it is on site.
    Returns: [minor units], zero or above: all that is paid until it arrives, nothing after.
    Source: our rule, ADR 0113.

    >>> exposure(4656000, arrived=False), exposure(4656000, arrived=True)
    (4656000, 0)
    """
    return 0 if arrived else max(0, paid_minor)


def exposed(advances: Iterable[Advance]) -> int:
    """Add up what is paid for things that are not on site.

    Returns: [minor units], zero or above.
    Source: our rule, ADR 0113.

    >>> exposed([Advance("Shell", 4656000, False), Advance("Pump", 90000, True)])
    4656000
    """
    return sum(exposure(one.paid_minor, arrived=one.arrived) for one in advances)


def _shared(rest_minor: int, stages: Sequence[Stage]) -> tuple[int, ...]:
    """The parts of the stages that are shares."""
    shares = [stage.share for stage in stages if stage.share is not None]
    whole = sum(shares)
    short = len(shares) == len(stages) and whole != 100
    if rest_minor < 0 or short or any(share < 0 for share in shares) or (rest_minor and not whole):
        raise StagesDoNotAddUp("the stages do not add up to the price")
    if not whole:
        return (0,) * len(shares)
    ratios = [share.as_integer_ratio() for share in shares]
    scale = lcm(*(bottom for _, bottom in ratios))
    return share_out(rest_minor, [top * scale // bottom for top, bottom in ratios])
