"""What a comparison is told: plain values, amounts in minor units of the project's currency, days in calendar days."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class ItemFact:
    """A piece of an option's first cost [minor units]; `shared` when every option has it."""

    name: str
    amount_minor: int
    shared: bool = False


@dataclass(frozen=True, slots=True)
class EffectFact:
    """What an option costs (above zero) or spares (below) another line [minor units]."""

    name: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class AdjustFacts:
    """How far an option can still be moved once placed, and what moving it takes.

    `chance` [0 to 1] that it has to be moved; or None, and `axes` as (allowed movement, spread of the error) in one
    unit each. Without either it never has to be. `float_days` left at that time; None for what the option leaves.
    """

    chance: Decimal | None = None
    axes: tuple[tuple[Decimal, Decimal], ...] = ()
    cost_minor: int = 0
    days: int = 0
    float_days: int | None = None


@dataclass(frozen=True, slots=True)
class MustPassFact:
    """A check that bars an option: a figure held to bounds, inclusive, or a judged verdict, which wins; both None if not known."""

    name: str
    value: Decimal | None = None
    at_most: Decimal | None = None
    at_least: Decimal | None = None
    verdict: bool | None = None


@dataclass(frozen=True, slots=True)
class PlanEffect:
    """What an option does to the sequence: `moved_days` and `float_left` in calendar days, float in working days.

    `float_days` is what the activity had that loses most of its float, `float_used` what it loses.
    """

    finish: date
    moved_days: int = 0
    float_days: int = 0
    float_used: int = 0
    float_left: int = 0


@dataclass(frozen=True, slots=True)
class OptionFacts:
    """One way to build it; days in calendar days, amounts in minor units.

    Where `plan` is given, the network has said what becomes of the days, and `extra_days` and `float_days` play no part.
    """

    id: str
    name: str = ""
    items: tuple[ItemFact, ...] = ()
    effects: tuple[EffectFact, ...] = ()
    extra_days: int = 0
    float_days: int = 0
    adjust: AdjustFacts | None = None
    must_pass: tuple[MustPassFact, ...] = ()
    yearly_minor: int = 0
    years: int = 0
    #: yearly rate as a fraction of one; None or zero for undiscounted
    discount: Decimal | None = None
    plan: PlanEffect | None = None


@dataclass(frozen=True, slots=True)
class DecisionFacts:
    """A decision; `original_minor` and `budget_minor` None where there is none to compare with."""

    options: tuple[OptionFacts, ...]
    cost_of_day_minor: int = 0
    original_minor: int | None = None
    budget_minor: int | None = None
    currency: str | None = None
