"""What a project's sequence rests on: the day it starts, and the calendar of work that has none of its own."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.bounds import date_within_bounds
from projects.faults import Refused, Stale
from projects.models import Project, User
from schedule.models import Plan, WorkCalendar
from schedule.services import plan


@transaction.atomic
def set_start(
    project: Project, *, starts_on: date, calendar: str, by: User | None, now: datetime, today: date, version: int | None = None
) -> Plan:  # fmt: skip
    """Say when the plan starts and which calendar it works by, and move every date that rests on that.

    Args:
        calendar: its name, or "" for Monday to Friday.
    Writes Plan, kept dates and a trail row. Safe to repeat. Raises: Refused; Stale.
    """
    held = plan.lock(project)
    row = plan.opened(held, today=today)
    if version is not None and row.version != version:
        theirs = {
            "starts_on": row.starts_on,
            "calendar": row.calendar.name if row.calendar else "",
            "version": row.version,
        }
        raise Stale(_("Somebody has changed the start since you opened it; look at it again."), theirs=theirs)
    date_within_bounds(starts_on, field="starts_on")
    row.starts_on, row.calendar = starts_on, _calendar(held, calendar)
    row.version += 1
    row.save(update_fields=["starts_on", "calendar", "version"])
    plan.settle(held, today=today)
    works_by = row.calendar.name if row.calendar else _("Monday to Friday")
    trail.note(
        held, by=by, at=now, verb="started", subject="plan", subject_id=None,
        summary=_("The plan starts on %(start)s and works by %(calendar)s") % {"start": starts_on, "calendar": works_by},
    )  # fmt: skip
    return row


def _calendar(project: Project, name: str) -> WorkCalendar | None:
    if not name:
        return None
    row = WorkCalendar.objects.filter(project=project, name=name).first()
    if row is None:
        raise Refused(_("There is no calendar “%s”; add it first.") % name, field="calendar")
    return row
