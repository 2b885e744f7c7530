"""What needs somebody now, worst first."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Exists, OuterRef, Q

from budget.calc import levelling, outliers
from budget.models import LineItem, Quote, QuoteItem, QuoteLine, ScopeItem
from budget.selectors import facts
from decisions.models import Decision, DecisionLine
from decisions.selectors import overview as decisions
from projects.access import Door
from projects.models import ApprovalLimit, Project, Role
from reports.calc import urgency
from reports.selectors import today_money, today_plan
from reports.selectors.matters import Group, Matter

SOON = timedelta(days=14)
Standing = QuoteItem.Standing
#: Sorts that are worth a look and press nobody.
WORTH_A_LOOK = frozenset({"away", "turned", "under", "nobody", "gaps"})


@dataclass(frozen=True, slots=True)
class Today:
    mine: tuple[Matter, ...]
    groups: tuple[Group, ...]
    overdue: int
    due_soon: int
    running_out: int
    unquoted: int
    opening: today_plan.Opening | None = None

    @property
    def cover(self) -> Group | None:
        """Work that may not be covered yet: what is done wrong here cannot be undone, so it comes before all else."""
        return next((group for group in self.groups if group.kind == "cover"), None)

    @property
    def own(self) -> Group | None:
        """What waits for the one who asks, as a group."""
        return Group("mine", self.mine) if self.mine else None

    @property
    def pressing(self) -> tuple[Group, ...]:
        return tuple(group for group in self.groups if group.kind not in WORTH_A_LOOK | {"cover"})

    @property
    def worth_a_look(self) -> tuple[Group, ...]:
        return tuple(group for group in self.groups if group.kind in WORTH_A_LOOK)

    @property
    def worth(self) -> int:
        return sum(len(group.matters) for group in self.worth_a_look)

    @property
    def quiet(self) -> bool:
        return not self.mine and not self.groups


@dataclass(frozen=True, slots=True)
class _Quote:
    """An open quote on a line, by its kept figures [project minor units]."""

    id: int
    vendor: str
    preferred: bool
    quoted_minor: int
    net_minor: int
    levelled_minor: int
    complete: bool
    valid_until: date | None


@dataclass(frozen=True, slots=True)
class _Line:
    pk: int
    name: str
    in_decision: bool
    quotes: tuple[_Quote, ...]


def today(door: Door) -> Today:
    """Read what waits in a project for the one who asks.

    Returns: what waits for this person first, then the rest by sort, each worst first. Left out: lines that are let,
    but for the scope their agreements leave open. Queries: 8, and those of `today_money.matters`.
    """
    project = door.project
    lines = _unlet_lines(project)
    to_accept = list(_to_accept(project, lines, door))
    recorded = decisions.recorded(project)
    approvals = [_approval(row) for row in recorded if row.decision.state == Decision.State.WAITING]
    opening = today_plan.opening_of(door)
    due = list(_due(door, decisions.due(project, today=door.today), planned=opening is not None))
    work = today_plan.matters(door) if opening else {}
    money = today_money.matters(door)
    mine = sorted([*([*approvals, *to_accept] if door.may_approve else []), *money.pop("mine")], key=_place)
    out = list(_running_out(lines, door.today))
    groups = {
        "cover": work.pop("cover", []),
        "decision": [matter for matter in due if matter.days_left is not None and matter.days_left <= SOON.days],
        "owner": [] if door.may_approve else [*approvals, *to_accept],
        **work,
        **money,
        "running": out,
        "turned": list(_turned(lines)),
        "under": list(_far_under(lines)),
        "nobody": list(_scope_of_nobody(project)),
        "gaps": list(_open_gaps(project)),
    }
    return Today(
        mine=tuple(mine),
        groups=tuple(Group(kind, tuple(sorted(rows, key=_place))) for kind, rows in groups.items() if rows),
        overdue=sum(matter.late for matter in due),
        due_soon=sum(1 for matter in groups["decision"] if not matter.late),
        running_out=sum(len(matter.names) for matter in out)
        + sum(1 for matter in due if matter.decision for quote in matter.decision.running_out if 0 <= quote.days_left <= SOON.days),
        unquoted=LineItem.objects.filter(
            project=project, removed_on=None, kind=LineItem.Kind.WORK, original_minor=None, agreed_minor=None
        ).count(),
        opening=opening,
    )  # fmt: skip


def _place(matter: Matter) -> tuple[bool, int, int]:
    return urgency.place(matter.days_left, matter.amount_minor)


def _due(door: Door, rows: list[decisions.DueRow], *, planned: bool) -> Iterator[Matter]:
    """Open decisions; what waiting may cost is the sum of the prices in one that stop holding, and what the plan says."""
    soon = [row.decision for row in rows if row.days_left is not None and row.days_left <= SOON.days]
    until = today_plan.deadlines(door.project, soon, door.today) if planned else {}
    for row in rows:
        at_stake = sum(quote.amount_minor for quote in row.running_out)
        yield Matter("decision", row.days_left, at_stake, decision=row, deadline=until.get(row.decision.pk))


def _approval(row: decisions.TakenRow) -> Matter:
    return Matter("approval", 0, row.price_minor, waiting=row)


def _unlet_lines(project: Project) -> list[_Line]:
    """The lines that are not let, with their open quotes. Queries: 1."""
    open_decisions = DecisionLine.objects.exclude(decision__state=Decision.State.DECIDED)
    rows = (
        QuoteLine.objects.filter(
            line__project=project, line__removed_on=None, line__agreed_minor=None, quote__state=Quote.State.OPEN
        )
        .annotate(in_decision=Exists(open_decisions.filter(line=OuterRef("line"))))
        .order_by("line__position", "line_id", "pk")
        .values_list(
            "line_id", "line__code", "line__description", "in_decision", "quote_id", "quote__vendor__name", "preferred", "given_minor",
            "net_minor", "levelled_minor", "complete", "quote__valid_until",
        )
    )  # fmt: skip
    found: dict[int, tuple[str, bool, list[_Quote]]] = {}
    for row in rows:
        line, code, description, in_decision = row[:4]
        found.setdefault(line, (f"{code} {description}", in_decision, []))[2].append(_Quote(*row[4:]))
    return [_Line(pk, name, in_decision, tuple(quotes)) for pk, (name, in_decision, quotes) in found.items()]


def _running_out(lines: list[_Line], now: date) -> Iterator[Matter]:
    """Lines whose quotes run out within two weeks; those of an open decision are told of with it."""
    for line in lines:
        soon = sorted(
            (quote for quote in line.quotes if quote.valid_until and now <= quote.valid_until <= now + SOON),
            key=lambda quote: quote.valid_until or now,
        )
        if soon and not line.in_decision and soon[0].valid_until:
            yield Matter(
                "running", (soon[0].valid_until - now).days, sum(quote.levelled_minor for quote in soon), line_id=line.pk,
                line=line.name, names=tuple(quote.vendor for quote in soon), on=soon[0].valid_until,
            )  # fmt: skip


def _turned(lines: list[_Line]) -> Iterator[Matter]:
    for line in lines:
        if found := levelling.turned(line.quotes):
            looked, won = found
            yield Matter(
                "turned", None, won.quoted_minor - looked.quoted_minor, line_id=line.pk, line=line.name, vendor=looked.vendor,
                other=won.vendor, other_minor=looked.levelled_minor - won.levelled_minor if looked.complete else 0,
            )  # fmt: skip


def _far_under(lines: list[_Line]) -> Iterator[Matter]:
    for line in lines:
        far = outliers.far_below({str(quote.id): quote.levelled_minor for quote in line.quotes if quote.complete})
        for quote in line.quotes:
            if str(quote.id) in far:
                yield Matter("under", None, quote.levelled_minor, line_id=line.pk, line=line.name, vendor=quote.vendor)


def _to_accept(project: Project, lines: list[_Line], door: Door) -> Iterator[Matter]:
    """Preferred quotes above what the lead may commit: they wait for an owner to accept them."""
    limits = ApprovalLimit.objects.filter(project=project, role=Role.LEAD).values_list("amount_minor", flat=True)
    most = next(iter(limits), 0)  # no row means nothing, an empty one any amount
    for line in lines:
        for quote in line.quotes:
            if quote.preferred and most is not None and quote.net_minor > most:
                left = (quote.valid_until - door.today).days if quote.valid_until else None
                yield Matter(
                    "accept", left, quote.net_minor, line_id=line.pk, line=line.name, quote_id=quote.id,
                    vendor=quote.vendor, on=quote.valid_until,
                )  # fmt: skip


def _scope_of_nobody(project: Project) -> Iterator[Matter]:
    """Entries of a scope list that every open quote on an unlet line leaves out, unclear or to the owner. Queries: 1."""
    quoted = Q(line__quote_lines__quote__state=Quote.State.OPEN)
    rows = (
        ScopeItem.objects.filter(line__project=project, line__removed_on=None, line__agreed_minor=None, removed_at=None)
        .annotate(
            quotes=Count("line__quote_lines", filter=quoted, distinct=True),
            having=Count(
                "quote_items",
                filter=Q(
                    quote_items__quote__state=Quote.State.OPEN,
                    quote_items__standing__in=[Standing.PRICED, Standing.INCLUDED],
                ),
                distinct=True,
            ),
        )
        .filter(quotes__gt=0, having=0)
        .order_by("line__position", "position")
        .values_list("line_id", "line__code", "line__description", "name", "plug_minor")
    )
    by_line: dict[int, list[tuple[str, str, int]]] = {}
    for line, code, description, name, plug in rows:
        by_line.setdefault(line, []).append((f"{code} {description}", name, plug or 0))
    for line, entries in by_line.items():
        yield Matter(
            "nobody", None, sum(plug for _line, _name, plug in entries), line_id=line, line=entries[0][0],
            names=tuple(name for _line, name, _plug in entries),
        )  # fmt: skip


def _open_gaps(project: Project) -> Iterator[Matter]:
    """Scope that standing agreements leave open: it will have to be paid for beside them. Queries: 1."""
    rows = (
        facts.open_gaps(project)
        .filter(amount_minor__gt=0)
        .order_by("agreement_line__line__position", "pk")
        .values_list(
            "name", "amount_minor", "agreement_line__line_id", "agreement_line__line__code", "agreement_line__line__description",
        )
    )  # fmt: skip
    by_line: dict[int, list[tuple[str, str, int]]] = {}
    for name, amount, line, code, what in rows:
        by_line.setdefault(line, []).append((f"{code} {what}", name, amount))
    for line, gaps in by_line.items():
        yield Matter(
            "gaps", None, sum(amount for _line, _name, amount in gaps), line_id=line, line=gaps[0][0],
            names=tuple(name for _line, name, _amount in gaps),
        )  # fmt: skip
