"""Calendars and their closures; changing one moves dates at once."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused, Stale
from projects.models import Project, User
from schedule.calc import calendars as rules
from schedule.models import Activity, Closure, Plan, WorkCalendar
from schedule.services import plan

NAME_LENGTH = 80


@dataclass(frozen=True, slots=True)
class ClosureDraft:
    first_on: date
    last_on: date
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CalendarDraft:
    """The days somebody works: ISO weekdays 1 to 7, whose public holidays, and when it rests."""

    name: str
    weekdays: frozenset[int]
    region: str = ""
    note: str = ""
    closures: tuple[ClosureDraft, ...] = ()


@transaction.atomic
def add(project: Project, draft: CalendarDraft, *, by: User | None, now: datetime, today: date) -> WorkCalendar:
    """Add a calendar; the first one becomes the project's own.

    Writes WorkCalendar, Closure and a trail row. Raises: Refused.
    """
    held = plan.lock(project)
    _check(held, draft, None)
    row = WorkCalendar.objects.create(
        project=held, name=draft.name.strip(), weekdays=_digits(draft.weekdays), region=draft.region, note=draft.note,
        position=WorkCalendar.objects.filter(project=held).count(),
    )  # fmt: skip
    _close(row, draft.closures)
    opened = plan.opened(held, today=today)
    if opened.calendar_id is None:
        opened.calendar = row
        opened.save(update_fields=["calendar"])
    _noted(row, "added", _("Added the calendar %(name)s: %(days)s"), by, now)
    return row


@transaction.atomic
def change(
    calendar: WorkCalendar, draft: CalendarDraft, *, by: User | None, now: datetime, today: date, version: int | None = None
) -> WorkCalendar:  # fmt: skip
    """Write a calendar anew, with all of its closures, and move every date that rests on it.

    Writes WorkCalendar, Closure, kept dates and a trail row with what stood before. Raises: Refused; Stale.
    """
    held = plan.lock(calendar.project)
    row = WorkCalendar.objects.get(pk=calendar.pk)
    if version is not None and row.version != version:
        raise Stale(_("Somebody has changed this calendar since you opened it; look at it again."))
    _check(held, draft, row)
    before = _told(row)
    row.name, row.weekdays, row.region, row.note = (
        draft.name.strip(),
        _digits(draft.weekdays),
        draft.region,
        draft.note,
    )
    row.version += 1
    row.save(update_fields=["name", "weekdays", "region", "note", "version"])
    row.closures.all().delete()
    _close(row, draft.closures)
    plan.settle(held, today=today)
    _noted(row, "changed", _("Changed the calendar %(name)s: %(days)s"), by, now, {"before": before})
    return row


@transaction.atomic
def close(calendar: WorkCalendar, closure: ClosureDraft, *, by: User | None, now: datetime, today: date) -> Closure:
    """Add one closure, such as an inspector's leave, and move every date that rests on it. Raises: Refused."""
    held = plan.lock(calendar.project)
    _check_closure(closure)
    row = Closure.objects.create(
        calendar=calendar, first_on=closure.first_on, last_on=closure.last_on, reason=closure.reason.strip()
    )
    plan.settle(held, today=today)
    _noted(calendar, "closed", _("Closed the calendar %(name)s from %(first)s to %(last)s: %(reason)s"), by, now,
           {"first": str(row.first_on), "last": str(row.last_on), "reason": row.reason})  # fmt: skip
    return row


@transaction.atomic
def remove(calendar: WorkCalendar, *, by: User | None, now: datetime, today: date) -> None:
    """Take a calendar away that nothing works by. Raises: Refused where something does."""
    held = plan.lock(calendar.project)
    users = Activity.objects.filter(calendar=calendar).values_list("code", flat=True)
    if users:
        raise Refused(_("Activities work by this calendar: %s. Give them another first.") % ", ".join(users[:6]))
    if Plan.objects.filter(calendar=calendar).exists():
        raise Refused(_("The project itself works by this calendar; choose another for it first."))
    _noted(calendar, "removed", _("Removed the calendar %(name)s: %(days)s"), by, now, {"before": _told(calendar)})
    calendar.delete()
    plan.settle(held, today=today)


@transaction.atomic
def work_by(project: Project, calendar: WorkCalendar, *, by: User | None, now: datetime, today: date) -> None:
    """Make a calendar the one that activities without their own work by."""
    held = plan.lock(project)
    opened = plan.opened(held, today=today)
    opened.calendar = calendar
    opened.save(update_fields=["calendar"])
    plan.settle(held, today=today)
    _noted(calendar, "chose", _("The project now works by the calendar %(name)s"), by, now)


def _check(project: Project, draft: CalendarDraft, own: WorkCalendar | None) -> None:
    name = draft.name.strip()
    if not name:
        raise Refused(_("Give the calendar a name, such as who works by it."), field="name")
    twins = WorkCalendar.objects.filter(project=project, name__iexact=name)
    if (twins.exclude(pk=own.pk) if own else twins).exists():
        raise Refused(_("There is a calendar of this name already; give another."), field="name")
    if not draft.weekdays or not draft.weekdays <= set(range(1, 8)):
        raise Refused(_("Tick at least one weekday."), field="weekdays")
    if draft.region and not rules.knows_region(draft.region):
        raise Refused(
            _("No public holidays are known for “%s”; choose a region from the list.") % draft.region, field="region"
        )
    for closure in draft.closures:
        _check_closure(closure)


def _check_closure(closure: ClosureDraft) -> None:
    if closure.last_on < closure.first_on:
        raise Refused(_("The last day of a closure is before its first; turn them round."), field="closures")


def _close(row: WorkCalendar, closures: Iterable[ClosureDraft]) -> None:
    Closure.objects.bulk_create(
        Closure(calendar=row, first_on=one.first_on, last_on=one.last_on, reason=one.reason.strip()) for one in closures
    )


def _digits(weekdays: Iterable[int]) -> str:
    return "".join(str(day) for day in sorted(weekdays))


def _told(row: WorkCalendar) -> dict[str, object]:
    closures = [[str(one.first_on), str(one.last_on), one.reason] for one in row.closures.all()]
    return {"name": row.name, "weekdays": row.weekdays, "region": row.region, "closures": closures}


def _noted(
    row: WorkCalendar, verb: str, words: str, by: User | None, now: datetime, details: dict[str, object] | None = None
) -> None:  # fmt: skip
    told = {"name": row.name, "days": row.weekdays} | (details or {})
    trail.note(
        row.project, by=by, at=now, verb=verb, subject="calendar", subject_id=row.pk, summary=words % told, details=details
    )  # fmt: skip
