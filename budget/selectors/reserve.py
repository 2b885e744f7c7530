"""The contingency: what is left of it, what it may still have to pay for, and whether it is enough."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import F, QuerySet, Sum
from django.shortcuts import get_object_or_404

from budget.calc import forecast, pace
from budget.calc import reserve as rules
from budget.models import Change, LineItem, Risk, Transfer
from budget.selectors import open_cost, pot
from budget.selectors.facts import IN_FORCE
from budget.selectors.open_cost import RiskRow, SpreadRow
from budget.selectors.pot import Pot
from projects.models import Project
from units.money import round_minor


@dataclass(frozen=True, slots=True)
class LikelyDraw:
    """A proposed change that would be paid from the contingency, and what it takes by its chance [project minor units]."""

    change: Change
    expected: int


@dataclass(frozen=True, slots=True)
class OverRow:
    """A line of work, and by how much it is likely to end above its budget as moved [project minor units]."""

    line_id: int
    name: str
    over: int
    closed: bool


@dataclass(frozen=True, slots=True)
class Beside:
    """Changes that are not paid from the contingency, and their sums [project minor units]."""

    changes: tuple[Change, ...]
    agreed: int
    proposed: int

    @property
    def total(self) -> int:
        return self.agreed + self.proposed


@dataclass(frozen=True, slots=True)
class Reserve:
    """The contingency of a project [project minor units].

    `likely` is what the likely draws take by their chance, `over` the lines above their budget as moved, the farthest
    first, `risk` what the open risks cost on average, `spread` how far lines without a firm price may still go. `wishes` and
    `back_charges` never leave the pot.
    """

    pot: Pot
    likely_draws: tuple[LikelyDraw, ...]
    likely: int
    over: tuple[OverRow, ...]
    risks: tuple[RiskRow, ...]
    register: rules.Register
    spreads: tuple[SpreadRow, ...]
    spread: int
    cover: rules.Cover
    wishes: Beside
    back_charges: Beside
    pace: pace.Pace | None

    @property
    def start(self) -> int:
        return self.pot.start

    @property
    def drawn(self) -> int:
        return self.pot.drawn

    @property
    def left(self) -> int:
        return self.pot.left

    @property
    def left_after_likely(self) -> int:
        return self.left - self.likely

    @property
    def uncovered(self) -> int:
        """What lines lie above their budget as moved; no transfer covers it yet."""
        return sum(row.over for row in self.over)

    @property
    def risk(self) -> int:
        return self.register.expected_minor

    @property
    def open(self) -> int:
        """What is held against the pot: open risk and spread."""
        return self.risk + self.spread

    @property
    def amber_under(self) -> int:
        return round_minor(self.open * rules.AMBER_UNDER)


def reserve(project: Project, *, today: date) -> Reserve | None:
    """Read the contingency, or None where nothing was set aside. Queries: 8, whatever the number of rows."""
    held = pot.pot(project)
    if held is None:
        return None
    changes = list(_changes(project))
    draws = _likely_draws(changes)
    risks, spreads = open_cost.open_risks(project), open_cost.spreads(project, today=today)
    register, spread = open_cost.register(project, risks), sum(row.spread for row in spreads)
    sums = _sums(project)
    return Reserve(
        pot=held,
        likely_draws=draws,
        likely=sum(draw.expected for draw in draws),
        over=_over(project),
        risks=risks,
        register=register,
        spreads=spreads,
        spread=spread,
        cover=rules.cover(held.left, register.expected_minor, spread),
        wishes=_beside(change for change in changes if not rules.may_draw(change.reason)),
        back_charges=_beside(change for change in changes if change.paid_from == Change.Source.BACK_CHARGE),
        pace=pace.pace(
            drawn_minor=held.drawn,
            start_minor=held.start,
            invoiced_minor=sums["invoiced"],
            likely_minor=sums["likely"],
        ),
    )


def _changes(project: Project) -> QuerySet:
    """Changes in force that are paid from the pot, or that have to be kept from it."""
    rows = Change.objects.filter(project=project, state__in=IN_FORCE, amount_minor__gt=0).select_related("line")
    return rows.order_by("raised_on", "pk")


def _likely_draws(changes: Iterable[Change]) -> tuple[LikelyDraw, ...]:
    return tuple(
        LikelyDraw(change, forecast.expected_changes([_fact(change)]))
        for change in changes
        if change.paid_from == Change.Source.CONTINGENCY and change.state == Change.State.PROPOSED
    )


def _fact(change: Change) -> forecast.ChangeFact:
    return forecast.ChangeFact(change.amount_minor, change.state, change.chance)


def _beside(changes: Iterable[Change]) -> Beside:
    found = tuple(changes)
    agreed = sum(change.amount_minor for change in found if change.state == Change.State.AGREED)
    return Beside(found, agreed, sum(change.amount_minor for change in found) - agreed)


def _work(project: Project) -> QuerySet:
    return LineItem.objects.filter(project=project, removed_on=None).exclude(kind=LineItem.Kind.CONTINGENCY)


def _over(project: Project) -> tuple[OverRow, ...]:
    rows = _work(project).annotate(over=F("likely_minor") - F("budget_minor") - F("moved_minor")).filter(over__gt=0)
    found = rows.order_by("-over", "position").values_list("pk", "code", "description", "over", "closed_on")
    return tuple(OverRow(pk, f"{code} {text}", over, closed is not None) for pk, code, text, over, closed in found)


def _sums(project: Project) -> dict[str, int]:
    """Over all lines of work: what is billed, what is likely."""
    return _work(project).aggregate(invoiced=Sum("invoiced_minor", default=0), likely=Sum("likely_minor", default=0))


def risk_in(project: Project, risk_id: int) -> Risk:
    """One risk of this project, or 404. Queries: 1."""
    return get_object_or_404(Risk.objects.select_related("project", "line"), project=project, pk=risk_id)


def transfer_in(project: Project, transfer_id: int) -> Transfer:
    """One transfer of this project, or 404. Queries: 1."""
    rows = Transfer.objects.select_related("project", "from_line", "to_line", "change")
    return get_object_or_404(rows, project=project, pk=transfer_id)


def choosable_changes(project: Project) -> list[Change]:
    """Changes that a risk may have become: those in force, the newest first. Queries: 1."""
    return list(Change.objects.filter(project=project, state__in=IN_FORCE).order_by("-raised_on", "-pk"))
