"""What the contingency may still have to pay for: the open risks, and lines whose price binds nobody."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.db.models import Exists, Max, OuterRef, Q, QuerySet

from budget.calc import reserve as rules
from budget.models import AgreementLine, LineItem, Quote, QuoteLine, Risk
from projects.models import Project


@dataclass(frozen=True, slots=True)
class RiskRow:
    """A risk and what it costs on average [project minor units]."""

    risk: Risk
    expected: int


@dataclass(frozen=True, slots=True)
class SpreadRow:
    """A line that is not firmly priced [project minor units].

    How much of its likely final binds nobody, its highest complete quote, and how far it may still go.
    """

    line_id: int
    name: str
    not_firm: int
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

    A line is firm once it is closed, or let at a firm price, and while its preferred quote is a firm price that is
    complete and holds. Of a line let by an estimate or by rates, what is not billed is not firm; of any other let line,
    what is still to be let. Lines that cannot go farther are left out. Queries: 2.
    """
    found = [
        SpreadRow(pk, f"{code} {text}", not_firm, highest, rules.spread_of(rules.Unpriced(code, not_firm, highest)))
        for pk, code, text, not_firm, highest in [*_without_firm_price(project, today), *_let_and_not_firm(project)]
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


def _let_and_not_firm(project: Project) -> Iterator[tuple[int, str, str, int, None]]:
    standing = AgreementLine.objects.filter(
        agreement__project=project, agreement__reversal=None, line__closed_on=None, line__removed_on=None
    )
    rows = standing.select_related("line", "agreement__quote").order_by("line_id", "pk")
    for line, group in groupby(rows, key=lambda row: row.line):
        agreed = list(group)
        bound = all(row.agreement.quote.basis == Quote.Basis.FIRM for row in agreed)
        # The newest agreement knows best what is left to let.
        not_firm = agreed[-1].still_to_let_minor if bound else max(0, line.likely_minor - line.invoiced_minor)
        yield line.pk, line.code, line.description, not_firm, None
