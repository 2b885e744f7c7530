"""What has begun and what is done: actual dates, which push everything after them."""

from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import display, trail
from projects.faults import Refused
from projects.models import Project, TrailEntry, User
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
        _may_start(row, today)
    before = told(row)
    _write(row, started_on, finished_on, row.days if days is None else days)
    plan.settle(held, today=today)
    _noted(held, row, reason, before, by, now)
    return in_project(held, row.pk)


@transaction.atomic
def take_back(activity: Activity, *, by: User | None, now: datetime, today: date) -> Activity:
    """Put an activity back to what stood before the newest report on it.

    Writes Activity, kept dates and a trail row. A second time takes the taking back back.
    Raises: Refused where nothing was reported, or where it has been changed since.
    """
    held = plan.lock(activity.project)
    row = in_project(held, activity.pk)
    newest = TrailEntry.objects.filter(
        project=held, subject="activity", subject_id=row.pk, verb__in=("reported", "took back")
    ).order_by("-pk")[:1]
    entry = next(iter(newest), None)
    before = entry.details.get("before") if entry else None
    if entry is None or before is None:
        raise Refused(_("Nothing was reported on %s that could be taken back.") % row)
    if told(row) != {name: entry.details[name] for name in before}:
        raise Refused(_("%s was changed since that report; report it anew.") % row)
    stood = told(row)
    _write(row, _day(before["started"]), _day(before["finished"]), before["days"])
    plan.settle(held, today=today)
    words = _("Took back what was reported on %s") % row
    trail.note(
        held, by=by, at=now, verb="took back", subject="activity", subject_id=row.pk, summary=words,
        details=told(row) | {"before": stood, "reason": ""},
    )  # fmt: skip
    return in_project(held, row.pk)


def told(row: Activity) -> dict[str, Any]:
    """How far an activity is, as plain values for the trail."""
    return {"started": str(row.started_on or ""), "finished": str(row.finished_on or ""), "days": row.days}


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def _write(row: Activity, started_on: date | None, finished_on: date | None, days: int) -> None:
    row.started_on, row.finished_on, row.days = started_on, finished_on, days
    row.version += 1
    row.save(update_fields=["started_on", "finished_on", "days", "version"])


def _check(row: Activity, started_on: date | None, finished_on: date | None, today: date) -> None:
    if finished_on is not None and started_on is None:
        raise Refused(_("Say when %s began; it cannot end before that.") % row, field="started_on")
    for name, on in (("started_on", started_on), ("finished_on", finished_on)):
        if on is not None and on > today:
            raise Refused(_("That day has not come yet; only what has happened is reported here."), field=name)
    if finished_on is not None and started_on is not None and finished_on < started_on:
        raise Refused(_("It cannot end before it began; check the two dates."), field="finished_on")


def _may_start(row: Activity, today: date) -> None:
    """Refuse to start what a hold point stops (ADR 0404)."""
    from schedule.services import holds  # hold points name activities, and activities ask hold points

    holds.check_may_start(row, today=today)


def _noted(
    project: Project, row: Activity, reason: str, before: dict[str, Any], by: User | None, now: datetime
) -> None:  # fmt: skip
    if row.finished_on:
        words = _("%(activity)s: done, %(start)s to %(finish)s")
    elif row.started_on:
        words = _("%(activity)s: under way since %(start)s")
    else:
        words = _("%(activity)s: not started")
    dates = (("start", row.started_on), ("finish", row.finished_on))
    named = {"activity": row} | {name: display.day(on, project.locale) for name, on in dates if on}
    trail.note(
        project, by=by, at=now, verb="reported", subject="activity", subject_id=row.pk,
        summary=words % named + (f": {reason}" if reason else ""),
        details=told(row) | {"before": before, "reason": reason},
    )  # fmt: skip
