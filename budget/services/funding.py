"""Money promised to the project and what came in of it."""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import Max, Sum
from django.utils.translation import gettext as _

from budget.models import FundingReceipt, FundingSource
from budget.services.bounds import amount_within_bounds, columns_within_bounds, date_within_bounds
from budget.services.ledger import lock
from projects import display, trail
from projects.faults import Refused, Stale
from projects.models import Project, User


@dataclass(frozen=True, slots=True)
class SourceDraft:
    """A source as somebody enters it [minor units of the project's currency]."""

    name: str
    amount_minor: int
    note: str = ""


def add_source(
    project: Project, *, name: str, amount_minor: int, note: str = "", by: User | None, now: datetime, today: date
) -> FundingSource:
    """Write a source of money and what it promises [minor units of the project's currency], and a trail row.

    Not safe to repeat: a name that is taken is refused.
    Raises: Refused, naming the field.
    """
    return _add(project, SourceDraft(name.strip(), amount_minor, note.strip()), by=by, now=now)


@transaction.atomic
def _add(project: Project, draft: SourceDraft, *, by: User | None, now: datetime) -> FundingSource:
    project = lock(project)
    place = FundingSource.objects.filter(project=project).aggregate(last=Max("position"))["last"] or 0
    source = FundingSource(project=project, position=place + 1)
    _fill(source, draft)
    source.save()
    trail.note(
        project, by=by, at=now, verb="added", subject="funding", subject_id=source.pk,
        summary=_("Added the funding source %(name)s: %(amount)s") % _shown(source, source.amount_minor),
    )  # fmt: skip
    return source


def _fill(source: FundingSource, draft: SourceDraft) -> None:
    """Put a draft into a row that is not saved yet, with every slip refused at its field."""
    if not draft.name:
        raise Refused(_("A source needs a name, such as the lender\u2019s."), field="name")
    named = FundingSource.objects.filter(project=source.project, removed_on=None, name__iexact=draft.name)
    if named.exclude(pk=source.pk).exists():
        raise Refused(_("There is a source called %s already; change that one.") % draft.name, field="name")
    amount_within_bounds(draft.amount_minor, source.project.currency, field="amount")
    source.name, source.amount_minor, source.note = draft.name, draft.amount_minor, draft.note
    columns_within_bounds(source)


def _shown(source: FundingSource, minor: int) -> dict[str, str]:
    return {"name": source.name, "amount": display.money(minor, source.project, brief=True)}


@transaction.atomic
def edit_source(
    source: FundingSource, *, name: str, amount_minor: int, note: str = "", version: int | None = None,
    by: User | None, now: datetime, today: date,
) -> FundingSource:  # fmt: skip
    """Change what a source is called or promises.

    Writes the row and a trail row that holds what was. Safe to repeat with the version that came back.
    Raises: Stale with what stands; Refused where less is promised than came in.
    """
    held = _standing(source)
    _must_be_newest(held, version)
    came = received_minor(held)
    if amount_minor < came:
        raise Refused(
            _("%s has come in from it already; a source cannot promise less.") % _shown(held, came)["amount"],
            field="amount",
        )
    was = {"name": held.name, "amount_minor": held.amount_minor, "note": held.note}
    _fill(held, SourceDraft(name.strip(), amount_minor, note.strip()))
    if was == {"name": held.name, "amount_minor": held.amount_minor, "note": held.note}:
        return held
    held.version += 1
    held.save(update_fields=["name", "amount_minor", "note", "version"])
    trail.note(
        held.project, by=by, at=now, verb="changed", subject="funding", subject_id=held.pk,
        summary=_("Changed the funding source %(name)s: %(amount)s") % _shown(held, held.amount_minor), details={"was": was},
    )  # fmt: skip
    return held


def _standing(source: FundingSource) -> FundingSource:
    """The source as it stands, held for writing. Raises: Refused for one that was removed meanwhile."""
    project = lock(source.project)
    held = FundingSource.objects.select_for_update().get(pk=source.pk)
    held.project = project
    if held.removed_on is not None:
        raise Refused(_("%s was taken off the list meanwhile.") % held)
    return held


def _must_be_newest(held: FundingSource, version: int | None) -> None:
    if version is not None and held.version != version:
        raise Stale(
            _("Somebody else saved this source while you were editing; look at what stands now and save again."),
            theirs={"name": held.name, "amount": held.amount_minor, "note": held.note, "version": held.version},
        )


@transaction.atomic
def remove_source(source: FundingSource, *, by: User | None, now: datetime, today: date) -> FundingSource:
    """Take a source off the list; the row stays readable. A second call is refused.

    Raises: Refused while money that came in from it stands.
    """
    held = _standing(source)
    came = received_minor(held)
    if came:
        raise Refused(
            _("%(amount)s came in from %(name)s; lower what it promises to that instead.") % _shown(held, came)
        )
    held.removed_on = today
    held.version += 1
    held.save(update_fields=["removed_on", "version"])
    trail.note(
        held.project, by=by, at=now, verb="removed", subject="funding", subject_id=held.pk,
        summary=_("Took the funding source %s off the list") % held,
    )  # fmt: skip
    return held


@transaction.atomic
def put_back_source(source: FundingSource, *, by: User | None, now: datetime, today: date) -> FundingSource:
    """Put a source that was taken off back on the list. A second call is refused."""
    project = lock(source.project)
    held = FundingSource.objects.select_for_update().get(pk=source.pk)
    held.project = project
    if held.removed_on is None:
        raise Refused(_("%s is on the list already.") % held)
    held.removed_on = None
    _fill(held, SourceDraft(held.name, held.amount_minor, held.note))
    held.version += 1
    held.save(update_fields=["removed_on", "version"])
    trail.note(
        project, by=by, at=now, verb="put back", subject="funding", subject_id=held.pk,
        summary=_("Put the funding source %s back on the list") % held,
    )  # fmt: skip
    return held


def received_minor(source: FundingSource) -> int:
    """What came in from a source, less what was taken back [minor units of the project's currency]. Queries: 1."""
    return FundingReceipt.objects.filter(source=source).aggregate(sum=Sum("amount_minor"))["sum"] or 0


@transaction.atomic
def receive(
    source: FundingSource, *, amount_minor: int, received_on: date, note: str = "",
    by: User | None, now: datetime, today: date,
) -> FundingReceipt:  # fmt: skip
    """Write money that came in. Not safe to repeat: each call is further money.

    Args:
        amount_minor: [minor units of the project's currency], above zero.
    Raises: Refused, naming the field; also for more than the source still has to give.
    """
    held = _standing(source)
    _check_receipt(held, amount_minor, received_on, today)
    row = FundingReceipt(
        source=held, amount_minor=amount_minor, received_on=received_on, note=note.strip(), entered_at=now, entered_by=by
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    trail.note(
        held.project, by=by, at=now, verb="received", subject="receipt", subject_id=row.pk,
        summary=_("%(amount)s came in from %(name)s") % _shown(held, amount_minor),
    )  # fmt: skip
    return row


def _check_receipt(source: FundingSource, amount_minor: int, received_on: date, today: date) -> None:
    amount_within_bounds(amount_minor, source.project.currency, field="amount")
    if amount_minor == 0:
        raise Refused(_("Say how much came in."), field="amount")
    left = source.amount_minor - received_minor(source)
    if amount_minor > left:
        raise Refused(
            _("%(name)s has %(amount)s left to give; change what it promises first.") % _shown(source, left),
            field="amount",
        )
    date_within_bounds(received_on, field="received_on", latest=today)


@transaction.atomic
def take_back(receipt: FundingReceipt, *, reason: str, by: User | None, now: datetime, today: date) -> FundingReceipt:
    """Take back money that was entered by mistake: a further row with the opposite amount. A second call is refused."""
    project = lock(receipt.source.project)
    if receipt.reverses_id is not None or FundingReceipt.objects.filter(reverses=receipt).exists():
        raise Refused(_("This was taken back already."))
    if not reason.strip():
        raise Refused(_("Say why it is taken back."), field="reason")
    row = FundingReceipt(
        source=receipt.source, amount_minor=-receipt.amount_minor, received_on=receipt.received_on, note=reason.strip(),
        entered_at=now, entered_by=by, reverses=receipt,
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    trail.note(
        project, by=by, at=now, verb="took back", subject="receipt", subject_id=row.pk,
        summary=_("Took back that %(amount)s came in from %(name)s: ") % _shown(receipt.source, receipt.amount_minor) + reason.strip(),
    )  # fmt: skip
    return row
