"""What the entry forms of a decision offer: its lines, the quotes on them, its checks, and an option as it stands."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from budget.models import LineItem, Quote, QuoteLine
from decisions.models import AdjustAxis, CheckResult, CostItem, Decision, Effect, MustPass, Option, OptionPlan
from decisions.selectors.ties import PlanChoices, plan_choices
from projects.models import Project

OFFERED = (Quote.State.OPEN, Quote.State.DECLINED)


@dataclass(frozen=True, slots=True)
class LineChoice:
    """A line of the budget that an entry may name by its code."""

    pk: int
    code: str
    description: str


@dataclass(frozen=True, slots=True)
class QuoteChoice:
    """A quote on a line of the decision at its levelled amount [project minor units]."""

    quote_id: int
    line_id: int
    vendor: str
    levelled_minor: int
    complete: bool
    state: str
    valid_until: date | None
    days_left: int | None


@dataclass(frozen=True, slots=True)
class Ground:
    """What an option of a decision is built on."""

    project: Project
    decision: Decision
    lines: tuple[LineItem, ...]
    quotes: tuple[QuoteChoice, ...]
    checks: tuple[MustPass, ...]
    budget: tuple[LineChoice, ...]
    plan: PlanChoices

    def code_of(self, line_id: int) -> str:
        return next(line.code for line in self.budget if line.pk == line_id)


def line_choices(project: Project) -> tuple[LineChoice, ...]:
    """Read the lines that an entry may name. Left out: removed ones. Queries: 1."""
    rows = LineItem.objects.filter(project=project, removed_on=None).values_list("pk", "code", "description")
    return tuple(LineChoice(*row) for row in rows)


def ground(decision: Decision, *, today: date, option: Option | None = None) -> Ground:
    """Read what an option may be built of. Quotes that are settled are offered only where the option has them. Queries: 6."""
    lines = tuple(LineItem.objects.filter(decision_lines__decision=decision))
    kept = QuoteLine.objects.filter(line__in=lines).select_related("quote__vendor").order_by("levelled_minor", "pk")
    own = set(CostItem.objects.filter(option=option).values_list("quote_id", flat=True)) if option else set()
    quotes = [_quote(row, today) for row in kept if row.quote.state in OFFERED or row.quote_id in own]
    checks = tuple(MustPass.objects.filter(decision=decision))
    budget, plan = line_choices(decision.project), plan_choices(decision.project)
    return Ground(decision.project, decision, lines, tuple(quotes), checks, budget, plan)


def _quote(row: QuoteLine, today: date) -> QuoteChoice:
    until = row.quote.valid_until
    return QuoteChoice(
        quote_id=row.quote_id,
        line_id=row.line_id,
        vendor=row.quote.vendor.name,
        levelled_minor=row.levelled_minor,
        complete=row.complete,
        state=row.quote.get_state_display() if row.quote.state != Quote.State.OPEN else "",
        valid_until=until,
        days_left=(until - today).days if until else None,
    )


@dataclass(frozen=True, slots=True)
class Standing:
    """An option as it stands, in the shape of its entry form."""

    option: Mapping[str, Any]
    items: tuple[Mapping[str, Any], ...]
    effects: tuple[Mapping[str, Any], ...]
    axes: tuple[Mapping[str, Any], ...]
    checks: Mapping[int, Mapping[str, Any]]
    changes: Mapping[str, Any] = field(default_factory=dict)


COLUMNS = (
    "name", "note", "lead_days", "extra_days", "float_days", "adjust_how", "adjust_chance", "adjust_days",
    "adjust_float_days", "years", "discount_percent", "version",
)  # fmt: skip


def standing(option: Option) -> Standing:
    """Read an option for editing. Queries: 5."""
    plan = OptionPlan.objects.filter(option=option).first()
    columns = {name: getattr(option, name) for name in COLUMNS}
    money = {"adjust_cost": option.adjust_cost_minor or None, "yearly_cost": option.yearly_cost_minor or None}
    items = CostItem.objects.filter(option=option)
    effects = Effect.objects.filter(option=option).select_related("line").order_by("pk")
    results = CheckResult.objects.filter(option=option)
    return Standing(
        option=columns | money,
        items=tuple(_item(item) for item in items),
        effects=tuple({"line": e.line.code, "amount": e.amount_minor, "why": e.why} for e in effects),
        axes=tuple(AdjustAxis.objects.filter(option=option).order_by("pk").values("name", "allows", "spread")),
        checks={row.must_pass_id: {"value": row.value, "verdict": row.verdict, "note": row.note} for row in results},
        changes=plan.changes if plan else {},
    )


def _item(item: CostItem) -> dict[str, Any]:
    by_rate = item.quantity is not None and item.rate is not None
    return {
        "price": f"{item.line_id}:{item.quote_id or ''}",
        "name": item.name,
        "amount": None if by_rate else item.amount_minor,
        "quantity": item.quantity,
        "rate": item.rate,
        "shared": item.shared,
    }


def checks_of(decision: Decision) -> list[dict[str, Any]]:
    """Read a decision's checks for editing. Queries: 1."""
    rows = MustPass.objects.filter(decision=decision)
    return [
        {"id": row.pk, "name": row.name, "unit": row.unit, "at_least": row.at_least, "at_most": row.at_most}
        for row in rows
    ]


def blank(of: Ground) -> Standing:
    """An option before anything is entered: one row for each line of the decision, so that none is forgotten."""
    several = len(of.lines) > 1
    items = tuple({"price": f"{line.pk}:" if several else ""} for line in of.lines)
    return Standing({}, items, (), (), {})
