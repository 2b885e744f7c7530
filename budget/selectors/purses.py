"""What budget each line holds as moved, to choose from when budget moves."""

from dataclasses import dataclass

from django.db.models import F, QuerySet

from budget.models import LineItem
from projects.models import Project

CONTINGENCY = LineItem.Kind.CONTINGENCY


@dataclass(frozen=True, slots=True)
class Holding:
    """A line by its trade, and the budget it holds as moved [project minor units]."""

    line_id: int
    name: str
    trade: str
    kind: str
    held_minor: int


def holdings(project: Project, *, aside: bool = False, closed: bool = False) -> list[Holding]:
    """Read lines to choose from, the contingency first, then in the order of the budget. Queries: 1.

    Args:
        aside: the contingency alone.
        closed: with the closed lines, too.
    """
    rows = _rows(project)
    rows = rows.filter(kind=CONTINGENCY) if aside else rows
    found = [
        Holding(pk, f"{code} {text}", f"{trade} {name}", kind, held)
        for pk, code, text, trade, name, kind, held in (rows if closed else rows.filter(closed_on=None))
    ]
    return sorted(found, key=lambda one: one.kind != CONTINGENCY)


def _rows(project: Project) -> QuerySet:
    rows = LineItem.objects.filter(project=project, removed_on=None).order_by("trade__position", "position", "code")
    return rows.annotate(held=F("budget_minor") + F("moved_minor")).values_list(
        "pk", "code", "description", "trade__code", "trade__name", "kind", "held"
    )
