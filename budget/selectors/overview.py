"""The figures of Money: by trade, in total, and the bridge from the first budget to the likely final.

The contingency line is kept apart throughout: it is money set aside, not work.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from django.db.models import Count, F, Sum

from budget.models import Cause, LineItem, Movement, Trade
from projects.models import Project

CONTINGENCY = LineItem.Kind.CONTINGENCY


@dataclass(frozen=True, slots=True)
class Figures:
    """The four figures and the two yardsticks of some lines [project minor units], and how far their agreements went.

    `original` is summed over the lines that have an original quote, and `against_original` compares the likely final of
    those same lines with it: negative is saved. `changes` are those agreed.
    """

    lines: int
    let: int
    budget: int
    original: int
    with_original: int
    agreed: int
    changes: int
    invoiced: int
    likely: int
    over_budget: int
    against_original: int


@dataclass(frozen=True, slots=True)
class TradeFigures:
    trade_id: int
    code: str
    name: str
    figures: Figures


@dataclass(frozen=True, slots=True)
class Contingency:
    """Money set aside: at the start and now."""

    start: int
    left: int


@dataclass(frozen=True, slots=True)
class Step:
    """One cause of the bridge: what it moved, and where the likely final stands after it."""

    cause: str
    label: str
    amount: int
    running: int


@dataclass(frozen=True, slots=True)
class Overview:
    trades: tuple[TradeFigures, ...]
    total: Figures
    contingency: Contingency | None
    bridge: tuple[Step, ...]


SUMS = {
    "lines": Count("pk"),
    "let": Count("agreed_minor"),
    "budget": Sum("budget_minor"),
    "original": Sum("original_minor", default=0),
    "with_original": Count("original_minor"),
    "agreed": Sum("agreed_minor", default=0),
    "changes": Sum("changes_minor"),
    "invoiced": Sum("invoiced_minor"),
    "likely": Sum("likely_minor"),
    "over_budget": Sum(F("likely_minor") - F("budget_minor")),
    "against_original": Sum(F("likely_minor") - F("original_minor"), default=0),
}


def overview(project: Project) -> Overview:
    """Read the figures of Money.

    Returns: trades in their order, without removed lines; trades with no line are left out. Queries: 3; those over
    lines and movements read an index alone.
    """
    rows = (
        LineItem.objects.filter(project=project, removed_on=None).values("trade_id", "kind").annotate(**SUMS).order_by()
    )
    work: dict[int, list[Figures]] = defaultdict(list)
    aside: list[Figures] = []
    for row in rows:
        (aside if row["kind"] == CONTINGENCY else work[row["trade_id"]]).append(_figures(row))
    trades = tuple(_trades(project, work))
    total = total_of([trade.figures for trade in trades])
    return Overview(trades, total, _contingency(aside), bridge(project, total))


def _figures(row: Mapping[str, Any]) -> Figures:
    return Figures(**{column.name: row[column.name] for column in fields(Figures)})


def _trades(project: Project, work: Mapping[int, Sequence[Figures]]) -> Iterator[TradeFigures]:
    for pk, code, name in Trade.objects.filter(project=project).values_list("pk", "code", "name"):
        if pk in work:
            yield TradeFigures(pk, code, name, total_of(work[pk]))


def total_of(rows: Sequence[Figures]) -> Figures:
    """Add up figures column by column; the yardsticks add up too, each over its own lines."""
    return Figures(**{column.name: sum(getattr(row, column.name) for row in rows) for column in fields(Figures)})


def _contingency(rows: Sequence[Figures]) -> Contingency | None:
    if not rows:
        return None
    return Contingency(start=sum(row.budget for row in rows), left=sum(row.likely for row in rows))


def bridge(project: Project, total: Figures) -> tuple[Step, ...]:
    """Read how the likely final came about, cause by cause in the order of the trade; causes that moved nothing are left out.

    Queries: 1. The ledger is summed from its index alone: the lines set aside are few and named once, so that not every
    movement is asked for the kind of its line.
    """
    aside = LineItem.objects.filter(project=project, kind=CONTINGENCY).values("pk")
    ledger = Movement.objects.filter(project=project).exclude(line_id__in=aside)
    moved = dict(ledger.values_list("cause").annotate(total=Sum("amount_minor")).order_by())
    steps, running = [], total.budget
    for cause in Cause:
        amount = moved.get(cause, 0)
        if amount:
            running += amount
            steps.append(Step(cause.value, str(cause.label), amount, running))
    return tuple(steps)
