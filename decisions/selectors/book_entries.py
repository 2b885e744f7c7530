"""Every entry of the savings book, read from where it was written: nothing is typed twice.

Decisions in force bring their savings and their effects, agreed changes what they cost or spare, exchange rates what
they made of what was let. Own entries tell of lines that no decision let.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from budget.calc.currencies import billed_movement_minor
from budget.models import Change, InvoiceLine, LineItem
from budget.selectors import billing
from budget.selectors.facts import IN_FORCE
from decisions.calc import savings_book, savings_life
from decisions.models import BookEntry, Decision, RecordKnockOn, Saving, SavingKind
from projects.models import Project

LABELS: dict[str, str | Promise] = {
    **{kind.value: kind.label for kind in SavingKind},
    savings_book.ADDITION: _("an owner\u2019s addition"),
    savings_book.OVERAGE: _("an overage"),
    savings_book.CURRENCY: _("exchange rates"),
    savings_book.CARRIED: _("already in the comparison"),
    savings_book.SPARED: _("a gap that cost less than the comparison held"),
}
#: A record in force has taken effect and was not reopened.
RECORD_IN_FORCE = Q(record__taking__isnull=False, record__reopening=None)


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry [project minor units]: above zero for saved, below for what eats.

    `decision` is the one it belongs to or eats into; `cause` says why, in words; `own` is there for own entries alone.
    """

    kind: str
    what: str
    amount_minor: int
    realised_minor: int
    state: str
    lines: tuple[int, ...]
    decision: int | None = None
    cause: str = ""
    change: int | None = None
    own: BookEntry | None = None

    @property
    def label(self) -> str:
        return str(LABELS[self.kind])

    @property
    def cause_told(self) -> str:
        """What ate, in words: the reason of a change, else the kind."""
        return self.cause if self.kind == savings_book.OVERAGE else self.label

    @property
    def counted(self) -> bool:
        """Decided, on a line that is let, and of a kind that counts."""
        return self.kind in savings_book.COUNTED and not self.is_idea

    @property
    def is_idea(self) -> bool:
        """An own entry that is not decided yet, or whose line is not let."""
        return self.own is not None and (
            self.state in (savings_life.IDEA, savings_life.PRICED)
            or (self.state == savings_life.DECIDED and self.kind != savings_book.AVOIDED)
        )

    @property
    def claim(self) -> savings_book.Claim:
        return savings_book.Claim(self.kind, self.amount_minor, self.lines, of_change=self.change is not None)

    @property
    def part(self) -> savings_book.Part:
        return savings_book.Part(self.kind, self.amount_minor, self.realised_minor)


@dataclass(frozen=True, slots=True)
class Book:
    """Every entry, with the lines that were let or are named, in the order of the budget."""

    entries: tuple[Entry, ...]
    lines: Mapping[int, LineItem]

    @property
    def standing(self) -> list[Entry]:
        """The entries that are no ideas."""
        return [entry for entry in self.entries if not entry.is_idea]


def read(project: Project) -> Book:
    """Read the book of a project. Queries: 8, and up to 4 more where something is let in another currency.

    Ideas of a decision that is taken are left out: its record holds what it saves.
    """
    saved, own = _savings(project), _own(project)
    named = {line for _saving, lines in saved for line in lines} | {entry.line_id for entry in own}
    rows = LineItem.objects.filter(Q(agreed_minor__isnull=False) | Q(pk__in=named), project=project, removed_on=None)
    lines = {line.pk: line for line in rows.select_related("trade").order_by("trade__position", "position", "pk")}
    let_by = _let_by(project)
    found = [
        *(_of_saving(saving, on, lines) for saving, on in saved),
        *(_of_own(entry, lines[entry.line_id]) for entry in own if entry.line_id in lines),
        *_effects(project),
        *_changes(project, lines, let_by),
        *_currency(project, lines, let_by),
    ]
    return Book(tuple(found), lines)


def of_decisions(project: Project) -> list[Entry]:
    """Read the savings of the decisions in force alone, without what they do to other lines. Queries: 3."""
    saved = _savings(project)
    named = {line for _saving, on in saved for line in on}
    lines = {line.pk: line for line in LineItem.objects.filter(project=project, pk__in=named)}
    return [_of_saving(saving, on, lines) for saving, on in saved]


def standing_own(project: Project) -> QuerySet[BookEntry]:
    """Own entries that nothing has followed or taken back."""
    return BookEntry.objects.filter(project=project, followed_by=None, reversal=None, reverses=None)


def _savings(project: Project) -> list[tuple[Saving, tuple[int, ...]]]:
    """The savings of decisions in force, with their lines; effects are read from where they landed."""
    rows = list(
        Saving.objects.filter(RECORD_IN_FORCE, record__decision__project=project)
        .exclude(kind=SavingKind.EFFECT)
        .select_related("record")
        .order_by("record__decided_on", "pk")
    )
    links = Saving.lines.through.objects.filter(saving__record__decision__project=project).order_by("lineitem_id")
    lines: dict[int, list[int]] = defaultdict(list)
    for saving, line in links.values_list("saving_id", "lineitem_id"):
        lines[saving].append(line)
    return [(row, tuple(lines[row.pk])) for row in rows]


def _own(project: Project) -> list[BookEntry]:
    rows = standing_own(project).filter(line__removed_on=None).select_related("decision", "line").order_by("pk")
    return [row for row in rows if row.decision is None or row.decision.state != Decision.State.DECIDED]


def _life(stage: str, on: Iterable[LineItem]) -> tuple[str, Any]:
    """How far the lines of a saving have brought it: its state, and the share of it that is realised."""
    lines = list(on)
    agreed, invoiced = (sum(getattr(line, name) or 0 for line in lines) for name in ("agreed_minor", "invoiced_minor"))
    closed = bool(lines) and all(line.closed_on for line in lines)
    let = bool(lines) and all(line.agreed_minor is not None for line in lines)
    state = savings_life.state(stage, let=let, invoiced_minor=invoiced, closed=closed)
    return state, savings_life.realised_share(state, invoiced, agreed)


def _of_saving(saving: Saving, on: tuple[int, ...], lines: Mapping[int, LineItem]) -> Entry:
    state, share = _life(savings_life.DECIDED, (lines[line] for line in on if line in lines))
    return Entry(
        kind=saving.kind, what=saving.what, amount_minor=saving.amount_minor, state=state, lines=on,
        realised_minor=_realised(saving.kind, saving.amount_minor, share), decision=saving.record.decision_id,
    )  # fmt: skip


def _of_own(entry: BookEntry, line: LineItem) -> Entry:
    state, share = _life(entry.state, [line])
    return Entry(
        kind=entry.kind, what=entry.what, amount_minor=entry.amount_minor, state=state, lines=(line.pk,), own=entry,
        realised_minor=_realised(entry.kind, entry.amount_minor, share), decision=entry.decision_id,
        cause=str(entry.get_how_display()),
    )  # fmt: skip


def _realised(kind: str, amount_minor: int, share: Any) -> int:
    return 0 if kind in savings_book.NOT_COUNTED else savings_life.realised_minor(amount_minor, share)


def _effects(project: Project) -> Iterator[Entry]:
    """What decisions in force do to lines, until a change puts it into an agreement."""
    taken_up = Change.objects.filter(knock_on=OuterRef("knock_on"), state__in=IN_FORCE)
    rows = RecordKnockOn.objects.filter(
        RECORD_IN_FORCE, record__decision__project=project, knock_on__reversal=None
    ).exclude(Exists(taken_up))  # fmt: skip
    for row in rows.select_related("knock_on", "record").order_by("pk"):
        yield Entry(
            kind=SavingKind.EFFECT, what=row.knock_on.reason, amount_minor=-row.knock_on.amount_minor, realised_minor=0,
            state=savings_life.DECIDED, lines=(row.knock_on.line_id,), decision=row.record.decision_id,
        )  # fmt: skip


def _changes(project: Project, lines: Mapping[int, LineItem], let_by: Mapping[int, int]) -> Iterator[Entry]:
    """What agreed changes on lines that are let cost or spare."""
    rows = Change.objects.filter(project=project, state=Change.State.AGREED).order_by("decided_on", "pk")
    billed = _billed(project)
    for row in rows.select_related("gap__agreement_line__agreement__reversal", "knock_on__from_record__record"):
        line = lines.get(row.line_id)
        if line is not None and line.agreed_minor is not None:
            yield from _of_change(row, billed.get(row.pk, 0), line, _eats(row, let_by))


def _of_change(change: Change, billed: int, line: LineItem, decision: int | None) -> Iterator[Entry]:
    parts = savings_book.of_change(
        change.amount_minor, billed, by_owner=change.paid_from == Change.Source.OWNER, carried_minor=carried(change)
    )
    for part in parts:
        yield Entry(
            kind=part.kind, what=str(change), amount_minor=part.amount_minor, realised_minor=part.realised_minor,
            state=savings_life.of_sum(part.amount_minor, part.realised_minor, closed=line.closed_on is not None),
            lines=(line.pk,), decision=decision, cause=str(change.get_reason_display()), change=change.pk,
        )  # fmt: skip


def carried(change: Change) -> int | None:
    """The gap of a standing agreement that a change prices, None for none [project minor units]."""
    gap = change.gap
    if gap is None or hasattr(gap.agreement_line.agreement, "reversal"):
        return None
    return gap.amount_minor


def _eats(change: Change, let_by: Mapping[int, int]) -> int | None:
    """The decision whose saving a change eats into: the one whose effect it takes up, or whose saving pays for it."""
    if change.knock_on is not None:
        tie = getattr(change.knock_on, "from_record", None)
        return tie.record.decision_id if tie else None
    pays = change.paid_from == Change.Source.SAVING or change.gap_id is not None
    return let_by.get(change.line_id) if pays else None


def _billed(project: Project) -> dict[int, int]:
    rows = InvoiceLine.objects.filter(change__project=project, invoice__state__in=billing.COUNTED)
    return dict(rows.values_list("change_id").annotate(total=Sum("cost_minor")).order_by())


def _currency(project: Project, lines: Mapping[int, LineItem], let_by: Mapping[int, int]) -> Iterator[Entry]:
    moved = [line for line in lines.values() if line.currency_minor]
    foreign = billing.foreign(project, [line.pk for line in moved]) if moved else {}
    for line in moved:
        realised = sum(billed_movement_minor(one, currency=project.currency) for one in foreign.get(line.pk, ()))
        closed = line.closed_on is not None
        yield Entry(
            kind=savings_book.CURRENCY, what=str(_("since it was agreed")), amount_minor=-line.currency_minor,
            realised_minor=-realised, state=savings_life.of_sum(line.currency_minor, realised, closed=closed),
            lines=(line.pk,), decision=let_by.get(line.pk),
        )  # fmt: skip


def _let_by(project: Project) -> dict[int, int]:
    """{line: the decision in force that settled it}."""
    rows = Decision.objects.filter(
        project=project, state=Decision.State.DECIDED, decision_lines__line__removed_on=None
    )  # fmt: skip
    return dict(rows.values_list("decision_lines__line_id", "pk"))
