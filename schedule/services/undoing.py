"""Taking a deed on the plan back, by the row of the trail that it left.

The row holds what stood before and after. A deed is taken back only while what it wrote still stands so: whoever has
changed it since is not overwritten.
"""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from schedule.models import Activity, Closure, Link, Plan, WorkCalendar
from schedule.services import activities, calendars, drafting, plan

Details = Mapping[str, Any]


@transaction.atomic
def take_back(entry: TrailEntry, *, by: User | None, now: datetime, today: date) -> str:
    """Take back one deed on activities or calendars, and move every date that rests on it.

    Writes what the deed had written, kept dates, and a trail row. Not safe to repeat: what is taken back stands no longer.
    Returns: what was done, as the trail says it.
    Raises: Refused where the deed is none that can be taken back, or what it wrote was changed since.
    """
    held = plan.lock(entry.project)
    deed = DEEDS.get((entry.subject, entry.verb))
    if deed is None:
        raise Refused(_("This cannot be taken back here; change it by hand."))
    try:
        deed(held, entry, today)
    except KeyError as fault:  # a row of the trail from before deeds could be taken back
        raise Refused(_("This is too long ago to be taken back here; change it by hand.")) from fault
    plan.settle(held, today=today)
    summary = _("Took back: %s") % entry.summary
    trail.note(
        held, by=by, at=now, verb="took back", subject=entry.subject, subject_id=entry.subject_id, summary=summary
    )
    return summary


def may_be_taken_back(entry: TrailEntry) -> bool:
    """Tell whether a deed is of a kind that can be taken back."""
    return (entry.subject, entry.verb) in DEEDS


def _added(project: Project, entry: TrailEntry, today: date) -> None:
    withdraw(project, entry.details["added"], today=today)


def withdraw(project: Project, added: list[Details], *, today: date) -> None:
    """Take activities out that a deed added, the last first. Raises: Refused where one was changed since."""
    rows = [standing(project, one) for one in added]
    for row in reversed(rows):
        activities.take_out(row, today=today)


def _changed(project: Project, entry: TrailEntry, today: date) -> None:
    put_back(project, entry.details["before"], entry.details["after"])


def put_back(project: Project, before: Details, after: Details) -> None:
    """Write an activity as it stood before. Raises: Refused where it was changed since."""
    activities.write(project, standing(project, after), drafting.from_told(before))


def standing(project: Project, plain: Details) -> Activity:
    """The activity that stands exactly so. Raises: Refused where none does any more."""
    found = Activity.objects.select_related("calendar")
    row = found.filter(project=project, code=plain["code"], removed_on=None).first()
    if row is None or not drafting.same(drafting.draft_of(row), drafting.from_told(plain)):
        raise Refused(_("%s was changed since; nothing is taken back. Change it by hand.") % plain["code"])
    return row


def _removed(project: Project, entry: TrailEntry, today: date) -> None:
    code = entry.details["before"]["code"]
    row = Activity.objects.filter(project=project, code=code).exclude(removed_on=None).first()
    if row is None:
        raise Refused(_("%s is in the plan already.") % code)
    for waiting, before, kind in entry.details["bridged"]:
        Link.objects.filter(waiting__project=project, waiting__code=waiting, before__code=before, kind=kind).delete()
    row.removed_on = None
    row.version += 1
    row.save(update_fields=["removed_on", "version"])


def _calendar_added(project: Project, entry: TrailEntry, today: date) -> None:
    calendars.drop(project, standing_calendar(project, entry.details["after"]))


def _calendar_changed(project: Project, entry: TrailEntry, today: date) -> None:
    put_calendar_back(project, entry.details["before"], entry.details["after"])


def put_calendar_back(project: Project, before: Details, after: Details) -> None:
    """Write a calendar as it stood before. Raises: Refused where it was changed since."""
    calendars.write(project, standing_calendar(project, after), calendars.from_told(before))


def standing_calendar(project: Project, plain: Details) -> WorkCalendar:
    """The calendar that stands exactly so. Raises: Refused where none does any more."""
    row = WorkCalendar.objects.filter(project=project, name=plain["name"]).first()
    if row is None or calendars.told(calendars.draft_of(row)) != plain:
        words = _("The calendar %s was changed since; nothing is taken back. Change it by hand.")
        raise Refused(words % plain["name"])
    return row


def _calendar_removed(project: Project, entry: TrailEntry, today: date) -> None:
    calendars.put_in(project, calendars.from_told(entry.details["before"]), today=today)


def _closed(project: Project, entry: TrailEntry, today: date) -> None:
    told = entry.details
    row = Closure.objects.select_related("calendar").filter(
        calendar__project=project, calendar_id=entry.subject_id, first_on=told["first"], last_on=told["last"], reason=told["reason"]
    ).last()  # fmt: skip
    if row is None:
        raise Refused(_("This closure is not there any more; nothing is taken back."))
    calendar = row.calendar
    row.delete()
    calendar.version += 1
    calendar.save(update_fields=["version"])


def _brought_in(project: Project, entry: TrailEntry, today: date) -> None:
    """Everything that sheets brought in, in the opposite order."""
    told = entry.details
    for pair in told["changed"]:
        standing(project, pair["after"])
    for pair in told["changed"]:
        put_back(project, pair["before"], pair["after"])
    withdraw(project, told["added"], today=today)
    for pair in told["calendars_changed"]:
        put_calendar_back(project, pair["before"], pair["after"])
    own = WorkCalendar.objects.filter(project=project, name=told["own_calendar"]).first()
    for plain in told["calendars_added"]:
        row = standing_calendar(project, plain)
        Plan.objects.filter(project=project, calendar=row).update(calendar=own)
        calendars.drop(project, row)


#: (subject, verb) of a trail row: how that deed is undone.
DEEDS: dict[tuple[str, str], Callable[[Project, TrailEntry, date], None]] = {
    ("activity", "added"): _added,
    ("activity", "changed"): _changed,
    ("activity", "removed"): _removed,
    ("activity", "brought in"): _brought_in,
    ("calendar", "added"): _calendar_added,
    ("calendar", "changed"): _calendar_changed,
    ("calendar", "removed"): _calendar_removed,
    ("calendar", "closed"): _closed,
}
