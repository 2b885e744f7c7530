"""What the contingency may still have to pay for: the open risks, and lines whose price binds nobody."""

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from budget.calc import reserve as rules
from budget.models import LineItem, Quote, QuoteLine, Risk
from projects.models import Project


@dataclass(frozen=True, slots=True)
class RiskRow:
    """A risk and what it costs on average [project minor units]."""

    risk: Risk
    expected: int


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """A line without a firm price [project minor units]: its likely final, its highest complete quote, how far it may go."""

    line_id: int
    name: str
    likely: int
    highest: int | None
    spread: int


def open_risks(project: Project) -> tuple[RiskRow, ...]:
    """Read the open risks, the one that costs most on average first. Queries: 1."""
    day = project.cost_of_day_minor
    rows = [
        RiskRow(risk, rules.expected_minor(_fact(risk), day)) for risk in _risks(project).filter(state=Risk.State.OPEN)
    ]
    return tuple(sorted(rows, key=lambda row: -row.expected))


def closed_risks(project: Project) -> tuple[Risk, ...]:
    """Read the risks that happened or passed. Queries: 1."""
    return tuple(_risks(project).exclude(state=Risk.State.OPEN))


def register(project: Project, rows: tuple[RiskRow, ...]) -> rules.Register:
    """Take the open risks together. Queries: none."""
    return rules.register([_fact(row.risk) for row in rows], project.cost_of_day_minor)


def _risks(project: Project) -> QuerySet:
    return Risk.objects.filter(project=project).select_related("line", "change").order_by("code", "pk")


def _fact(risk: Risk) -> rules.RiskFact:
    return rules.RiskFact(risk.code, risk.chance, risk.cost_minor, risk.days)


def spreads(project: Project, *, today: date) -> tuple[SpreadRow, ...]:
    """Read how far lines without a firm price may still go, the farthest first.

    A line is firm once it is let or closed, and while its preferred quote is a firm price that is complete and holds.
    Lines that cannot go farther are left out. Queries: 1.
    """
    found = [
        SpreadRow(pk, f"{code} {text}", likely, highest, rules.spread_of(rules.Unpriced(code, likely, highest)))
        for pk, code, text, likely, highest in _without_firm_price(project, today)
    ]
    return tuple(sorted((row for row in found if row.spread), key=lambda row: -row.spread))


def _without_firm_price(project: Project, today: date) -> QuerySet:
    holds = Q(quote__valid_until=None) | Q(quote__valid_until__gte=today)
    standing = QuoteLine.objects.filter(holds, line=OuterRef("pk"), complete=True, quote__state=Quote.State.OPEN)
    binding = standing.filter(preferred=True, quote__basis=Quote.Basis.FIRM)
    highest = standing.order_by().values("line").annotate(most=Max("levelled_minor")).values("most")
    open_lines = LineItem.objects.filter(project=project, removed_on=None, closed_on=None, agreed_minor=None)
    return (
        open_lines.exclude(kind=LineItem.Kind.CONTINGENCY)
        .exclude(Exists(binding))
        .annotate(highest=highest)
        .values_list("pk", "code", "description", "likely_minor", "highest")
    )
