"""The options of one decision on the same footing: money, days, the price of being stuck with it, and upkeep.

    expected total = first cost + cost of days + correction + running

First cost is what the option's items come to, with its effects on other lines. Days cost only beyond the float; where a
network has been worked out they are the move of its finish, and a day that comes forward is a day's cost spared.
Correction is the chance that the thing has to be moved after it is placed, times what moving it costs. Every input is
certain here, so the range of an option is its expected total itself (ADR 0107). Each part is rounded once, and the
total is the sum of the rounded parts.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from decisions.calc.costs import (
    chance_of_correction,
    check_passes,
    days_later,
    exact_correction,
    exact_running,
    float_used,
)
from decisions.calc.facts import AdjustFacts, DecisionFacts, EffectFact, ItemFact, MustPassFact, OptionFacts, PlanEffect
from decisions.calc.flips import Flip, find_flips
from units.money import round_minor

__all__ = [
    "AdjustFacts",
    "Comparison",
    "DecisionFacts",
    "EffectFact",
    "Flip",
    "ItemFact",
    "MustPassFact",
    "OptionFacts",
    "OptionOutcome",
    "PlanEffect",
    "best_place",
    "check_passes",
    "compare",
]


@dataclass(frozen=True, slots=True)
class OptionOutcome:
    """What an option comes to [minor units]; `passes` is None while a check is not known and none has failed.

    `finish` is None where no network was worked out.
    """

    id: str
    price_minor: int
    effects_minor: int
    first_cost_minor: int
    finish: date | None
    days_later: int
    float_used: int
    cost_of_days_minor: int
    chance_of_correction: Decimal
    correction_minor: int
    running_minor: int
    expected_total_minor: int
    price_saved_minor: int | None
    saved_minor: int | None
    over_budget_minor: int | None
    passes: bool | None
    failed: tuple[str, ...]
    unknown: tuple[str, ...]
    chance_cheapest: Fraction


@dataclass(frozen=True, slots=True)
class Comparison:
    """All options side by side; `best` None where no option passes."""

    options: tuple[OptionOutcome, ...]
    best: str | None
    shared: tuple[str, ...]
    flips: tuple[Flip, ...]
    worth_of_certainty_minor: int


def compare(facts: DecisionFacts) -> Comparison:
    """Set the options of a decision side by side, and find what would change the answer.

    Args:
        facts: at least one option; `id` of each once.
    Returns: options in the order given [minor units]. `best` has the lowest expected total of those that fail no
        check, ties to the earlier. `saved_minor` is above zero for cheaper than the original quote, `over_budget_minor`
        above zero for dearer than the budget. Certainty is worth 0, as every input is certain.
    Source: our rule, ADR 0107; flips ADR 0108.

    >>> plinth = OptionFacts("plinth", items=(ItemFact("concrete", 4995000),), extra_days=8, float_days=6)
    >>> frame = OptionFacts("frame", items=(ItemFact("steel", 3745000),), float_days=6, yearly_minor=36000, years=10)
    >>> seen = compare(DecisionFacts((plinth, frame), cost_of_day_minor=90000, original_minor=4995000))
    >>> [(o.expected_total_minor, o.saved_minor) for o in seen.options], seen.best
    ([(5175000, 0), (4105000, 1250000)], 'frame')
    """
    plain = [_outcome(option, facts) for option in facts.options]
    place = best_place([(row.passes is not False, row.expected_total_minor) for row in plain])
    cheapest = _cheapest(plain)
    return Comparison(
        options=tuple(_with_chance(row, cheapest) for row in plain),
        best=None if place is None else facts.options[place].id,
        shared=_shared(facts.options),
        flips=find_flips(facts, place),
        worth_of_certainty_minor=0,
    )


def best_place(totals: Sequence[tuple[bool, int | Fraction]]) -> int | None:
    """Find the lowest total among the options that are not barred.

    Args:
        totals: (may be chosen, total) per option.
    Returns: its place from 0, ties to the earlier; None where all are barred.

    >>> best_place([(False, 1), (True, 3), (True, 3)])
    1
    """
    places = [place for place, (open_, _) in enumerate(totals) if open_]
    return min(places, key=lambda place: totals[place][1]) if places else None


def _outcome(option: OptionFacts, facts: DecisionFacts) -> OptionOutcome:
    price, effects = sum(item.amount_minor for item in option.items), sum(e.amount_minor for e in option.effects)
    first = price + effects
    days = days_later(option) * facts.cost_of_day_minor
    correction, running = (
        round_minor(exact_correction(option, facts.cost_of_day_minor)),
        round_minor(exact_running(option)),
    )
    failed, unknown = _checked(option.must_pass)
    return OptionOutcome(
        id=option.id,
        price_minor=price,
        effects_minor=effects,
        first_cost_minor=first,
        finish=option.plan.finish if option.plan else None,
        days_later=days_later(option),
        float_used=float_used(option),
        cost_of_days_minor=days,
        chance_of_correction=chance_of_correction(option.adjust),
        correction_minor=correction,
        running_minor=running,
        expected_total_minor=first + days + correction + running,
        price_saved_minor=None if facts.original_minor is None else facts.original_minor - price,
        saved_minor=None if facts.original_minor is None else facts.original_minor - first,
        over_budget_minor=None if facts.budget_minor is None else first - facts.budget_minor,
        passes=False if failed else None if unknown else True,
        failed=failed,
        unknown=unknown,
        chance_cheapest=Fraction(0),
    )


def _checked(checks: Sequence[MustPassFact]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    found = [(check.name, check_passes(check)) for check in checks]
    return tuple(name for name, met in found if met is False), tuple(name for name, met in found if met is None)


def _cheapest(rows: Sequence[OptionOutcome]) -> dict[str, Fraction]:
    """The chance of being the cheapest that may be chosen: certain here, and halved between two equal ones."""
    open_rows = [row for row in rows if row.passes is not False]
    lowest = min((row.expected_total_minor for row in open_rows), default=0)
    ids = [row.id for row in open_rows if row.expected_total_minor == lowest]
    return {id_: Fraction(1, len(ids)) for id_ in ids}


def _with_chance(row: OptionOutcome, cheapest: Mapping[str, Fraction]) -> OptionOutcome:
    return replace(row, chance_cheapest=cheapest.get(row.id, Fraction(0)))


def _shared(options: Sequence[OptionFacts]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(item.name for option in options for item in option.items if item.shared))
