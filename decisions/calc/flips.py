"""What would change our mind: for each input, the value nearest to now at which the best option changes.

Only one input moves at a time. An option's expected total rises, or falls, or stays as one of its own inputs grows; it
never turns. So there is at most one value where it meets the total of its rival, and that value is found exactly: by
solving a line where the total is linear in the input, by halving a range of whole numbers for days and years, and
through the normal distribution for movements and spreads (ADR 0108).
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from statistics import NormalDist

from decisions.calc import costs
from decisions.calc.facts import AdjustFacts, DecisionFacts, MustPassFact, OptionFacts
from units.money import round_minor

MOST_MINOR = 10**19
MOST_DAYS = 36525
MOST_YEARS = 200
_FINE = 10**9


@dataclass(frozen=True, slots=True)
class Flip:
    """An input and the value nearest to now at which the best option changes.

    `option` is None for an input that all options share. `now` and `flips_at` are minor units, days or years, or
    decimals, as `kind` says: "money", "whole", "number". `flips_at` is None where no value in the range does it.
    """

    option: str | None
    input: str
    kind: str
    now: int | Decimal
    flips_at: int | Decimal | None


@dataclass(frozen=True, slots=True)
class _Rival:
    """What an option is measured against: the total that it must meet for the best to change."""

    is_best: bool
    total: Fraction
    target: Fraction
    #: whether meeting the target, without passing it, changes the best already (ties go to the earlier option)
    at_tie: bool

    def flipped(self, total: Fraction) -> bool:
        beyond = total > self.target if self.is_best else total < self.target
        return beyond or (self.at_tie and total == self.target)


def find_flips(facts: DecisionFacts, best: int | None) -> tuple[Flip, ...]:
    """Find, for each numeric input of each option, the value nearest to now at which the best option changes.

    Args:
        best: place of the best option, as `compare.best_place` gives it.
    Returns: the inputs of each option in the order given, then the cost of a day. Money is rounded to a whole minor
        unit, chances and lengths to nine places, rates to eight; days and years are the first whole ones. Ranges: money
        from 0 (effects either sign), chance and rate 0 to 1, days to a hundred years, years to 200, lengths from 0.
    Source: our rule, ADR 0108.

    >>> from decisions.calc.facts import ItemFact
    >>> two = (OptionFacts("a", items=(ItemFact("slab", 900),)), OptionFacts("b", items=(ItemFact("frame", 700),)))
    >>> [(flip.option, flip.input, flip.flips_at) for flip in find_flips(DecisionFacts(two), 1)][:2]
    [('a', 'items[0].amount', 700), ('a', 'days.extra', None)]
    """
    totals = [costs.exact_total(option, facts.cost_of_day_minor) for option in facts.options]
    open_ = [not _failing(option) for option in facts.options]
    found: list[Flip] = []
    for place, option in enumerate(facts.options):
        rival = _rival(place, best, totals, open_)
        found += _Inputs(facts, option, rival).flips()
        found += _check_flips(place, best, option, totals)
    return (*found, _day_flip(facts, best, open_))


def _failing(option: OptionFacts) -> list[MustPassFact]:
    return [check for check in option.must_pass if costs.check_passes(check) is False]


def _rival(place: int, best: int | None, totals: Sequence[Fraction], open_: Sequence[bool]) -> _Rival | None:
    if best is None or not open_[place]:
        return None
    others = [other for other in range(len(totals)) if open_[other] and other != place] if place == best else [best]
    if not others:
        return None
    rival = min(others, key=lambda other: totals[other])
    return _Rival(place == best, totals[place], totals[rival], (rival < place) == (place == best))


@dataclass(frozen=True, slots=True)
class _Inputs:
    """The inputs of one option, each solved for the total of its rival."""

    facts: DecisionFacts
    option: OptionFacts
    rival: _Rival | None

    def flips(self) -> Iterator[Flip]:
        yield from self._amounts()
        if self.option.plan is None:  # a network makes days a result
            yield from self._days()
        if self.option.adjust is not None and (self.option.adjust.chance is not None or self.option.adjust.axes):
            yield from self._adjust(self.option.adjust)
        if self.option.yearly_minor or self.option.years:
            yield from self._running()

    def _amounts(self) -> Iterator[Flip]:
        everywhere = _common(self.facts.options)
        for place, item in enumerate(self.option.items):
            slope = Fraction(0) if item.shared and item.name in everywhere else Fraction(1)
            yield self._money(f"items[{place}].amount", item.amount_minor, slope)
        for place, effect in enumerate(self.option.effects):
            yield self._money(f"effects[{place}].amount", effect.amount_minor, Fraction(1), lowest=-MOST_MINOR)

    def _days(self) -> Iterator[Flip]:
        option = self.option
        yield self._whole("days.extra", option.extra_days, 1, lambda days: replace(option, extra_days=days))
        yield self._whole("days.float", option.float_days, -1, lambda days: replace(option, float_days=days))

    def _adjust(self, adjust: AdjustFacts) -> Iterator[Flip]:
        chance = costs.chance_of_correction(adjust)
        if adjust.chance is not None:
            at = self._solved(Fraction(chance), self._once(), Fraction(0), Fraction(1))
            yield self._flip("adjust.chance", "number", chance, None if at is None else _places(at, 9))
        else:
            yield from self._axes(adjust)
        yield self._money("adjust.cost", adjust.cost_minor, Fraction(chance))
        yield self._whole("adjust.days", adjust.days, 1, lambda days: self._adjusted(replace(adjust, days=days)))
        left = costs.float_left(self.option)
        yield self._whole("adjust.float", left, -1, lambda days: self._adjusted(replace(adjust, float_days=days)))

    def _axes(self, adjust: AdjustFacts) -> Iterator[Flip]:
        for place, (allows, spread) in enumerate(adjust.axes):
            reach = self._reach(adjust, place)
            name = f"adjust.axes[{place}]"
            at = None if reach is None else _places(Fraction(reach) * Fraction(spread), 9)
            yield self._flip(f"{name}.allows", "number", allows, at)
            at = _places(Fraction(allows) / Fraction(reach), 9) if reach and allows else None
            yield self._flip(f"{name}.spread", "number", spread, at)

    def _reach(self, adjust: AdjustFacts, place: int) -> float | None:
        """How many spreads the movement of one axis has to reach for the totals to meet."""
        now = Fraction(costs.chance_of_correction(adjust))
        chance = self._solved(now, self._once(), Fraction(0), Fraction(1))
        others = 1 - Fraction(costs.passes_an_allowance(adjust.axes[:place] + adjust.axes[place + 1 :]))
        if chance is None or not others:
            return None
        here = 1 - (1 - chance) / others
        if not here:  # a chance this small is written as none at all
            here = Fraction(costs.CHANCE_PLACES) / 2
        return -NormalDist().inv_cdf(float(here) / 2) if 0 < here <= 1 else None

    def _running(self) -> Iterator[Flip]:
        option, rate = self.option, self.option.discount or Decimal(0)
        yield self._money("yearly_cost", option.yearly_minor, costs.annuity(option.years, option.discount))
        yield self._whole("years", option.years, 1, lambda years: replace(option, years=years), most=MOST_YEARS)
        at = self._first(round(rate * _FINE), -1, _FINE, lambda steps: replace(option, discount=Decimal(steps) / _FINE))
        yield self._flip("discount", "number", rate, None if at is None else _places(Fraction(at, _FINE), 8))

    def _once(self) -> Fraction:
        """What one correction costs: the slope of the total along its chance."""
        adjust = self.option.adjust
        days = costs.days_of_correction(self.option) * self.facts.cost_of_day_minor
        return Fraction((adjust.cost_minor if adjust else 0) + days)

    def _adjusted(self, adjust: AdjustFacts) -> OptionFacts:
        return replace(self.option, adjust=adjust)

    def _flip(self, name: str, kind: str, now: int | Decimal, at: int | Decimal | None) -> Flip:
        return Flip(self.option.id, name, kind, now, at)

    def _money(self, name: str, now: int, slope: Fraction, *, lowest: int = 0) -> Flip:
        at = self._solved(Fraction(now), slope, Fraction(lowest), Fraction(MOST_MINOR))
        return self._flip(name, "money", now, None if at is None else round_minor(at))

    def _whole(
        self, name: str, now: int, sign: int, build: Callable[[int], OptionFacts], *, most: int = MOST_DAYS
    ) -> Flip:
        return self._flip(name, "whole", now, self._first(now, sign, most, build))

    def _solved(self, now: Fraction, slope: Fraction, lowest: Fraction, highest: Fraction) -> Fraction | None:
        """The value at which a total that is linear in an input meets the rival's (`slope` none below zero)."""
        rival = self.rival
        if rival is None or not slope:
            return None
        at = now + (rival.target - rival.total) / slope
        limit = highest if rival.is_best else lowest
        inside = lowest <= at <= highest and (at != limit or rival.at_tie)
        return at if inside else None

    def _first(self, now: int, sign: int, most: int, build: Callable[[int], OptionFacts]) -> int | None:
        """The whole number nearest to now at which the best changes, between 0 and `most`.

        `sign` tells whether the total rises (1) or falls (-1) as the number grows, so one direction is searched.
        """
        rival = self.rival
        if rival is None:
            return None
        up = (sign > 0) == rival.is_best

        def flipped(value: int) -> bool:
            return rival.flipped(costs.exact_total(build(value), self.facts.cost_of_day_minor))

        near, far = now, (max(now, most) if up else 0)
        if not flipped(far):
            return None
        while abs(far - near) > 1:
            middle = (near + far) // 2
            near, far = (near, middle) if flipped(middle) else (middle, far)
        return far


def _common(options: Sequence[OptionFacts]) -> frozenset[str]:
    """The shared items that every option has: moving one moves them all, so the best stays."""
    names = [frozenset(item.name for item in option.items if item.shared) for option in options]
    return frozenset.intersection(*names) if names else frozenset()


def _places(value: Fraction, places: int) -> Decimal:
    return Decimal(round_minor(value * 10**places)).scaleb(-places)


def _check_flips(place: int, best: int | None, option: OptionFacts, totals: Sequence[Fraction]) -> Iterator[Flip]:
    """A measured must-pass value flips the answer at its bound: there the option is barred, or no longer so."""
    failing = _failing(option)
    for number, check in enumerate(option.must_pass):
        if check.value is None or check.verdict is not None:
            continue
        matters = place == best and not failing
        if failing == [check]:
            matters = _would_win(place, best, totals)
        yield Flip(option.id, f"must_pass[{number}].value", "number", check.value, _bound(check) if matters else None)


def _would_win(place: int, best: int | None, totals: Sequence[Fraction]) -> bool:
    return best is None or (totals[place], place) < (totals[best], best)


def _bound(check: MustPassFact) -> Decimal | None:
    """The bound that a value has to cross, the nearer one where two would do it."""
    value = check.value or Decimal(0)
    bounds = [bound for bound in (check.at_least, check.at_most) if bound is not None]
    return min(bounds, key=lambda bound: abs(bound - value), default=None)


def _day_flip(facts: DecisionFacts, best: int | None, open_: Sequence[bool]) -> Flip:
    """The cost of a day moves every option at once: the nearest crossing of the best one's line with another's."""
    now = Fraction(facts.cost_of_day_minor)
    lines = [(costs.exact_total(option, 0), costs.exact_total(option, 1)) for option in facts.options]
    crossings: list[Fraction] = []
    for place, (start, next_) in enumerate(lines):
        if best is None or place == best or not open_[place]:
            continue
        slower = (lines[best][1] - lines[best][0]) - (next_ - start)
        if not slower:
            continue
        at = (start - lines[best][0]) / slower
        overtakes_below = slower < 0  # then a crossing at nothing a day is the end of the range
        if 0 <= at <= MOST_MINOR and (at > 0 or not overtakes_below or place < best):
            crossings.append(at)
    nearest = min(crossings, key=lambda at: abs(at - now), default=None)
    return Flip(
        None, "cost_of_day", "money", facts.cost_of_day_minor, None if nearest is None else round_minor(nearest)
    )
