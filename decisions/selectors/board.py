"""Decisions laid out for comparing: their options with prices as they stand today.

The page, the record and the approval all read the same board, so that what is frozen is what was seen.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F, OuterRef, Subquery

from budget.models import LineItem, QuoteLine
from decisions.calc import compare
from decisions.calc import facts as plain
from decisions.models import AdjustAxis, CheckResult, CostItem, Decision, Effect, MustPass, Option
from decisions.selectors.plan_today import PlanToday, Seen
from projects.models import Project

JUDGED: dict[str, bool] = {CheckResult.Verdict.PASSES: True, CheckResult.Verdict.FAILS: False}


@dataclass(frozen=True, slots=True)
class Board:
    """One decision with everything its comparison rests on; `options` are those on the table."""

    project: Project
    decision: Decision
    today: date
    lines: tuple[LineItem, ...]
    must_passes: tuple[MustPass, ...]
    options: tuple[Option, ...]
    withdrawn: tuple[Option, ...]
    items: Mapping[int, tuple[CostItem, ...]]
    effects: Mapping[int, tuple[Effect, ...]]
    axes: Mapping[int, tuple[AdjustAxis, ...]]
    results: Mapping[tuple[int, int], CheckResult]
    plan_today: PlanToday

    def seen(self, option: Option) -> Seen | None:
        """What an option does to the plan; None for one that leaves the plan alone. Reads the plan when first asked."""
        plan = getattr(option, "plan", None)
        return self.plan_today.effect(option, self.decision, plan.changes) if plan else None

    def verdict(self, option: Option, check: MustPass) -> str:
        row = self.results.get((option.pk, check.pk))
        return row.verdict if row else CheckResult.Verdict.UNKNOWN

    def price(self, item: CostItem) -> int:
        """An item's first cost today [project minor units]: the levelled quote, or the estimate."""
        return price(item)

    @property
    def original_minor(self) -> int | None:
        """The original quotes of the decision's lines together; None where a line has none."""
        originals = [line.original_minor for line in self.lines]
        return None if not originals or None in originals else sum(o for o in originals if o is not None)

    @property
    def budget_minor(self) -> int:
        return sum(line.budget_minor for line in self.lines)

    @property
    def comparison(self) -> compare.Comparison | None:
        """The options side by side, worked out anew at each call; None while there is none."""
        return compare.compare(facts(self)) if self.options else None


def board(decision: Decision, *, today: date) -> Board:
    """Lay a decision out. Queries: 8, whatever the number of options, and the project where it is not at hand.

    Where an option changes the plan, its comparison asks for the plan and for what waits: 7 more.
    """
    return boards([decision], today=today)[decision.pk]


def boards(decisions: Sequence[Decision], *, today: date) -> dict[int, Board]:
    """Lay several decisions of a project out at once. Queries: 8, whatever their number, and each project that is not at hand."""
    ids = [decision.pk for decision in decisions]
    checks = _grouped(MustPass.objects.filter(decision__in=ids), "decision_id")
    options = _grouped(Option.objects.filter(decision__in=ids).select_related("plan"), "decision_id")
    lines = _grouped(_lines(ids), "decision_id")
    of = {"option__decision__in": ids}
    items = _grouped(priced(CostItem.objects.filter(**of)), "option_id")
    effects = _grouped(Effect.objects.filter(**of).select_related("line"), "option_id")
    axes = _grouped(AdjustAxis.objects.filter(**of).order_by("pk"), "option_id")
    results = {(row.option_id, row.must_pass_id): row for row in CheckResult.objects.filter(**of)}
    plans: dict[int, PlanToday] = {}
    return {
        decision.pk: Board(
            project=decision.project,
            decision=decision,
            today=today,
            lines=lines[decision.pk],
            must_passes=checks[decision.pk],
            options=tuple(row for row in options[decision.pk] if row.withdrawn_at is None),
            withdrawn=tuple(row for row in options[decision.pk] if row.withdrawn_at is not None),
            items=items,
            effects=effects,
            axes=axes,
            results=results,
            plan_today=plans.setdefault(
                decision.project_id, PlanToday(decision.project, today=today, decisions=decisions)
            ),
        )
        for decision in decisions
    }


def _grouped(rows: Iterable[Any], column: str) -> dict[int, tuple[Any, ...]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[getattr(row, column)].append(row)
    return defaultdict(tuple, {key: tuple(parts) for key, parts in found.items()})


def _lines(ids: Sequence[int]) -> Any:
    rows = LineItem.objects.filter(decision_lines__decision__in=ids).annotate(decision_id=F("decision_lines__decision"))
    return rows.select_related("trade")


def price(item: CostItem) -> int:
    """An item's first cost today [project minor units]; the item comes from `priced`."""
    return (item.levelled_minor if item.quote_id else item.amount_minor) or 0  # type: ignore[attr-defined]


def priced(rows: Any) -> Any:
    """Cost items with the kept figures of their quote on their line."""
    kept = QuoteLine.objects.filter(quote=OuterRef("quote"), line=OuterRef("line"))
    return rows.select_related("line", "quote__vendor").annotate(
        levelled_minor=Subquery(kept.values("levelled_minor")), net_minor=Subquery(kept.values("net_minor"))
    )


def facts(laid: Board) -> plain.DecisionFacts:
    """Hand a board to the calculation as plain values."""
    return plain.DecisionFacts(
        currency=laid.project.currency,
        cost_of_day_minor=laid.project.cost_of_day_minor,
        original_minor=laid.original_minor,
        budget_minor=laid.budget_minor,
        options=tuple(_option_facts(laid, option) for option in laid.options),
    )


def _option_facts(laid: Board, option: Option) -> plain.OptionFacts:
    percent, seen = option.discount_percent, laid.seen(option)
    return plain.OptionFacts(
        id=option.key,
        name=option.name,
        items=tuple(plain.ItemFact(i.name, laid.price(i), shared=i.shared) for i in laid.items[option.pk]),
        effects=tuple(plain.EffectFact(e.line.code, e.amount_minor) for e in laid.effects[option.pk]),
        extra_days=option.extra_days,
        float_days=option.float_days,
        adjust=plain.AdjustFacts(
            chance=option.adjust_chance,
            axes=tuple((axis.allows, axis.spread) for axis in laid.axes[option.pk]),
            cost_minor=option.adjust_cost_minor,
            days=option.adjust_days,
            float_days=option.adjust_float_days,
        ),
        must_pass=tuple(_check_fact(laid, option, check) for check in laid.must_passes),
        yearly_minor=option.yearly_cost_minor,
        years=option.years,
        discount=percent / 100 if percent is not None else None,
        plan=seen.effect if seen else None,
    )


def _check_fact(laid: Board, option: Option, check: MustPass) -> plain.MustPassFact:
    row = laid.results.get((option.pk, check.pk))
    measured = row is not None and row.value is not None and (check.at_least is not None or check.at_most is not None)
    return plain.MustPassFact(
        name=check.name,
        value=row.value if row else None,
        at_least=check.at_least,
        at_most=check.at_most,
        # A measured value speaks for itself, so that its bound shows among what would change the answer.
        verdict=None if measured or row is None else JUDGED.get(row.verdict),
    )


def prices(laid: Board) -> dict[str, list[list[Any]]]:
    """Every price on the board, by option, so that a later look can tell whether one has moved."""
    return {
        option.key: [[item.line.code, *_priced_by(item), laid.price(item)] for item in laid.items[option.pk]]
        for option in laid.options
    }


def _priced_by(item: CostItem) -> tuple[str, str, str]:
    """The quote that prices an item, by vendor, date and reference; empty for an estimate."""
    quote = item.quote
    return (quote.vendor.name, quote.quoted_on.isoformat(), quote.reference) if quote else ("", "", "")
