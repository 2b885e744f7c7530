"""What the parts of an option cost, exactly: fractions of a minor unit that nobody has rounded yet.

The comparison rounds each part once; the search for flips needs them unrounded. The one float is the chance that a normal
error passes its allowance; it becomes a decimal of twelve places before it meets any money (ADR 0107).
"""

from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import erfc, expm1, inf, log1p, sqrt

from decisions.calc.facts import AdjustFacts, MustPassFact, OptionFacts

CHANCE_PLACES = Decimal("1e-12")


def days_later(option: OptionFacts) -> int:
    """Give the days an option moves the opening [calendar days]: as the network says, else what it takes beyond the float.

    Only a network can bring the opening forward; the days are then below zero.

    >>> days_later(OptionFacts("a", extra_days=8, float_days=6))
    2
    """
    return max(0, option.extra_days - option.float_days) if option.plan is None else option.plan.moved_days


def float_used(option: OptionFacts) -> int:
    """Give the float an option uses: working days where a network says so, else calendar days.

    >>> float_used(OptionFacts("a", extra_days=8, float_days=6))
    6
    """
    return min(option.extra_days, option.float_days) if option.plan is None else option.plan.float_used


def days_of_correction(option: OptionFacts) -> int:
    """Give the days that a correction moves the opening: what it takes beyond the float then left [calendar days].

    >>> days_of_correction(OptionFacts("a", extra_days=2, float_days=6, adjust=AdjustFacts(Decimal("0.1"), days=14)))
    10
    """
    return 0 if option.adjust is None else max(0, option.adjust.days - float_left(option))


def float_left(option: OptionFacts) -> int:
    """Give the float that is left when a correction is made [calendar days]: as given, else what the option leaves.

    >>> float_left(OptionFacts("a", extra_days=2, float_days=6))
    4
    """
    if option.adjust is not None and option.adjust.float_days is not None:
        return option.adjust.float_days
    if option.plan is not None:
        return option.plan.float_left
    return max(0, option.float_days - option.extra_days)


def chance_of_correction(adjust: AdjustFacts | None) -> Decimal:
    """Give the chance that a thing has to be moved after it is placed.

    Returns: [0 to 1]; as given, else 1 - Π(1 - 2(1 - Φ(allows / spread))) over the axes, to twelve places.
    Source: a normal error on each axis, axes independent; ADR 0107.

    >>> chance_of_correction(AdjustFacts(axes=((Decimal(2), Decimal(1)),)))
    Decimal('0.045500263896')
    """
    if adjust is None:
        return Decimal(0)
    if adjust.chance is not None:
        return adjust.chance
    return passes_an_allowance(adjust.axes)


@lru_cache(maxsize=1024)
def passes_an_allowance(axes: tuple[tuple[Decimal, Decimal], ...]) -> Decimal:
    """Give the chance that a normal error passes its allowance on at least one of some independent axes.

    Args:
        axes: (allowance either way, standard deviation above zero), one unit per axis.
    Returns: [0 to 1], rounded to twelve places, so that the last bit of a machine's erfc does not show.

    >>> passes_an_allowance(((Decimal(0), Decimal(1)),)), passes_an_allowance(())
    (Decimal('1.000000000000'), Decimal('0E-12'))
    """
    chances = [erfc(min(1e9, float(allows / spread)) / sqrt(2)) for allows, spread in axes]
    stays = sum(log1p(-chance) if chance < 1 else -inf for chance in chances)
    return Decimal(max(0.0, -expm1(stays))).quantize(CHANCE_PLACES)


def exact_correction(option: OptionFacts, cost_of_day_minor: int) -> Fraction:
    """Give the expected cost of a correction, not rounded [minor units].

    >>> adjust = AdjustFacts(Decimal("0.15"), cost_minor=1850000, days=14, float_days=6)
    >>> exact_correction(OptionFacts("a", adjust=adjust), 90000)
    Fraction(385500, 1)
    """
    if option.adjust is None:
        return Fraction(0)
    once = option.adjust.cost_minor + days_of_correction(option) * cost_of_day_minor
    return Fraction(chance_of_correction(option.adjust)) * once


def exact_running(option: OptionFacts) -> Fraction:
    """Give the running cost over the years that matter, not rounded [minor units].

    >>> exact_running(OptionFacts("a", yearly_minor=36000, years=10))
    Fraction(360000, 1)
    """
    return option.yearly_minor * annuity(option.years, option.discount)


@lru_cache(maxsize=1024)
def annuity(years: int, discount: Decimal | None) -> Fraction:
    """Give the present value of one, paid at each year's end.

    Args:
        years: none below zero.
        discount: yearly rate as a fraction of one, None or zero for undiscounted.
    Returns: [-], exact.
    Source: uniform present value, (1 - (1 + d)^-n) / d.

    >>> annuity(10, None), round(float(annuity(10, Decimal("0.03"))), 3)
    (Fraction(10, 1), 8.53)
    """
    if not discount:
        return Fraction(years)
    rate = Fraction(discount)
    return (1 - (1 + rate) ** -years) / rate


def exact_total(option: OptionFacts, cost_of_day_minor: int) -> Fraction:
    """Give an option's expected total before any part of it is rounded [minor units].

    >>> from decisions.calc.facts import ItemFact
    >>> exact_total(OptionFacts("a", items=(ItemFact("slab", 500),), extra_days=2), 10)
    Fraction(520, 1)
    """
    first = sum(item.amount_minor for item in option.items) + sum(effect.amount_minor for effect in option.effects)
    days = days_later(option) * cost_of_day_minor
    return first + days + exact_correction(option, cost_of_day_minor) + exact_running(option)


def check_passes(check: MustPassFact) -> bool | None:
    """Say whether a must-pass check is met, None where that is not known. Bounds are inclusive.

    >>> check_passes(MustPassFact("floor load", Decimal(5), at_most=Decimal(5))), check_passes(MustPassFact("height"))
    (True, None)
    """
    if check.verdict is not None or check.value is None:
        return check.verdict
    low = check.at_least is None or check.value >= check.at_least
    return low and (check.at_most is None or check.value <= check.at_most)
