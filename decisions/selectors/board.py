"""A decision laid out for comparing: its options with prices as they stand today.

The page, the record and the approval all read the same board, so that what is frozen is what was seen.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from budget.models import LineItem, OwnForecast, Quote, QuoteLine
from decisions.calc import compare
from decisions.models import CheckResult, CostItem, Decision, Effect, MustPass, Option
from projects.fields import as_plain_text
from projects.models import Project
from units import money

if TYPE_CHECKING:
    from decisions.services.records import Choice


@dataclass(frozen=True, slots=True)
class Board:
    project: Project
    decision: Decision
    lines: tuple[LineItem, ...]
    must_passes: tuple[MustPass, ...]
    options: tuple[Option, ...]
    items: Mapping[int, tuple[CostItem, ...]]
    effects: Mapping[int, tuple[Effect, ...]]
    axes: Mapping[int, tuple[Any, ...]]
    results: Mapping[tuple[int, int], CheckResult]
    #: {(quote id, line id): the quote's kept figures on the line}
    quoted: Mapping[tuple[int, int], QuoteLine]
    own_forecasts: Mapping[int, int]
    comparison: compare.Comparison | None

    def verdict(self, option: Option, check: MustPass) -> str:
        row = self.results.get((option.pk, check.pk))
        return row.verdict if row else CheckResult.Verdict.UNKNOWN

    def price(self, item: CostItem) -> int:
        """An item's first cost today [project minor units]: the levelled quote, or the estimate."""
        if item.quote_id is None:
            return item.amount_minor or 0
        return self.quoted[item.quote_id, item.line_id].levelled_minor

    @property
    def original_minor(self) -> int | None:
        """The original quotes of the decision's lines together; None where a line has none."""
        originals = [line.original_minor for line in self.lines]
        return None if not originals or None in originals else sum(o for o in originals if o is not None)

    @property
    def budget_minor(self) -> int:
        return sum(line.budget_minor for line in self.lines)


def board(decision: Decision, *, today: date) -> Board:
    """Lay a decision out. Queries: 10, whatever the number of options. Withdrawn options are left out."""
    lines = tuple(LineItem.objects.filter(decision_lines__decision=decision).select_related("trade"))
    checks = tuple(MustPass.objects.filter(decision=decision))
    options = tuple(Option.objects.filter(decision=decision, withdrawn_at=None))
    items = _by_option(CostItem.objects.filter(option__in=options).select_related("line", "quote__vendor"))
    laid = Board(
        project=decision.project,
        decision=decision,
        lines=lines,
        must_passes=checks,
        options=options,
        items=items,
        effects=_by_option(Effect.objects.filter(option__in=options).select_related("line")),
        axes=_by_option(Option.axes.rel.related_model.objects.filter(option__in=options)),
        results={(r.option_id, r.must_pass_id): r for r in CheckResult.objects.filter(option__in=options)},
        quoted=_quoted(items),
        own_forecasts=_own_forecasts(lines),
        comparison=None,
    )
    return _compared(laid) if options else laid


def _by_option(rows: Any) -> dict[int, tuple[Any, ...]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[row.option_id].append(row)
    return defaultdict(tuple, {option: tuple(parts) for option, parts in found.items()})


def _quoted(items: Mapping[int, tuple[CostItem, ...]]) -> dict[tuple[int, int], QuoteLine]:
    ids = {item.quote_id for parts in items.values() for item in parts if item.quote_id}
    rows = QuoteLine.objects.filter(quote_id__in=ids).select_related("quote__vendor")
    return {(row.quote_id, row.line_id): row for row in rows}


def _own_forecasts(lines: tuple[LineItem, ...]) -> dict[int, int]:
    newest = dict(OwnForecast.objects.filter(line__in=lines).order_by("pk").values_list("line_id", "amount_minor"))
    return {line: amount for line, amount in newest.items() if amount is not None}


def _compared(laid: Board) -> Board:
    from dataclasses import replace

    return replace(laid, comparison=compare.compare(facts(laid)))


def facts(laid: Board) -> compare.DecisionFacts:
    """Hand a board to the calculation as plain values."""
    return compare.DecisionFacts(
        currency=laid.project.currency,
        cost_of_day_minor=laid.project.cost_of_day_minor,
        original_minor=laid.original_minor,
        budget_minor=laid.budget_minor,
        options=tuple(_option_facts(laid, option) for option in laid.options),
    )


def _option_facts(laid: Board, option: Option) -> compare.OptionFacts:
    percent = option.discount_percent
    return compare.OptionFacts(
        id=option.key,
        name=option.name,
        items=tuple(compare.ItemFact(i.name, laid.price(i), shared=i.shared) for i in laid.items[option.pk]),
        effects=tuple(compare.EffectFact(e.line.code, e.amount_minor) for e in laid.effects[option.pk]),
        extra_days=option.extra_days,
        float_days=option.float_days,
        adjust=compare.AdjustFacts(
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
    )


def _check_fact(laid: Board, option: Option, check: MustPass) -> compare.MustPassFact:
    row = laid.results.get((option.pk, check.pk))
    judged = {CheckResult.Verdict.PASSES: True, CheckResult.Verdict.FAILS: False}
    return compare.MustPassFact(
        name=check.name,
        value=row.value if row else None,
        at_least=check.at_least,
        at_most=check.at_most,
        verdict=judged.get(row.verdict) if row else None,
    )


def prices(laid: Board) -> dict[str, list[list[Any]]]:
    """Every price on the board, by option, so that a later look can tell whether one has moved."""
    return {
        option.key: [[item.line.code, item.quote_id, laid.price(item)] for item in laid.items[option.pk]]
        for option in laid.options
    }


def freeze(laid: Board, choice: "Choice", *, by: str, on: date) -> dict[str, Any]:
    """Write everything a record rests on as plain JSON values: inputs, results, choice and reason."""
    option = next(row for row in laid.options if row.pk == choice.option_id)
    return {
        "project": {"name": laid.project.name, "currency": laid.project.currency, "cost_of_day_minor": laid.project.cost_of_day_minor},
        "decision": {"code": laid.decision.code, "title": laid.decision.title, "question": laid.decision.question},
        "lines": [_frozen_line(line) for line in laid.lines],
        "options": [_frozen_option(laid, row) for row in laid.options],
        "prices": prices(laid),
        "own_forecasts": {str(line): amount for line, amount in laid.own_forecasts.items()},
        "choice": {
            "option": option.key,
            "name": option.name,
            "reason": choice.reason.strip(),
            "amounts": {str(line): amount for line, amount in choice.amounts.items()},
            "overruled": _overruled(laid, option, choice),
            "by": by,
            "on": on.isoformat(),
        },
        "results": results(laid, option, choice.amounts),
        "best": laid.comparison.best if laid.comparison else None,
    }


def _frozen_line(line: LineItem) -> dict[str, Any]:
    return {
        "code": line.code,
        "description": line.description,
        "budget_minor": line.budget_minor,
        "original_minor": line.original_minor,
        "likely_minor": line.likely_minor,
    }


def _frozen_option(laid: Board, option: Option) -> dict[str, Any]:
    outcome = next(row for row in laid.comparison.options if row.id == option.key) if laid.comparison else None
    return {
        "key": option.key,
        "name": option.name,
        "note": option.note,
        "items": [_frozen_item(laid, item) for item in laid.items[option.pk]],
        "effects": [{"line": e.line.code, "amount_minor": e.amount_minor, "why": e.why} for e in laid.effects[option.pk]],
        "checks": [_frozen_check(laid, option, check) for check in laid.must_passes],
        "extra_days": option.extra_days,
        "float_days": option.float_days,
        "lead_days": option.lead_days,
        "adjust": {
            "how": option.adjust_how,
            "chance": _text(option.adjust_chance),
            "axes": [[a.name, as_plain_text(a.allows), as_plain_text(a.spread)] for a in laid.axes[option.pk]],
            "cost_minor": option.adjust_cost_minor,
            "days": option.adjust_days,
            "float_days": option.adjust_float_days,
        },
        "running": {"yearly_minor": option.yearly_cost_minor, "years": option.years, "discount_percent": _text(option.discount_percent)},
        "outcome": _frozen_outcome(outcome),
    }


def _frozen_item(laid: Board, item: CostItem) -> dict[str, Any]:
    quote: Quote | None = item.quote
    return {
        "line": item.line.code,
        "name": item.name,
        "amount_minor": laid.price(item),
        "shared": item.shared,
        "quote": {"id": quote.pk, "vendor": quote.vendor.name, "dated": quote.quoted_on.isoformat()} if quote else None,
    }


def _frozen_check(laid: Board, option: Option, check: MustPass) -> dict[str, Any]:
    row = laid.results.get((option.pk, check.pk))
    return {
        "name": check.name,
        "unit": check.unit,
        "at_least": _text(check.at_least),
        "at_most": _text(check.at_most),
        "value": _text(row.value) if row else None,
        "verdict": laid.verdict(option, check),
        "note": row.note if row else "",
    }


def _frozen_outcome(outcome: compare.OptionOutcome | None) -> dict[str, Any] | None:
    if outcome is None:
        return None
    return {
        "first_cost_minor": outcome.first_cost_minor,
        "cost_of_days_minor": outcome.cost_of_days_minor,
        "days_later": outcome.days_later,
        "float_used": outcome.float_used,
        "chance_of_correction": _text(outcome.chance_of_correction),
        "correction_minor": outcome.correction_minor,
        "running_minor": outcome.running_minor,
        "expected_total_minor": outcome.expected_total_minor,
        "passes": outcome.passes,
    }


def _text(number: Any) -> str | None:
    return None if number is None else as_plain_text(number)


def _overruled(laid: Board, option: Option, choice: "Choice") -> list[dict[str, str]]:
    return [
        {"check": check.name, "verdict": str(laid.verdict(option, check)), "reason": choice.overruled[check.pk].strip()}
        for check in laid.must_passes
        if laid.verdict(option, check) != CheckResult.Verdict.PASSES and check.pk in choice.overruled
    ]


def results(laid: Board, option: Option, amounts: Mapping[int, int]) -> dict[str, int | None]:
    """What choosing an option at some agreed amounts comes to [project minor units].

    Args:
        amounts: {line id: agreed amount in the quote's currency} where the price was talked down.
    Returns: price (the decision's lines), effects (other lines), commits (both), original, saved (original less price,
        None without an original), budget, over budget (price less budget).
    """
    price = sum(_agreed(laid, item, amounts) for item in laid.items[option.pk])
    effects = sum(effect.amount_minor for effect in laid.effects[option.pk])
    original = laid.original_minor
    return {
        "price_minor": price,
        "effects_minor": effects,
        "commits_minor": price + effects,
        "original_minor": original,
        "saved_minor": None if original is None else original - price,
        "budget_minor": laid.budget_minor,
        "over_budget_minor": price - laid.budget_minor,
    }


def _agreed(laid: Board, item: CostItem, amounts: Mapping[int, int]) -> int:
    if item.quote_id is None or item.line_id not in amounts:
        return laid.price(item)
    kept, quote = laid.quoted[item.quote_id, item.line_id], item.quote
    agreed = money.convert(amounts[item.line_id], from_currency=quote.currency, to_currency=laid.project.currency, rate=quote.rate)
    return agreed + kept.levelled_minor - kept.net_minor
