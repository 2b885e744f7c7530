"""What has begun and what is done: actual dates, which push everything after them."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused
from projects.models import Project, User
from schedule.models import Activity
from schedule.services import plan
from schedule.services.activities import in_project


@transaction.atomic
def report(
    activity: Activity, *, started_on: date | None, finished_on: date | None = None, days: int | None = None, reason: str = "",
    by: User | None, now: datetime, today: date,
) -> Activity:  # fmt: skip
    """Say when an activity began, when it ended, and how many days it takes in all as is known today.

    Args:
        started_on, finished_on: None where that has not happened; giving None takes an earlier report back.
        days: of its own calendar; None leaves them.
        reason: why it differs from the plan; stays in the trail.
    Writes Activity, kept dates and a trail row. Safe to repeat.
    Raises: Refused where dates are out of order or lie ahead, and where a hold point before it is open and nobody has
        overruled it.
    """
    held = plan.lock(activity.project)
    row = in_project(held, activity.pk)
    _check(row, started_on, finished_on, today)
    if started_on is not None and row.started_on is None:
        _may_start(row)
    row.started_on, row.finished_on = started_on, finished_on
    row.days = row.days if days is None else days
    row.version += 1
    row.save(update_fields=["started_on", "finished_on", "days", "version"])
    plan.settle(held, today=today)
    _noted(held, row, reason, by, now)
    return in_project(held, row.pk)


def _check(row: Activity, started_on: date | None, finished_on: date | None, today: date) -> None:
    if finished_on is not None and started_on is None:
        raise Refused(_("Say when %s began; it cannot end before that.") % row, field="started_on")
    for name, on in (("started_on", started_on), ("finished_on", finished_on)):
        if on is not None and on > today:
            raise Refused(_("That day has not come yet; only what has happened is reported here."), field=name)
    if finished_on is not None and started_on is not None and finished_on < started_on:
        raise Refused(_("It cannot end before it began; check the two dates."), field="finished_on")


def _may_start(row: Activity) -> None:
    """Refuse to start what a hold point stops (ADR 0404)."""
    from schedule.services import holds  # hold points name activities, and activities ask hold points

    holds.check_may_start(row)


def _noted(project: Project, row: Activity, reason: str, by: User | None, now: datetime) -> None:
    if row.finished_on:
        words = _("%(activity)s: done, %(start)s to %(finish)s")
    elif row.started_on:
        words = _("%(activity)s: under way since %(start)s")
    else:
        words = _("%(activity)s: not started")
    told = {"activity": row, "start": row.started_on, "finish": row.finished_on}
    details = {
        "started": str(row.started_on or ""),
        "finished": str(row.finished_on or ""),
        "days": row.days,
        "reason": reason,
    }
    trail.note(
        project, by=by, at=now, verb="reported", subject="activity", subject_id=row.pk,
        summary=words % told + (f": {reason}" if reason else ""), details=details,
    )  # fmt: skip
