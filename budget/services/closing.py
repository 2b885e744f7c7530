"""Closing a line: its final account is agreed, what was invoiced is what it cost, and its saving may go back to the pot."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import Cause, LineItem, Transfer
from budget.selectors import closing as reads
from budget.services.bounds import date_within_bounds
from budget.services.ledger import Deed, lock, settle
from projects import display, trail
from projects.faults import Refused, Stale
from projects.models import Project, User


@transaction.atomic
def close_line(
    line: LineItem,
    *,
    by: User,
    now: datetime,
    today: date,
    note: str,
    on: date | None = None,
    version: int | None = None,
) -> LineItem:
    """Agree a line's final account: from now on its likely final is what was invoiced.

    Args:
        note: who agreed it, and how; needed where something of the likely final was never billed.
        on: the day it was agreed, today unless given.
    Writes the line's `closed_on`, a movement `invoiced` of what was never billed, and a trail row. A second call is
    refused. Raises: Refused while invoices or changes on it wait for an answer, and for a contingency; Stale.
    """
    project = lock(line.project)
    held = _held(project, line, version)
    if held.closed_on is not None:
        raise Refused(_("%s is closed already.") % held)
    account = reads.account(project, held)
    _must_be_settled(account)
    if account.unbilled and not note.strip():
        raise Refused(_("Say why the rest is not going to be billed; the owners see it."), field="note")
    held.closed_on = date_within_bounds(on or today, field="closed_on", latest=today)
    summary = _("Closed %(line)s at %(amount)s") % {"line": held, "amount": _brief(account.invoiced, project)}
    _save(project, held, Deed(by, now, today, Cause.INVOICED, note.strip() or _("final account"), "line", held.pk))
    trail.note(
        project, by=by, at=now, verb="closed", subject="line", subject_id=held.pk, summary=_with(summary, note),
        details={"unbilled_minor": account.unbilled},
    )  # fmt: skip
    return held


def _held(project: Project, line: LineItem, version: int | None) -> LineItem:
    held = LineItem.objects.select_for_update().get(pk=line.pk)
    held.project = project
    if held.removed_on is not None:
        raise Refused(_("%s was taken off the budget meanwhile; there is nothing to close.") % held)
    if held.kind == LineItem.Kind.CONTINGENCY:
        raise Refused(_("Money set aside is not closed; move what is left of it to where it is needed."))
    if version is not None and held.version != version:
        raise Stale(
            _("Somebody else saved this line while you were looking at it; look at what stands now and try again."),
            theirs={"version": held.version},
        )
    return held


def _must_be_settled(account: reads.Account) -> None:
    if account.invoices:
        raise Refused(
            _("These invoices still wait for an answer: %s. Approve or refuse them first.")
            % ", ".join(map(str, account.invoices))
        )
    if account.changes:
        raise Refused(
            _("These changes are still proposed: %s. Agree to them, decline or withdraw them first.")
            % ", ".join(map(str, account.changes))
        )


def _save(project: Project, held: LineItem, deed: Deed) -> None:
    held.version += 1
    held.save(update_fields=["closed_on", "version"])
    settle(project, [held.pk], deed)
    held.refresh_from_db()


def _brief(minor: int, project: Project) -> str:
    return display.money(minor, project, brief=True)


def _with(summary: str, reason: str) -> str:
    return f"{summary}: {reason.strip()}" if reason.strip() else summary


@transaction.atomic
def reopen_line(line: LineItem, *, reason: str, by: User, now: datetime, today: date) -> LineItem:
    """Open a closed line again: its likely final follows from its agreement, changes and invoices as before.

    Writes an empty `closed_on`, a movement `invoiced` back, and a trail row. Refused for an open line, and while budget
    that the line gave back is still with the contingency.
    """
    project = lock(line.project)
    held = _held(project, line, None)
    if held.closed_on is None:
        raise Refused(_("%s is open.") % held)
    if not reason.strip():
        raise Refused(_("Say why the line is opened again."), field="reason")
    given = Transfer.objects.filter(from_line=held, cause=Transfer.Cause.RETURN, reverses=None, reversal=None)
    if given.exists():
        raise Refused(_("%s gave budget back to the contingency when it was closed; take that back first.") % held)
    held.closed_on = None
    _save(project, held, Deed(by, now, today, Cause.INVOICED, reason.strip(), "line", held.pk))
    trail.note(
        project, by=by, at=now, verb="reopened", subject="line", subject_id=held.pk,
        summary=_with(_("Opened %s again") % held, reason),
    )  # fmt: skip
    return held
