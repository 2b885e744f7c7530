"""Changes as pages show them: who is waited for and since when, what stands, and what each has moved."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, F, Max, OuterRef, Q, QuerySet
from django.shortcuts import get_object_or_404

from budget.calc.forecast import ChangeFact, expected_changes
from budget.models import (
    AgreementGap,
    AgreementLine,
    Change,
    ChangeStep,
    InvoiceLine,
    KnockOn,
    LineItem,
    Movement,
)
from budget.selectors.facts import IN_FORCE
from projects import limits
from projects import selectors as people
from projects.access import MAY
from projects.models import Membership, Project

State, Verb = Change.State, ChangeStep.Verb
#: Steps after which a change waits for an answer.
ASKED = (Verb.RAISED, Verb.PRICED, Verb.REOPENED)


@dataclass(frozen=True, slots=True)
class Agreeing:
    """Who may agree to how much: the limit of each role, and its members by name. None is any amount."""

    limits: dict[str, int | None]
    members: tuple[tuple[str, str], ...]

    def may(self, role: str, amount_minor: int) -> bool:
        """Tell whether a role may agree to a change of this amount; one that costs nothing needs no limit."""
        return role in MAY["commit"] and limits.covers(self.limits.get(role, 0), max(0, amount_minor))

    def names(self, amount_minor: int) -> list[str]:
        """The members who may agree to it, those of the smaller limit first."""
        return [name for name, role in self.members if self.may(role, amount_minor)]

    def limit(self, role: str) -> int | None:
        return self.limits.get(role, 0)


def agreeing(project: Project) -> Agreeing:
    """Read the limits and the members who have one. Queries: 2."""
    rows = Membership.objects.filter(project=project, left_at=None, role__in=MAY["commit"]).select_related("user")
    members = tuple((row.user.called, row.role) for row in rows.order_by("role", "pk"))
    return Agreeing(people.limits(project), members)


@dataclass(frozen=True, slots=True)
class ChangeRow:
    """One change in a list, since when it waits, and who may answer; `likely` is what it counts for [minor units]."""

    change: Change
    since: date
    waited: int
    names: tuple[str, ...]
    mine: bool
    likely: int


@dataclass(frozen=True, slots=True)
class Listing:
    """The changes of a project, those that wait first and longest-waiting first; sums in minor units."""

    waiting: tuple[ChangeRow, ...]
    agreed: tuple[Change, ...]
    dropped: tuple[Change, ...]
    waiting_minor: int
    likely_minor: int
    agreed_minor: int

    @property
    def mine(self) -> int:
        """How many wait for the one who looks."""
        return sum(row.mine for row in self.waiting)

    @property
    def empty(self) -> bool:
        return not (self.waiting or self.agreed or self.dropped)


def listing(project: Project, *, role: str, today: date) -> Listing:
    """Read every change of a project, as a member of one role looks at it. Queries: 3."""
    rows = list(_rows(project))
    who = agreeing(project)
    waiting = sorted((_waiting(row, who, role, today) for row in _in(rows, State.PROPOSED)), key=lambda row: row.since)
    agreed = sorted(_in(rows, State.AGREED), key=lambda row: (row.decided_on, row.pk), reverse=True)
    return Listing(
        waiting=tuple(waiting),
        agreed=tuple(agreed),
        dropped=tuple(_in(rows, State.DECLINED, State.WITHDRAWN)),
        waiting_minor=sum(row.change.amount_minor for row in waiting),
        likely_minor=sum(row.likely for row in waiting),
        agreed_minor=sum(row.amount_minor for row in agreed),
    )


def _rows(project: Project) -> QuerySet:
    asked = Max("steps__taken_on", filter=Q(steps__verb__in=ASKED))
    return Change.objects.filter(project=project).select_related("line").annotate(asked_on=asked).order_by("pk")


def _in(rows: Sequence[Change], *states: str) -> list[Change]:
    return [row for row in rows if row.state in states]


def _waiting(row: Change, who: Agreeing, role: str, today: date) -> ChangeRow:
    since = getattr(row, "asked_on", None) or row.raised_on
    return ChangeRow(
        change=row, since=since, waited=(today - since).days, names=tuple(who.names(row.amount_minor)),
        mine=who.may(role, row.amount_minor), likely=expected(row),
    )  # fmt: skip


def expected(change: Change) -> int:
    """What a change counts for in the likely final of its line [project minor units]."""
    return expected_changes([ChangeFact(change.amount_minor, change.state, change.chance)])


@dataclass(frozen=True, slots=True)
class Place:
    """What a change may stand in place of: an open piece of an agreement, or a decision's effect [minor units]."""

    key: str
    name: str
    amount: int
    is_gap: bool


def places(project: Project, line_id: int) -> list[Place]:
    """Read what a line's agreement leaves open and what decisions put on it, as far as no change prices it. Queries: 2."""
    priced = Change.objects.filter(state__in=IN_FORCE)
    gaps = AgreementGap.objects.filter(
        ~Exists(priced.filter(gap=OuterRef("pk"))),
        agreement_line__line_id=line_id, agreement_line__line__project=project, agreement_line__agreement__reversal=None,
    )  # fmt: skip
    effects = KnockOn.objects.filter(
        ~Exists(priced.filter(knock_on=OuterRef("pk"))),
        line_id=line_id, line__project=project, reverses=None, reversal=None,
    )  # fmt: skip
    found = [Place(f"gap-{row.pk}", row.name, row.amount_minor, True) for row in gaps.order_by("pk")]
    return found + [Place(f"effect-{row.pk}", row.reason, row.amount_minor, False) for row in effects.order_by("pk")]


def let_lines(project: Project) -> list[tuple[str, list[tuple[int, str]]]]:
    """The lines that may be changed, by trade, in the order of the budget: [(trade, [(id, name)])]. Queries: 1."""
    standing = AgreementLine.objects.filter(line=OuterRef("pk"), agreement__reversal=None)
    lines = LineItem.objects.filter(Exists(standing), project=project, removed_on=None, closed_on=None)
    found: dict[str, list[tuple[int, str]]] = {}
    for line in lines.select_related("trade").order_by("trade__position", "trade_id", "position", "code"):
        found.setdefault(line.trade.name, []).append((line.pk, str(line)))
    return list(found.items())


def asked_by(project: Project) -> list[str]:
    """Who has asked for changes before. Queries: 1."""
    names = Change.objects.filter(project=project).exclude(asked_by="").order_by("asked_by")
    return list(names.values_list("asked_by", flat=True).distinct())


def change_in(project: Project, change_id: int) -> Change:
    """One change of this project, or 404. Queries: 1."""
    rows = Change.objects.select_related("line__trade", "gap", "knock_on", "raised_by")
    change = get_object_or_404(rows, project=project, pk=change_id)
    change.project = project
    return change


@dataclass(frozen=True, slots=True)
class ChangePage:
    """One change with its steps, papers, invoices and movements, and the sums it belongs to [minor units]."""

    change: Change
    row: ChangeRow
    steps: tuple[ChangeStep, ...]
    files: tuple[object, ...]
    billed: tuple[InvoiceLine, ...]
    moved: tuple[Movement, ...]
    agreed: tuple[AgreementLine, ...]
    #: agreed changes of the line before this one, and the agreement with all of them and this one
    before_minor: int
    after_minor: int

    @property
    def agreement(self) -> AgreementLine | None:
        """The agreement that is altered, where it is the only one that stands on the line."""
        return self.agreed[0] if len(self.agreed) == 1 else None

    @property
    def answer(self) -> ChangeStep | None:
        """The step that gave the answer which stands, once there is one."""
        return self.steps[-1] if self.change.state != State.PROPOSED else None


def change_page(project: Project, change_id: int, *, role: str, today: date) -> ChangePage:
    """Read everything that one change's page and its paper tell. Queries: 8."""
    change = change_in(project, change_id)
    steps = tuple(change.steps.order_by("pk"))
    asked = [step.taken_on for step in steps if step.verb in ASKED]
    change.asked_on = max(asked, default=change.raised_on)  # type: ignore[attr-defined]
    line = change.line
    agreed = tuple(
        AgreementLine.objects.filter(line=line, agreement__reversal=None)
        .select_related("agreement__vendor")
        .order_by("pk")
    )
    own = change.amount_minor if change.state == State.AGREED else 0
    before = line.changes_minor - own
    billed = InvoiceLine.objects.filter(change=change).select_related("invoice__vendor").order_by("pk")
    return ChangePage(
        change=change,
        row=_waiting(change, agreeing(project), role, today),
        steps=steps,
        files=tuple(row.attachment for row in change.attachments.select_related("attachment").order_by("pk")),
        billed=tuple(billed),
        moved=tuple(_moved(project, change)),
        agreed=agreed,
        before_minor=before,
        after_minor=(line.agreed_minor or 0) + before + change.amount_minor,
    )


def _moved(project: Project, change: Change) -> QuerySet:
    own = Movement.objects.filter(project=project, source="change", source_id=change.pk)
    return own.select_related("line").order_by("pk")


@dataclass(frozen=True, slots=True)
class LineChanges:
    """The changes of a line, the newest first, and what may still be priced by one."""

    rows: tuple[Change, ...]
    places: tuple[Place, ...]

    @property
    def priced_gaps(self) -> set[int | None]:
        """The open pieces of the agreement that a change has taken the place of."""
        return {row.gap_id for row in self.rows if row.state in IN_FORCE}

    @property
    def priced_effects(self) -> set[int | None]:
        return {row.knock_on_id for row in self.rows if row.state in IN_FORCE}


def of_line(project: Project, line_id: int) -> LineChanges:
    """Read what one line's page tells of changes. Queries: 3."""
    rows = Change.objects.filter(project=project, line_id=line_id).select_related("gap", "knock_on")
    return LineChanges(tuple(rows.order_by(F("raised_on").desc(), "-pk")), tuple(places(project, line_id)))
