"""Who leads among the options of a decision, by how much, and which of its inputs is nearest to changing that."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Entrant:
    """An option as the ranking sees it; `barred` when it fails a must-pass check."""

    key: str
    total_minor: int
    barred: bool = False


@dataclass(frozen=True, slots=True)
class Ranking:
    """`margin_minor` is how much dearer the next one is; `barred_cheaper` would win if it did not fail a check."""

    best: str | None
    next: str | None
    margin_minor: int | None
    barred_cheaper: str | None


def rank(entrants: Sequence[Entrant]) -> Ranking:
    """Find the option with the lowest expected total that is not barred, and the one after it.

    Args:
        entrants: in the order of the page; totals in minor units, any sign.
    Returns: ties go to the earlier; None where there is no such option.
    Source: our rule, ADR 0107.

    >>> rank([Entrant("A", 900), Entrant("B", 700), Entrant("C", 600, barred=True)])
    Ranking(best='B', next='A', margin_minor=200, barred_cheaper='C')
    """
    free = sorted((row for row in entrants if not row.barred), key=lambda row: row.total_minor)
    best = free[0] if free else None
    second = free[1] if len(free) > 1 else None
    barred = min((row for row in entrants if row.barred), key=lambda row: row.total_minor, default=None)
    cheaper = barred is not None and best is not None and barred.total_minor < best.total_minor
    return Ranking(
        best=best.key if best else None,
        next=second.key if second else None,
        margin_minor=second.total_minor - best.total_minor if best and second else None,
        barred_cheaper=barred.key if barred and cheaper else None,
    )


def nearness(now: int | Decimal, flips_at: int | Decimal) -> Fraction:
    """Say how far an input is from the value at which the answer changes, so that the nearest comes first.

    Returns: 0 where they are equal, up to 2 where they lie far apart on either side of zero [-].
    Source: our rule: the step over the larger of the two sizes.

    >>> nearness(1900, 5070), nearness(Decimal("0.15"), Decimal("0.15"))
    (Fraction(317, 507), Fraction(0, 1))
    """
    step = abs(Fraction(flips_at) - Fraction(now))
    return step / max(abs(Fraction(now)), abs(Fraction(flips_at))) if step else Fraction(0)
