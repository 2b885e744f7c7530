"""What a decision rests on, as plain JSON values.

The comparison on a page is drawn from the same content that a record freezes: what was seen is what is kept, and an
old record is shown by the very template that shows an open decision. Lines stand in it by their codes and quotes by
vendor, date and reference, never by the numbers of rows, so that a record keeps its seal wherever its project goes.
"""

from collections.abc import Mapping
from datetime import date
from typing import TYPE_CHECKING, Any

from budget.models import LineItem, OwnForecast
from decisions.calc import compare
from decisions.calc.flips import Flip
from decisions.models import CheckResult, CostItem, MustPass, Option
from decisions.selectors.board import Board, prices
from projects.fields import as_plain_text
from units import money

if TYPE_CHECKING:
    from decisions.services.records import Choice


def content(laid: Board) -> dict[str, Any]:
    """Write what a comparison rests on and what it comes to."""
    seen = laid.comparison
    outcomes = {row.id: row for row in seen.options} if seen else {}
    project, decision = laid.project, laid.decision
    return {
        "project": {"name": project.name, "currency": project.currency, "cost_of_day_minor": project.cost_of_day_minor},
        "decision": {"code": decision.code, "title": decision.title, "question": decision.question},
        "lines": [_line(line) for line in laid.lines],
        "options": [_option(laid, row, outcomes[row.key]) for row in laid.options],
        "prices": prices(laid),
        "best": seen.best if seen else None,
        "flips": [_flip(flip) for flip in seen.flips] if seen else [],
    }


def freeze(laid: Board, choice: "Choice", *, by: str, on: date) -> dict[str, Any]:
    """Write everything a record rests on: inputs, results, choice and reason. Queries: 1."""
    option = next(row for row in laid.options if row.pk == choice.option_id)
    return content(laid) | {
        "own_forecasts": _own_forecasts(laid.lines),
        "choice": {
            "option": option.key,
            "name": option.name,
            "reason": choice.reason.strip(),
            "amounts": {line.code: choice.amounts[line.pk] for line in laid.lines if line.pk in choice.amounts},
            "overruled": _overruled(laid, option, choice),
            "by": by,
            "on": on.isoformat(),
        },
        "results": results(laid, option, choice.amounts),
    }


def _own_forecasts(lines: tuple[LineItem, ...]) -> dict[str, int]:
    rows = OwnForecast.objects.filter(line__in=lines).order_by("pk")
    newest = dict(rows.values_list("line__code", "amount_minor"))
    return {code: amount for code, amount in newest.items() if amount is not None}


def _line(line: LineItem) -> dict[str, Any]:
    return {
        "code": line.code,
        "description": line.description,
        "budget_minor": line.budget_minor,
        "original_minor": line.original_minor,
        "likely_minor": line.likely_minor,
    }


def _option(laid: Board, option: Option, outcome: compare.OptionOutcome) -> dict[str, Any]:
    return {
        "key": option.key,
        "name": option.name,
        "note": option.note,
        "items": [_item(laid, item) for item in laid.items[option.pk]],
        "effects": [
            {"line": e.line.code, "amount_minor": e.amount_minor, "why": e.why} for e in laid.effects[option.pk]
        ],
        "checks": [_check(laid, option, check) for check in laid.must_passes],
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
        "running": {
            "yearly_minor": option.yearly_cost_minor,
            "years": option.years,
            "discount_percent": _text(option.discount_percent),
        },
        "outcome": _outcome(outcome) | {"on_lines_minor": outcome.price_minor + _own_effects(laid, option)},
    } | _in_plan(laid, option)


def _in_plan(laid: Board, option: Option) -> dict[str, Any]:
    """What an option does to the plan and to the opening; nothing for one that leaves the plan alone."""
    seen = laid.seen(option)
    if seen is None:
        return {}
    told: dict[str, Any] = {"changes": option.plan.changes, "fault": seen.fault}
    if seen.effect is None:
        return {"plan": told}
    effect = seen.effect
    return {
        "plan": told
        | {
            "without": laid.plan_today.ground(laid.decision).finish.isoformat(),
            "finish": effect.finish.isoformat(),
            "moved_days": effect.moved_days,
            "float_days": effect.float_days,
            "float_used": effect.float_used,
        }
    }


def _own_effects(laid: Board, option: Option) -> int:
    """What an option does to the decision's own lines beside their price: it lands on the same budget."""
    own = {line.pk for line in laid.lines}
    return sum(effect.amount_minor for effect in laid.effects[option.pk] if effect.line_id in own)


def _item(laid: Board, item: CostItem) -> dict[str, Any]:
    quote = item.quote
    return {
        "line": item.line.code,
        "name": item.name,
        "amount_minor": laid.price(item),
        "quantity": _text(item.quantity),
        "rate": _text(item.rate),
        "shared": item.shared,
        "quote": {
            "vendor": quote.vendor.name,
            "dated": quote.quoted_on.isoformat(),
            "reference": quote.reference,
            "valid_until": quote.valid_until.isoformat() if quote.valid_until else None,
        }
        if quote
        else None,
    }


def _check(laid: Board, option: Option, check: MustPass) -> dict[str, Any]:
    row = laid.results.get((option.pk, check.pk))
    return {
        "name": check.name,
        "unit": check.unit,
        "at_least": _text(check.at_least),
        "at_most": _text(check.at_most),
        "value": _text(row.value) if row else None,
        "verdict": str(laid.verdict(option, check)),
        "note": row.note if row else "",
    }


def _outcome(outcome: compare.OptionOutcome) -> dict[str, Any]:
    return {
        "price_minor": outcome.price_minor,
        "effects_minor": outcome.effects_minor,
        "first_cost_minor": outcome.first_cost_minor,
        "cost_of_days_minor": outcome.cost_of_days_minor,
        "days_later": outcome.days_later,
        "float_used": outcome.float_used,
        "chance_of_correction": as_plain_text(outcome.chance_of_correction),
        "correction_minor": outcome.correction_minor,
        "running_minor": outcome.running_minor,
        "expected_total_minor": outcome.expected_total_minor,
        "saved_minor": outcome.price_saved_minor,
        "saved_after_effects_minor": outcome.saved_minor,
        "passes": outcome.passes,
    }


def _flip(flip: Flip) -> dict[str, Any]:
    return {
        "option": flip.option,
        "input": flip.input,
        "kind": flip.kind,
        "now": _figure(flip.now),
        "flips_at": _figure(flip.flips_at),
    }


def _figure(figure: Any) -> int | str | None:
    return figure if figure is None or isinstance(figure, int) else as_plain_text(figure)


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
    Returns: price (the decision's lines), effects (other lines), commits (price with what it costs other lines; what it
        spares them commits nobody to less), original, saved (original less price, None without an original), budget,
        over budget (price, with effects on the same lines, less their budget).
    """
    price = sum(_agreed(laid, item, amounts) for item in laid.items[option.pk])
    effects = [effect.amount_minor for effect in laid.effects[option.pk]]
    original = laid.original_minor
    return {
        "price_minor": price,
        "effects_minor": sum(effects),
        "commits_minor": price + sum(amount for amount in effects if amount > 0),
        "original_minor": original,
        "saved_minor": None if original is None else original - price,
        "budget_minor": laid.budget_minor,
        "over_budget_minor": price + _own_effects(laid, option) - laid.budget_minor,
    }


def _agreed(laid: Board, item: CostItem, amounts: Mapping[int, int]) -> int:
    quote = item.quote
    if quote is None or item.line_id not in amounts:
        return laid.price(item)
    agreed = money.convert(
        amounts[item.line_id], from_currency=quote.currency, to_currency=laid.project.currency, rate=quote.rate
    )
    return agreed + laid.price(item) - item.net_minor  # type: ignore[attr-defined]
