"""Changes: asked for, priced, agreed or declined, each step kept, and the likely final moving with the first of them.

A change counts from the day somebody says it is likely: proposed by its chance, agreed in full (ADR 0105, 0122). It may
stand in place of a gap of the agreement or of a decision's effect, never beside it. Who may agree to it follows from
the limits of the roles; above them it waits.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import Cause, Change, ChangeAttachment, ChangeStep
from budget.selectors.facts import IN_FORCE
from budget.services import change_rules as rules
from budget.services import transfers
from budget.services.bounds import columns_within_bounds, date_within_bounds
from budget.services.ledger import Deed, lock, settle
from projects import display, trail
from projects.faults import Refused, Stale
from projects.models import Attachment, Project, User

State, Verb = Change.State, ChangeStep.Verb


@dataclass(frozen=True, slots=True)
class ChangeDraft:
    """A change as somebody enters it; the amount in minor units of the project's currency, below zero for a credit.

    An empty `paid_from` is the usual purse of its reason.
    """

    line_id: int
    title: str
    reason: str
    amount_minor: int
    paid_from: str
    is_ceiling: bool = False
    #: calendar days the work takes longer, below zero for shorter
    days: int = 0
    #: from 0 to 1, that it will have to be paid
    chance: Decimal = Decimal(1)
    asked_by: str = ""
    note: str = ""
    #: the open piece of the agreement, or the effect of a decision, that this change stands in place of
    gap_id: int | None = None
    knock_on_id: int | None = None
    code: str = ""
    raised_on: date | None = None
    attachment_ids: Sequence[int] = ()


@dataclass(frozen=True, slots=True)
class _Hand:
    """Who does something to a change, when, and what they say of it."""

    by: User | None
    now: datetime
    today: date
    note: str = ""


@transaction.atomic
def raise_change(
    project: Project, draft: ChangeDraft, *, by: User, role: str, now: datetime, today: date, agree: bool = False,
    again: bool = True,
) -> Change:  # fmt: skip
    """Write down a change; the likely final of its line moves at once, by its chance.

    Args:
        agree: agree to it in the same breath, where the role's limit allows; above it the change waits all the same.
        again: whether one that looks written down already is a further one; else it is refused at `again`.
    Writes Change with its steps and files, movements `change`, with agreement perhaps transfers, and a trail row. Not
    safe to repeat: every call is a further change.
    Raises: Refused, naming the field.
    """
    project = lock(project)
    change = _checked(project, draft, by=by, now=now, today=today)
    if not again and (twin := _twin_of(change)):
        raise Refused(_("%s looks like the same change.") % twin, field="again")
    columns_within_bounds(change)
    change.save()
    _attach(change, draft.attachment_ids)
    hand = _Hand(by, now, today)
    _step(change, Verb.RAISED, replace(hand, today=change.raised_on))
    if agree and rules.within_limit(project, role, change.amount_minor):
        _agree(change, hand, on=today)
    else:
        _settle(change, hand)
    _tell(change, "raised", _("Wrote down change %s"), hand)
    return change


def _checked(project: Project, draft: ChangeDraft, *, by: User, now: datetime, today: date) -> Change:
    """A draft as a row that may be saved. Raises: Refused."""
    line = rules.line_of(project, draft.line_id)
    if not draft.title.strip():
        raise Refused(_("Say what is to be done."), field="title")
    paid_from = draft.paid_from or rules.usual_purse(draft.reason, draft.amount_minor)
    rules.must_be_called_right(draft.reason, paid_from)
    rules.must_be_worth(
        project, amount_minor=draft.amount_minor, is_ceiling=draft.is_ceiling, days=draft.days, chance=draft.chance
    )
    rules.must_be_free(line, gap_id=draft.gap_id, knock_on_id=draft.knock_on_id)
    raised_on = date_within_bounds(draft.raised_on or today, field="raised_on", latest=today) or today
    return Change(
        project=project, line=line, code=_code(project, draft.code), title=draft.title.strip(), reason=draft.reason,
        paid_from=paid_from, asked_by=draft.asked_by.strip(), note=draft.note.strip(), amount_minor=draft.amount_minor,
        is_ceiling=draft.is_ceiling, days=draft.days, chance=draft.chance, gap_id=draft.gap_id, knock_on_id=draft.knock_on_id,
        raised_on=raised_on, raised_at=now, raised_by=by,
    )  # fmt: skip


def _code(project: Project, wanted: str) -> str:
    code = wanted.strip() or _next_code(project)
    if Change.objects.filter(project=project, code__iexact=code).exists():
        raise Refused(_("Change %(code)s is there already; choose another code.") % {"code": code[:12]}, field="code")
    return code


def _next_code(project: Project) -> str:
    taken = Change.objects.filter(project=project, code__startswith="C").values_list("code", flat=True)
    numbers = [int(code[1:]) for code in taken if code[1:].isascii() and code[1:].isdigit()]
    return f"C{max(numbers, default=0) + 1:02d}"


def _twin_of(change: Change) -> Change | None:
    """A change in force on the same line with the same words and amount: most likely the same one."""
    rows = Change.objects.filter(line=change.line, state__in=IN_FORCE, amount_minor=change.amount_minor)
    return rows.filter(title__iexact=change.title, raised_on=change.raised_on).first()


def _attach(change: Change, ids: Sequence[int]) -> list[Attachment]:
    held = change.attachments.values("attachment_id")
    found = list(Attachment.objects.filter(project=change.project, pk__in=ids).exclude(pk__in=held))
    ChangeAttachment.objects.bulk_create(ChangeAttachment(change=change, attachment=row) for row in found)
    return found


@transaction.atomic
def attach(change: Change, ids: Sequence[int], *, by: User, now: datetime) -> list[Attachment]:
    """Put further photographs or the signed paper to a change, whatever its state; its figures stay.

    Writes ChangeAttachment rows and a trail row. Safe to repeat: what is there already is left alone.
    Returns: the files that were put to it.
    """
    held = _held(change, None)
    found = _attach(held, ids)
    if found:
        names = ", ".join(row.name for row in found)
        trail.note(
            held.project, by=by, at=now, verb="added", subject="change", subject_id=held.pk,
            summary=_("Added to change %(change)s: %(files)s") % {"change": held, "files": names},
        )  # fmt: skip
    return found


def _step(change: Change, verb: str, hand: _Hand) -> None:
    step = ChangeStep(
        change=change, verb=verb, amount_minor=change.amount_minor, is_ceiling=change.is_ceiling, days=change.days,
        chance=change.chance, note=hand.note.strip(), taken_on=hand.today, taken_at=hand.now, taken_by=hand.by,
        taken_by_name=hand.by.called if hand.by else "",
    )  # fmt: skip
    columns_within_bounds(step)
    step.save()


def _settle(change: Change, hand: _Hand, drawn: Collection[int] = ()) -> None:
    """Let the change's line follow it, and the contingency follow what was drawn or given back."""
    deed = Deed(
        hand.by, hand.now, hand.today, Cause.CHANGE, f"{change}: {change.get_state_display()}", "change", change.pk
    )
    settle(change.project, [change.line_id], deed)
    settle(change.project, set(drawn) - {change.line_id}, replace(deed, cause=Cause.TRANSFER))


def _tell(change: Change, verb: str, words: str, hand: _Hand) -> None:
    """The trail keeps what was done, in which words, and the figures after it."""
    summary = words % change + (f": {hand.note.strip()}" if hand.note.strip() else "")
    details = {
        "state": str(change.state), "amount_minor": change.amount_minor, "days": change.days, "chance": format(change.chance, "f"),
        "paid_from": str(change.paid_from),
    }  # fmt: skip
    trail.note(
        change.project, by=hand.by, at=hand.now, verb=verb, subject="change", subject_id=change.pk, summary=summary,
        details=details,
    )  # fmt: skip


def _held(change: Change, version: int | None) -> Change:
    """The change as it stands now, held until the deed is done."""
    project = lock(change.project)
    held = Change.objects.select_for_update(of=("self",)).select_related("line").get(pk=change.pk)
    held.project = project
    if version is not None and held.version != version:
        raise Stale(
            _("%(change)s is %(state)s at %(amount)s by now: somebody else saved it meanwhile. Look at it and try again.")
            % {
                "change": held, "state": held.get_state_display(),
                "amount": display.money(held.amount_minor, project, brief=True),
            },
            theirs={"version": held.version, "amount": held.amount_minor, "days": held.days, "chance": held.chance},
        )  # fmt: skip
    return held


def _must_be(change: Change, *states: str) -> None:
    if change.state not in states:
        raise Refused(_("%(change)s is %(state)s already.") % {"change": change, "state": change.get_state_display()})


def _save(change: Change, verb: str, hand: _Hand) -> None:
    change.version += 1
    columns_within_bounds(change)
    change.save()
    _step(change, verb, hand)


@transaction.atomic
def price(
    change: Change, *, amount_minor: int, is_ceiling: bool, days: int, chance: Decimal, note: str, by: User, now: datetime,
    today: date, version: int | None = None,
) -> Change:  # fmt: skip
    """Say anew what a proposed change costs, takes and how likely it is; or what one agreed up to a ceiling came to.

    Writes ChangeStep, the change's figures, movements `change`, and a trail row; where a draw had paid for the ceiling,
    the transfers that correct it.
    Raises: Refused, also for an agreed one without a ceiling or above it; Stale.
    """
    held = _held(change, version)
    _must_be(held, State.PROPOSED, State.AGREED)
    rules.line_of(held.project, held.line_id)
    rules.must_be_worth(held.project, amount_minor=amount_minor, is_ceiling=is_ceiling, days=days, chance=chance)
    was_agreed = held.state == State.AGREED
    if was_agreed:
        _must_be_below(held, amount_minor)
    held.amount_minor, held.is_ceiling, held.days, held.chance = amount_minor, is_ceiling, days, chance
    hand = _Hand(by, now, today, note)
    _save(held, Verb.PRICED, hand)
    _settle(held, hand, _drawn_anew(held, hand) if was_agreed else ())
    _tell(held, "priced", _("Priced change %s anew"), hand)
    return held


def _must_be_below(held: Change, amount_minor: int) -> None:
    """What was agreed up to a ceiling is agreed at any lesser price; anything else was not agreed."""
    if not held.is_ceiling or amount_minor > held.amount_minor:
        raise Refused(
            _("%(change)s is agreed at %(amount)s; take it up again to ask for another price.")
            % {"change": held, "amount": display.money(held.amount_minor, held.project, brief=True)},
            field="amount",
        )


def _drawn_anew(held: Change, hand: _Hand) -> set[int]:
    given = transfers.enter_undo(held, by=hand.by, now=hand.now, on=hand.today)
    return given | _draw(held, hand, on=hand.today)


def _draw(held: Change, hand: _Hand, *, on: date) -> set[int]:
    if held.paid_from != Change.Source.CONTINGENCY:
        return set()
    return transfers.enter_draw(held, by=hand.by, now=hand.now, on=on)


@transaction.atomic
def agree(
    change: Change, *, note: str, by: User, role: str, now: datetime, today: date, on: date | None = None,
    version: int | None = None, amount_minor: int | None = None, paid_from: str = "",
) -> Change:  # fmt: skip
    """Agree to a proposed change: it counts in full, and what pays for it is drawn.

    Args:
        on: the day it was agreed, today unless given.
        amount_minor: the price it is agreed at, where it is another than the one asked for.
        paid_from: who pays, where it is another than was said when it was written down.
    Writes ChangeStep, movements `change`, with a draw on the contingency also Transfer and movements `transfer`, and a
    trail row. A second call is refused.
    Raises: Refused, among others above the limit of the role and when the contingency does not hold it; Stale.
    """
    held = _held(change, version)
    _must_be(held, State.PROPOSED)
    rules.line_of(held.project, held.line_id)
    if amount_minor is not None and amount_minor != held.amount_minor:
        held.amount_minor, held.is_ceiling = amount_minor, False
        rules.must_be_worth(
            held.project, amount_minor=amount_minor, is_ceiling=False, days=held.days, chance=held.chance
        )
    held.paid_from = paid_from or held.paid_from
    rules.must_be_called_right(held.reason, held.paid_from)
    rules.must_be_within(held.project, role, held.amount_minor)
    on = date_within_bounds(on or today, field="on", earliest=held.raised_on, latest=today) or today
    hand = _Hand(by, now, today, note)
    _agree(held, hand, on=on)
    _tell(held, "agreed", _("Agreed to change %s"), hand)
    return held


def _agree(held: Change, hand: _Hand, *, on: date) -> None:
    held.state, held.decided_on = State.AGREED, on
    _save(held, Verb.AGREED, replace(hand, today=on))
    _settle(held, hand, _draw(held, hand, on=on))


@transaction.atomic
def decline(change: Change, *, note: str, by: User, now: datetime, today: date, version: int | None = None) -> Change:
    """Say no to a proposed change, with the reason: it counts for nothing, and what it stood for counts again.

    Writes ChangeStep, movements `change` and a trail row. A second call is refused. Raises: Refused, Stale.
    """
    if not note.strip():
        raise Refused(_("Say why, so that whoever asked for it knows."), field="note")
    return _drop(change, State.DECLINED, _Hand(by, now, today, note), version)


@transaction.atomic
def withdraw(change: Change, *, note: str, by: User, now: datetime, today: date, version: int | None = None) -> Change:
    """Take a proposed change back, because it is not needed or was a slip of the hand; it stays readable.

    Writes ChangeStep, movements `change` and a trail row. A second call is refused. Raises: Refused, Stale.
    """
    return _drop(change, State.WITHDRAWN, _Hand(by, now, today, note), version)


def _drop(change: Change, state: str, hand: _Hand, version: int | None) -> Change:
    held = _held(change, version)
    _must_be(held, State.PROPOSED)
    held.state, held.decided_on = state, hand.today
    declined = state == State.DECLINED
    _save(held, Verb.DECLINED if declined else Verb.WITHDRAWN, hand)
    _settle(held, hand)
    words = _("Declined change %s") if declined else _("Withdrew change %s")
    _tell(held, "declined" if declined else "withdrew", words, hand)
    return held


@transaction.atomic
def reopen(change: Change, *, reason: str, by: User, now: datetime, today: date, version: int | None = None) -> Change:
    """Take a change up again: it is proposed, with the figures it had, and waits for an answer.

    What an agreed one drew from the contingency is given back. Writes ChangeStep, movements `change`, perhaps Transfer
    rows with movements `transfer`, and a trail row. A second call is refused.
    Raises: Refused, also while invoices are billed on it, or when what it stands for is priced by another; Stale.
    """
    held = _held(change, version)
    _must_be(held, State.AGREED, State.DECLINED, State.WITHDRAWN)
    if not reason.strip():
        raise Refused(_("Say why it is taken up again."), field="reason")
    line = rules.line_of(held.project, held.line_id)
    rules.must_not_be_billed(held)
    rules.must_be_free(line, gap_id=held.gap_id, knock_on_id=held.knock_on_id, beside=held.pk)
    hand = _Hand(by, now, today, reason)
    drawn = transfers.enter_undo(held, by=by, now=now, on=today)
    held.state, held.decided_on = State.PROPOSED, None
    _save(held, Verb.REOPENED, hand)
    _settle(held, hand, drawn)
    _tell(held, "reopened", _("Took change %s up again"), hand)
    return held
