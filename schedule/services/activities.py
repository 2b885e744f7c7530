"""Activities and their links: adding, changing and taking away; every deed moves the dates that rest on it."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import trail
from projects.faults import Refused, Stale
from projects.models import Project, User
from schedule.models import Activity, Delivery, HoldPoint, Link, WorkCalendar
from schedule.services import drafting, plan
from schedule.services.drafting import MOST_DAYS, PLAIN, ActivityDraft, LinkDraft, draft_of

__all__ = ["MOST_DAYS", "PLAIN", "ActivityDraft", "LinkDraft", "add", "add_many", "change", "draft_of", "remove"]


@transaction.atomic
def add(project: Project, draft: ActivityDraft, *, by: User | None, now: datetime, today: date) -> Activity:
    """Add one activity with its links. Writes what `add_many` writes. Raises: Refused."""
    return add_many(project, [draft], by=by, now=now, today=today)[0]


@transaction.atomic
def add_many(
    project: Project, drafts: Sequence[ActivityDraft], *, by: User | None, now: datetime, today: date
) -> list[Activity]:
    """Add activities that may wait for each other, in the order given.

    Writes Activity, Link, kept dates and one trail row. Not safe to repeat: codes are then taken.
    Raises: Refused, naming the activity; nothing is written then.
    """
    if not drafts:
        return []
    held = plan.lock(project)
    rows = put_in(held, drafts)
    plan.settle(held, today=today)
    words = ngettext("Added the activity %(first)s", "Added %(count)d activities", len(rows))
    told = [drafting.told(draft) for draft in drafts]
    _noted(held, rows[0], "added", words % {"count": len(rows), "first": rows[0]}, by, now, {"added": told})
    found = {row.pk: row for row in Activity.objects.select_related("calendar").filter(pk__in=[row.pk for row in rows])}
    return [found[row.pk] for row in rows]


def put_in(project: Project, drafts: Sequence[ActivityDraft]) -> list[Activity]:
    """Write new activities and their links for a deed that settles the plan itself.

    A code that was taken out of the plan before comes back with its row, so that what was promised of it stays with it.
    Writes Activity, Link. Raises: Refused.
    """
    calendars = calendars_of(project)
    known = {row.code: row for row in Activity.objects.filter(project=project)}
    first, rows = len(known), []
    for place, draft in enumerate(drafts):
        drafting.check(draft, calendars)
        row = known.get(draft.code.strip()) or Activity(project=project)
        if row.removed_on is None and (row.pk or row.code):
            raise Refused(_("There is an activity %s already; give another code.") % draft.code.strip(), field="code")
        row.position, row.removed_on, row.version = first + place, None, row.version + (1 if row.pk else 0)
        drafting.fill(row, draft, calendars)
        known[row.code] = row
        rows.append(row)
    _kept(rows)
    drafting.link(project, {row.pk: draft.after for row, draft in zip(rows, drafts, strict=True)})
    return rows


def _kept(rows: Sequence[Activity]) -> None:
    """Save rows, of which some stood in the plan once; their links of then are not theirs any more."""
    Activity.objects.bulk_create(row for row in rows if row.pk is None)
    back = [row for row in rows if row.version > 1]
    Link.objects.filter(waiting__in=back).delete()
    Link.objects.filter(before__in=back).delete()
    for row in back:
        row.save()


@transaction.atomic
def change(
    activity: Activity, draft: ActivityDraft, *, reason: str = "", by: User | None, now: datetime, today: date,
    version: int | None = None,
) -> Activity:  # fmt: skip
    """Write an activity and its links anew, and move every date that rests on it.

    Writes Activity, Link, kept dates and a trail row with what stood before and the reason. Raises: Refused; Stale.
    """
    held = plan.lock(activity.project)
    row = in_project(held, activity.pk)
    standing = draft_of(row)
    if version is not None and row.version != version:
        raise Stale(
            _("Somebody has changed this activity since you opened it; look at it again."),
            theirs=drafting.told(standing) | {"not_before_on": standing.not_before_on, "version": row.version},
        )
    row = write(held, row, draft)
    plan.settle(held, today=today)
    row = in_project(held, row.pk)
    _noted(
        held, row, "changed", _("Changed the activity %s") % row + (f": {reason}" if reason else ""), by, now,
        {"before": drafting.told(standing), "after": told(row), "reason": reason},
    )  # fmt: skip
    return row


def write(project: Project, row: Activity, draft: ActivityDraft) -> Activity:
    """Put a draft into an activity that stands, for a deed that settles the plan itself. Writes Activity, Link."""
    calendars = calendars_of(project)
    drafting.check(draft, calendars)
    if draft.code.strip() != row.code:
        raise Refused(
            _("The code %s stays, since options, what-ifs and sheets know the activity by it. Add another activity instead.")
            % row.code,
            field="code",
        )  # fmt: skip
    drafting.fill(row, draft, calendars)
    row.version += 1
    row.save()
    row.waits_for.all().delete()
    drafting.link(project, {row.pk: draft.after})
    return row


@transaction.atomic
def remove(activity: Activity, *, reason: str, by: User | None, now: datetime, today: date) -> None:
    """Take an activity out of the plan; what followed it waits for what it waited for.

    Writes Activity.removed_on, Link, kept dates and a trail row.
    Raises: Refused where it has begun, where a hold point is looked at in it or stops it, and where a delivery is it.
    """
    held = plan.lock(activity.project)
    row = in_project(held, activity.pk)
    before = told(row)
    bridged = take_out(row, today=today)
    plan.settle(held, today=today)
    words = _("Took %(activity)s out of the plan: %(reason)s") % {"activity": row, "reason": reason}
    _noted(held, row, "removed", words, by, now, {"before": before, "reason": reason, "bridged": bridged})


def take_out(row: Activity, *, today: date) -> list[list[str]]:
    """Take an activity out for a deed that settles the plan itself.

    Writes Activity.removed_on and Link. Returns: the links that bridge the gap, [who waits, for what, how].
    """
    if row.started_on:
        raise Refused(_("%s has begun; what was done stays in the plan.") % row)
    _nothing_hangs_on(row)
    bridged = _bridge(row)
    row.removed_on = today
    row.version += 1
    row.save(update_fields=["removed_on", "version"])
    return bridged


def _nothing_hangs_on(row: Activity) -> None:
    holds = HoldPoint.objects.filter(removed_on=None)
    held = holds.filter(activity=row).first() or holds.filter(stops=row).first()
    if held is not None:
        raise Refused(
            _("The hold point %(hold)s hangs on %(activity)s; move it first.") % {"hold": held, "activity": row}
        )
    delivery = Delivery.objects.filter(activity=row, removed_on=None).first()
    if delivery is not None:
        words = _("The delivery of %(item)s hangs on %(activity)s; take it out first.")
        raise Refused(words % {"item": delivery.item, "activity": row})


def in_project(project: Project, activity_id: int) -> Activity:
    """An activity of this project that is still in the plan. Raises: Refused."""
    found = Activity.objects.select_related("calendar")
    row = found.filter(project=project, pk=activity_id, removed_on=None).first()
    if row is None:
        raise Refused(_("This activity is not in the plan any more."))
    return row


def told(activity: Activity) -> dict[str, Any]:
    """An activity as it stands, as plain values for the trail."""
    return drafting.told(draft_of(activity))


def calendars_of(project: Project) -> Mapping[str, WorkCalendar]:
    """The calendars of a project by their names. Queries: 1."""
    return {row.name: row for row in WorkCalendar.objects.filter(project=project)}


def _bridge(row: Activity) -> list[list[str]]:
    """What followed a removed activity waits for what that waited for: from where the one link left, to where the other
    held, with the lag of the one that left it (ADR 0402)."""
    made = []
    before = list(row.waits_for.select_related("before").filter(before__removed_on=None))
    for leaving in row.leads_to.select_related("waiting").filter(waiting__removed_on=None):
        for coming in before:
            kind = coming.kind[0] + leaving.kind[1]
            _link, new = Link.objects.get_or_create(
                waiting_id=leaving.waiting_id, before_id=coming.before_id, kind=kind,
                defaults={"lag_days": leaving.lag_days, "lag_elapsed": leaving.lag_elapsed},
            )  # fmt: skip
            if new:
                made.append([leaving.waiting.code, coming.before.code, kind])
    return made


def _noted(
    project: Project, row: Activity, verb: str, summary: str, by: User | None, now: datetime, details: dict[str, Any]
) -> None:
    trail.note(
        project, by=by, at=now, verb=verb, subject="activity", subject_id=row.pk, summary=summary, details=details
    )
