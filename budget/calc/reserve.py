"""Whether the contingency is enough: open risks, how far lines without a firm price may still go, and the cover.

What is left of the contingency is held against what it may have to pay for: each open risk at its chance, with the
days it would cost, and the spread of the lines whose price nobody is bound to (ADR 0111). Sums of uncertain lines are
given by their mean and standard deviation, worked out exactly and rounded once at the door.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from math import prod
from statistics import NormalDist
from typing import Literal

from units.money import round_minor

Signal = Literal["well", "amber", "red"]

OWNERS_WISH = "owner's wish"
#: Left over open below which the contingency is amber, and red.
AMBER_UNDER = Fraction(3, 2)
RED_UNDER = Fraction(1)
#: What a line that nobody has quoted is taken to spread by [% of its likely final]: a starting value within the 20 to
#: 30 % that are usual; common practice, no source.
UNQUOTED_PERCENT = 25

_WIDE = Context(prec=60)


@dataclass(frozen=True, slots=True)
class RiskFact:
    """Something that may happen: its chance [0 to 1], what it would cost [minor units] and the days it would take."""

    code: str
    chance: Decimal
    cost_minor: int
    days: int = 0


@dataclass(frozen=True, slots=True)
class Register:
    """Some independent risks taken together: mean, standard deviation and worst case [minor units], chance of none [-]."""

    expected_minor: int
    deviation_minor: int
    none_chance: Decimal
    worst_minor: int


@dataclass(frozen=True, slots=True)
class Triangle:
    """A cost of which the least, the likeliest and the most are known [minor units]."""

    low_minor: int
    likely_minor: int
    high_minor: int


@dataclass(frozen=True, slots=True)
class Total:
    """A sum of uncertain costs: its mean and standard deviation [minor units]."""

    mean_minor: int
    deviation_minor: int


@dataclass(frozen=True, slots=True)
class Unpriced:
    """A line's likely final and its highest complete quote, if any [minor units]; `firm` where a price binds a vendor."""

    line: str
    likely_minor: int
    highest_minor: int | None = None
    firm: bool = False


@dataclass(frozen=True, slots=True)
class Cover:
    """How often what is left covers what is open: two decimals, cut; None where nothing is open."""

    ratio: Decimal | None
    signal: Signal


def expected_minor(risk: RiskFact, cost_of_day_minor: int = 0) -> int:
    """Give what a risk costs on average.

    Args:
        risk: its chance, cost and days.
        cost_of_day_minor: one day of later opening [minor units], zero or above.
    Returns: chance × (cost + days × cost of a day) [minor units], rounded by itself.
    Source: our rule, ADR 0111.

    >>> expected_minor(RiskFact("R01", Decimal("0.04"), 2400000, days=9), 90000)
    128400
    """
    return round_minor(Fraction(risk.chance) * _impact(risk, cost_of_day_minor))


def register(risks: Iterable[RiskFact], cost_of_day_minor: int = 0) -> Register:
    """Take several independent risks together.

    Args:
        risks: any number.
        cost_of_day_minor: one day of later opening [minor units].
    Returns: the sum of what each costs on average, the standard deviation, the chance that none happens [-, six
        decimals], and what all of them together would cost. The days of a risk are priced in full, as if no float were left.
    Source: standard probability, from memory: variance is the sum of p(1 − p)I².

    >>> register([RiskFact("A", Decimal("0.3"), 2000000), RiskFact("B", Decimal("0.1"), 5000000)])
    Register(expected_minor=1100000, deviation_minor=1757840, none_chance=Decimal('0.630000'), worst_minor=7000000)
    """
    rows = [(Fraction(risk.chance), _impact(risk, cost_of_day_minor), risk) for risk in risks]
    none = prod((1 - chance for chance, _, _ in rows), start=Fraction(1))
    return Register(
        expected_minor=sum(expected_minor(risk, cost_of_day_minor) for _, _, risk in rows),
        deviation_minor=round_minor(_root(sum(chance * (1 - chance) * cost**2 for chance, cost, _ in rows))),
        none_chance=Decimal(round_minor(none * 10**6)).scaleb(-6),
        worst_minor=sum(cost for _, cost, _ in rows),
    )


def deviation(cost: Triangle) -> Decimal:
    """Give the standard deviation of a triangular cost.

    Args:
        cost: least, likeliest and most, in that order.
    Returns: [minor units], not rounded to whole ones.
    Source: standard probability, from memory: variance is (a² + m² + b² − am − ab − mb) / 18.

    >>> deviation(Triangle(0, 3, 6)) ** 2 == Decimal("1.5")
    True
    """
    a, m, b = cost.low_minor, cost.likely_minor, cost.high_minor
    return _root(Fraction(a * a + m * m + b * b - a * m - a * b - m * b, 18))


def deviation_of_sum(deviations: Sequence[Decimal], correlation: Decimal = Decimal(0)) -> Decimal:
    """Give the standard deviation of a sum whose terms move together to one degree.

    Args:
        deviations: of the terms [any unit], zero or above.
        correlation: between every two of them [-], 0 for none to 1 for all as one.
    Returns: [the same unit].
    Source: standard probability, from memory: variance is Σ s² + 2ρ Σ s·t over the pairs.

    >>> deviation_of_sum([Decimal(10), Decimal(20), Decimal(30)], Decimal(1)) == 60
    True
    """
    exact = [Fraction(one) for one in deviations]
    apart, together = sum(one**2 for one in exact), sum(exact) ** 2
    return _root(apart + Fraction(correlation) * (together - apart))


def total(costs: Sequence[Triangle], correlation: Decimal = Decimal(0)) -> Total:
    """Add up costs that are known by their least, likeliest and most.

    Args:
        costs: any number.
        correlation: between every two of them [-], 0 to 1.
    Returns: mean and standard deviation of the sum [minor units], each rounded once.
    Source: standard probability, from memory: the mean of a triangle is (a + m + b) / 3.

    >>> total([Triangle(900000, 1000000, 1400000), Triangle(400000, 500000, 550000)])
    Total(mean_minor=1583333, deviation_minor=112423)
    """
    mean = Fraction(sum(cost.low_minor + cost.likely_minor + cost.high_minor for cost in costs), 3)
    spread = deviation_of_sum([deviation(cost) for cost in costs], correlation)
    return Total(round_minor(mean), round_minor(spread))


def at_confidence(mean_minor: int, deviation_minor: int, base_minor: int, confidence: Decimal) -> int:
    """Say how much contingency makes a budget enough with a stated confidence.

    Args:
        mean_minor, deviation_minor: of the whole cost, taken as normal [minor units].
        base_minor: the budget without contingency [minor units].
        confidence: between 0 and 1, both excluded [-].
    Returns: [minor units], rounded; below zero where the base is more than enough.
    Raises: ValueError for a confidence of 0 or 1.
    Source: from memory: the quantile of the total less the base estimate.

    >>> at_confidence(10000000, 1000000, 9800000, Decimal("0.8"))
    1041621
    """
    if not 0 < confidence < 1:
        raise ValueError("a confidence lies between 0 and 1")
    quantile = Fraction(NormalDist().inv_cdf(float(confidence)))
    return round_minor(mean_minor + quantile * deviation_minor - base_minor)


def spread_of(line: Unpriced) -> int:
    """Say how far a line may still go above its likely final because no price binds anybody.

    Args:
        line: its likely final and highest complete quote.
    Returns: [minor units], zero or above: nothing with a firm price; up to the highest complete quote; a quarter of the
        likely final where there is none.
    Source: our rule, ADR 0111; the quarter is common practice, no source.

    >>> spread_of(Unpriced("Controls", 800000)), spread_of(Unpriced("Paint", 800000, 950000))
    (200000, 150000)
    """
    if line.firm:
        return 0
    if line.highest_minor is None:
        return max(0, round_minor(Fraction(line.likely_minor * UNQUOTED_PERCENT, 100)))
    return max(0, line.highest_minor - line.likely_minor)


def unpriced_spread(lines: Iterable[Unpriced]) -> int:
    """Add up how far lines without a firm price may still go.

    Returns: [minor units], zero or above.
    Source: our rule, ADR 0111.

    >>> unpriced_spread([Unpriced("Controls", 800000), Unpriced("Slab", 5000000, 6000000, firm=True)])
    200000
    """
    return sum(spread_of(line) for line in lines)


def cover(left_minor: int, open_risk_minor: int, spread_minor: int) -> Cover:
    """Say how often what is left of the contingency covers what is open.

    Args:
        left_minor: of the contingency [minor units]; below zero when overdrawn.
        open_risk_minor: what the open risks cost on average [minor units], zero or above.
        spread_minor: of the lines without a firm price [minor units], zero or above.
    Returns: the ratio and its signal: amber under 1.5, red under 1 and when overdrawn; well where nothing is open. The
        ratio is cut and not rounded, so that it never looks better than its signal.
    Source: our rule, ADR 0111.

    >>> cover(6932000, 2023100, 3000000)
    Cover(ratio=Decimal('1.38'), signal='amber')
    """
    whole = open_risk_minor + spread_minor
    if whole <= 0:
        return Cover(None, "red" if left_minor < 0 else "well")
    ratio = Fraction(left_minor, whole)
    signal: Signal = "red" if ratio < RED_UNDER else "amber" if ratio < AMBER_UNDER else "well"
    return Cover(Decimal(ratio * 100 // 1).scaleb(-2), signal)


def may_draw(cause: str) -> bool:
    """Tell whether a change may be paid from the contingency.

    Args:
        cause: what brought the change about, a word of the changes' reasons.
    Returns: False for an owner's wish, whoever approves it.
    Source: our rule, ADR 0111; lenders refuse wishes from the reserve (HUD 4470.1, ch. 9, read in extracts).

    >>> may_draw("unforeseen condition"), may_draw("owner's wish")
    (True, False)
    """
    return cause != OWNERS_WISH


def _impact(risk: RiskFact, cost_of_day_minor: int) -> int:
    return risk.cost_minor + risk.days * cost_of_day_minor


def _root(square: Fraction | int) -> Decimal:
    top, bottom = square.as_integer_ratio()
    return _WIDE.sqrt(_WIDE.divide(Decimal(top), Decimal(bottom)))
