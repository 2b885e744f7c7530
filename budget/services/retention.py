"""Retention: its stages, and giving it back."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from budget.models import Agreement, RetentionRelease, RetentionStage
from budget.selectors import retained
from budget.selectors.retained import Retained
from budget.services.bounds import (
    amount_within_bounds,
    columns_within_bounds,
    date_within_bounds,
    share_within_bounds,
)
from budget.services.ledger import lock
from budget.services.stages import MOST_STAGES
from projects import display, trail
from projects.faults import Refused
from projects.models import Project, User

#: name, share of all that was withheld [%], the day it falls due
StageRow = tuple[str, Decimal, date | None]


@transaction.atomic
def set_stages(
    agreement: Agreement, rows: Sequence[StageRow], *, by: User | None, now: datetime, today: date
) -> list[RetentionStage]:
    """Say when the retention of an agreement falls due; the plan before stays readable and counts no more.

    Writes RetentionStage rows and a trail row. Not safe to repeat: each call is a further plan.
    Raises: Refused, naming the field as `rows-0-share_percent`; also where the shares are not 100 % together.
    """
    project = lock(agreement.project)
    if not rows or len(rows) > MOST_STAGES:
        raise Refused(_("Enter from one to %d stages.") % MOST_STAGES)
    plan = (agreement.retention_stages.aggregate(last=Max("plan"))["last"] or 0) + 1
    stages = [_stage(agreement, place, row) for place, row in enumerate(rows)]
    if sum(share for _name, share, _on in rows) != 100:
        raise Refused(_("The shares of the stages add up to 100%; mend one of them."))
    for stage in stages:
        stage.plan, stage.entered_at, stage.entered_by = plan, now, by
    RetentionStage.objects.bulk_create(stages)
    trail.note(
        project, by=by, at=now, verb="set", subject="agreement", subject_id=agreement.pk,
        summary=_("Retention of %s falls due: ") % agreement.vendor + ", ".join(name for name, *_rest in rows),
    )  # fmt: skip
    return stages


def _stage(agreement: Agreement, place: int, row: StageRow) -> RetentionStage:
    """The row of one stage, not saved yet, with every slip refused at its field."""
    (name, share, due_on), at = row, f"rows-{place}-"
    if not name.strip():
        raise Refused(_("A stage needs a name, such as practical completion."), field=at + "name")
    message = _("A percentage lies between 0 and 100.")
    share_within_bounds(share, field=at + "share_percent", message=message)
    date_within_bounds(due_on, field=at + "due_on")
    stage = RetentionStage(agreement=agreement, position=place, name=name.strip(), share_percent=share, due_on=due_on)
    columns_within_bounds(stage)
    return stage


@transaction.atomic
def release(
    agreement: Agreement, *, amount_quoted_minor: int | None = None, released_on: date, note: str = "",
    by: User | None, now: datetime, today: date,
) -> RetentionRelease:  # fmt: skip
    """Give retention back to the vendor: money paid out, not a change of what the work costs.

    Args:
        amount_quoted_minor: [minor units of the agreement's currency], above zero; None gives what is due on the day.
    Writes RetentionRelease and a trail row. Not safe to repeat: each call gives back more, as long as some is held.
    Raises: Refused, naming the field; never more than is held.
    """
    project = lock(agreement.project)
    kept = retained.of_agreement(project, agreement.pk)
    date_within_bounds(released_on, field="released_on", earliest=agreement.agreed_on, latest=today)
    amount = _amount(project, agreement, kept, amount_quoted_minor, released_on)
    row = RetentionRelease(
        agreement=agreement, amount_quoted_minor=amount, amount_minor=kept.in_project(amount) if kept else 0,
        released_on=released_on, note=note.strip(), entered_at=now, entered_by=by,
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    trail.note(
        project, by=by, at=now, verb="released", subject="release", subject_id=row.pk,
        summary=_("Released %(amount)s of the retention of %(vendor)s") % _shown(agreement, amount),
    )  # fmt: skip
    return row


def _amount(project: Project, agreement: Agreement, kept: Retained | None, asked: int | None, on: date) -> int:
    held = kept.held_quoted_minor if kept else 0
    if kept is None or held <= 0:
        raise Refused(_("Nothing is held of %s.") % agreement.vendor, field="amount")
    if asked is None:
        return _due(project, kept, on)
    amount_within_bounds(asked, agreement.quote.currency, field="amount")
    if asked == 0:
        raise Refused(_("Say how much is released."), field="amount")
    if asked > held:
        raise Refused(
            _("%(amount)s is held of %(vendor)s; no more than that can be released.") % _shown(agreement, held),
            field="amount",
        )
    return asked


def _due(project: Project, kept: Retained, on: date) -> int:
    due = kept.due_quoted_minor(on)
    if due:
        return due
    following = kept.next_due
    if following is None or following.due_on is None:
        raise Refused(_("No stage with a date is due; give the amount to release it all the same."), field="amount")
    raise Refused(
        _("Nothing is due before %(date)s, %(stage)s; give the amount to release it earlier.")
        % {"date": display.day(following.due_on, project.locale), "stage": following.name},
        field="amount",
    )


def _shown(agreement: Agreement, quoted_minor: int) -> dict[str, object]:
    currency = display.InCurrency(agreement.quote.currency, agreement.project.locale)
    return {"vendor": agreement.vendor, "amount": display.money(quoted_minor, currency, brief=True)}


@transaction.atomic
def take_back(
    release: RetentionRelease, *, reason: str, by: User | None, now: datetime, today: date
) -> RetentionRelease:
    """Take back a release that was entered by mistake: a further row with the opposite amounts. A second call is refused."""
    project = lock(release.agreement.project)
    if release.reverses_id is not None or RetentionRelease.objects.filter(reverses=release).exists():
        raise Refused(_("This release was taken back already."))
    if not reason.strip():
        raise Refused(_("Say why the release is taken back."), field="reason")
    row = RetentionRelease(
        agreement=release.agreement, amount_quoted_minor=-release.amount_quoted_minor, amount_minor=-release.amount_minor,
        released_on=release.released_on, note=reason.strip(), entered_at=now, entered_by=by, reverses=release,
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    words = _shown(release.agreement, release.amount_quoted_minor)
    trail.note(
        project, by=by, at=now, verb="took back", subject="release", subject_id=row.pk,
        summary=_("Took back the release of %(amount)s to %(vendor)s: %(reason)s") % {**words, "reason": reason.strip()},
    )  # fmt: skip
    return row
