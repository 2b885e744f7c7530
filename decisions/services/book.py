"""The savings book's own entries: added, taken further, taken back; none is ever edited.

Decisions, changes and exchange rates write their part of the book themselves. An own entry is for a line let without a
decision, for an idea, or for something put off; it claims no more than the line has saved and nobody has claimed.
"""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import LineItem
from budget.services.bounds import amount_within_bounds, date_within_bounds
from budget.services.ledger import lock
from decisions.calc import savings_book
from decisions.models import BookEntry, Decision, SavingKind
from decisions.selectors import book_entries, savings_proofs
from projects import display, trail
from projects.faults import Refused, Stale
from projects.models import Project, User

IDEA, PRICED, DECIDED = BookEntry.State.IDEA, BookEntry.State.PRICED, BookEntry.State.DECIDED
#: What an own entry may be; effects on other lines come from decisions alone.
KINDS = (
    SavingKind.SAME_FOR_LESS,
    SavingKind.SCOPE_CUT,
    SavingKind.LOWER_QUALITY,
    SavingKind.DEFERRAL,
    SavingKind.MOVED,
    SavingKind.AVOIDED,
    SavingKind.EXTRA,
)
ORDER = (IDEA, PRICED, DECIDED)


@dataclass(frozen=True, slots=True)
class EntryDraft:
    """An own entry as somebody enters it [project minor units]; an extra is below zero, everything else above."""

    kind: str
    line_id: int
    what: str
    amount_minor: int = 0
    state: str = DECIDED
    how: str = ""
    note: str = ""
    decision_id: int | None = None


@transaction.atomic
def add_entry(
    project: Project, draft: EntryDraft, *, by: User, now: datetime, today: date, on: date | None = None
) -> BookEntry:
    """Enter a saving of a line let without a decision, an idea, or what was put off.

    Writes BookEntry and a trail row; moves no figure. Not safe to repeat: what is claimed already is refused.
    Raises: Refused.
    """
    project = lock(project)
    entered_on = date_within_bounds(on or today, field="on", latest=today) or today
    entry = _entry(project, draft, by=by, now=now, on=entered_on)
    _must_be_named(entry)
    _must_be_single(entry)
    _must_be_claimable(entry)
    entry.save()
    return _noted(entry, _("Entered into the savings book: %s"), verb="entered", by=by, now=now)


def _entry(project: Project, draft: EntryDraft, *, by: User, now: datetime, on: date) -> BookEntry:
    line = LineItem.objects.filter(project=project, pk=draft.line_id, removed_on=None).first()
    if line is None:
        raise Refused(_("Choose a line of the budget."), field="line")
    decision = Decision.objects.filter(project=project, pk=draft.decision_id).first() if draft.decision_id else None
    if draft.decision_id and decision is None:
        raise Refused(_("Choose a decision of this project, or none."), field="decision")
    how = draft.how if draft.kind == SavingKind.SAME_FOR_LESS else ""
    return BookEntry(
        project=project, line=line, decision=decision, kind=draft.kind, how=how, state=draft.state,
        amount_minor=amount_within_bounds(draft.amount_minor, project.currency, field="amount", negative=True),
        what=draft.what.strip(), note=draft.note.strip()[:300], entered_on=on, entered_at=now, entered_by=by,
    )  # fmt: skip


def _must_be_named(entry: BookEntry) -> None:
    if entry.kind not in KINDS:
        raise Refused(
            _("Choose a kind from the list; decisions, changes and exchange rates enter theirs of themselves."),
            field="kind",
        )
    if entry.how not in ("", *BookEntry.How.values):
        raise Refused(_("Choose from the list how it came about."), field="how")
    if entry.state not in ORDER:
        raise Refused(_("Choose whether it is an idea, priced or decided."), field="state")
    if not entry.what or len(entry.what) > 200:
        raise Refused(_("Say in up to 200 letters what is saved; in a year nobody will know."), field="what")


def _must_be_single(entry: BookEntry) -> None:
    """One saving stands in the book once; the record of a decision holds what the decision saves."""
    standing = book_entries.standing_own(entry.project).exclude(pk=entry.follows_id or 0)
    twin = standing.filter(line=entry.line, kind=entry.kind, what__iexact=entry.what).first()
    if twin is not None:
        raise Refused(
            _("“%(what)s” stands in the book for %(line)s already; take it further, or take it back first.")
            % {"what": twin.what, "line": entry.line.code},
            field="what",
        )
    if entry.decision is None:
        return
    if entry.state == DECIDED or entry.decision.state != Decision.State.OPEN:
        raise Refused(
            _("What decision %(code)s saves stands in its record; enter it there, so that it is not counted twice.")
            % {"code": entry.decision.code},
            field="decision",
        )


def _must_be_claimable(entry: BookEntry) -> None:
    """What is decided shares out the difference between original quote and price; it never passes what is left of it."""
    if (entry.kind == SavingKind.EXTRA) != (entry.amount_minor < 0) and entry.amount_minor:
        raise Refused(_("An extra is below zero; every other kind of saving lies above."), field="amount")
    if entry.state == PRICED and not entry.amount_minor:
        raise Refused(_("What is priced has an amount; until then it is an idea."), field="amount")
    if entry.state != DECIDED:
        return
    if not entry.amount_minor:
        raise Refused(_("Say how much it comes to."), field="amount")
    if entry.kind in savings_book.CLAIMS:
        _must_be_left(entry)


def _must_be_left(entry: BookEntry) -> None:
    line, project = entry.line, entry.project
    if line.agreed_minor is None:
        raise Refused(
            _("%(line)s is not let yet; until it is, this is an idea, or priced.") % {"line": line}, field="state"
        )
    if line.original_minor is None:
        raise Refused(
            _("%(line)s has no original quote, so there is nothing to save against. Choose one first.")
            % {"line": line},
            field="line",
        )
    held = book_entries.read(project)
    claims = [each.claim for each in held.standing if each.own is None or each.own.pk != entry.follows_id]
    figures = savings_proofs.line_figures(project, held)
    left = savings_book.left_to_claim(line.pk, figures, claims)
    if not savings_book.may_claim(entry.amount_minor, left):
        _refuse_claim(entry, next(row for row in figures if row.line == line.pk), left)


def _refuse_claim(entry: BookEntry, figures: savings_book.LineFigures, left: int) -> None:
    """Say the figures that the claim does not fit into."""
    project = entry.project
    told = {
        "line": entry.line.code,
        "original": display.money(figures.original_minor, project, brief=True),
        "price": display.money(figures.price_minor, project, brief=True),
        "left": display.money(left, project, brief=True),
        "asked": display.money(entry.amount_minor, project, brief=True),
    }
    raise Refused(
        _(
            "%(asked)s would be counted twice: %(line)s has an original quote of %(original)s and a price of %(price)s with its "
            "gaps, and %(left)s of the difference is not in the book yet."
        )
        % told,
        field="amount",
    )


@transaction.atomic
def advance(
    entry: BookEntry, *, state: str, by: User, now: datetime, today: date, amount_minor: int | None = None, note: str = ""
) -> BookEntry:  # fmt: skip
    """Take an entry further: from an idea to priced, to decided.

    Args:
        amount_minor: the amount as it is known now, or None as before.
    Writes the BookEntry that takes its place, and a trail row. A second call on the same entry is refused.
    Raises: Refused, Stale.
    """
    project = lock(entry.project)
    held = _standing(entry)
    if state not in ORDER or ORDER.index(state) < ORDER.index(held.state):
        raise Refused(
            _("An entry goes from idea to priced to decided, never back; take it back instead."), field="state"
        )
    amount = held.amount_minor if amount_minor is None else amount_minor
    if held.state == DECIDED:
        raise Refused(_("It is decided; from here on its line says how far it has come."), field="state")
    if (state, amount) == (held.state, held.amount_minor):
        raise Refused(_("Nothing would change; choose how far it has come, or another amount."), field="state")
    made = BookEntry(
        project=project, line=held.line, decision=held.decision, kind=held.kind, how=held.how, what=held.what,
        state=state, amount_minor=amount_within_bounds(amount, project.currency, field="amount", negative=True),
        note=note.strip()[:300], entered_on=today, entered_at=now, entered_by=by, follows=held,
    )  # fmt: skip
    _must_be_single(made)
    _must_be_claimable(made)
    made.save()
    return _noted(made, _("Took further in the savings book: %s"), verb="took further", by=by, now=now)


@transaction.atomic
def take_back(entry: BookEntry, *, reason: str, by: User, now: datetime, today: date) -> BookEntry:
    """Take an entry out of the book; its rows stay.

    Writes the BookEntry that reverses it, and a trail row. A second call is refused. Raises: Refused, Stale.
    """
    project = lock(entry.project)
    held = _standing(entry)
    if not reason.strip():
        raise Refused(_("Say why the entry is taken back."), field="reason")
    made = BookEntry.objects.create(
        project=project, line=held.line, decision=held.decision, kind=held.kind, how=held.how, what=held.what,
        state=held.state, amount_minor=-held.amount_minor, note=reason.strip()[:300], entered_on=today, entered_at=now,
        entered_by=by, reverses=held,
    )  # fmt: skip
    return _noted(made, _("Took back from the savings book: %s"), verb="took back", by=by, now=now)


def _standing(entry: BookEntry) -> BookEntry:
    """Read an entry anew; one that was taken further or back meanwhile no longer stands."""
    held = book_entries.standing_own(entry.project).select_related("line", "decision").filter(pk=entry.pk).first()
    if held is None:
        raise Stale(_("This entry was taken further, or back, in the meantime; look at the book again."))
    return held


def none_entered(lines: Collection[int]) -> None:
    """Refuse where an own entry claims what a decision on these lines is about to claim. Raises: Refused."""
    rows = BookEntry.objects.filter(
        line_id__in=lines, state=DECIDED, kind__in=savings_book.CLAIMS, followed_by=None, reversal=None, reverses=None
    )
    row = rows.select_related("line").first()
    if row is not None:
        raise Refused(
            _(
                "The savings book has “%(what)s” for %(line)s; the decision would count it twice. Take that entry back first."
            )
            % {"what": row.what, "line": row.line}
        )


def _noted(entry: BookEntry, words: str, *, verb: str, by: User, now: datetime) -> BookEntry:
    trail.note(
        entry.project, by=by, at=now, verb=verb, subject="saving", subject_id=entry.pk,
        summary=words % f"{entry.line.code} {entry.what}",
    )  # fmt: skip
    return entry
