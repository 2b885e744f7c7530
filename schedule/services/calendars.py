"""Calendars and their closures; changing one moves dates at once."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import display, trail
from projects.bounds import EARLIEST, LATEST
from projects.faults import Refused, Stale
from projects.models import Project, User
from schedule import regions
from schedule.models import Activity, Closure, Delivery, Plan, WorkCalendar
from schedule.services import plan

NAME_LENGTH = 80
REASON_LENGTH = 200
#: A closure longer than this is a slip of the pen [days].
LONGEST_CLOSURE = 1_100


@dataclass(frozen=True, slots=True)
class ClosureDraft:
    first_on: date
    last_on: date
    reason: str = ""


@dataclass(frozen=True, slots=True)
class CalendarDraft:
    """The days somebody works: ISO weekdays 1 to 7, whose public holidays, when it rests, and single days that are worked
    whatever the rest says."""

    name: str
    weekdays: frozenset[int]
    region: str = ""
    note: str = ""
    closures: tuple[ClosureDraft, ...] = ()
    extra_days: tuple[date, ...] = ()


@transaction.atomic
def add(project: Project, draft: CalendarDraft, *, by: User | None, now: datetime, today: date) -> WorkCalendar:
    """Add a calendar; the first one becomes the project's own.

    Writes WorkCalendar, Closure and a trail row; kept dates where it is the first. Raises: Refused.
    """
    held = plan.lock(project)
    row = put_in(held, draft, today=today)
    plan.settle(held, today=today)
    _noted(row, "added", _("Added the calendar %(name)s"), by, now, {"after": told(draft_of(row))})
    return row


def put_in(project: Project, draft: CalendarDraft, *, today: date) -> WorkCalendar:
    """Write a new calendar for a deed that settles the plan itself. Writes WorkCalendar, Closure, Plan. Raises: Refused."""
    check(project, draft, None)
    row = WorkCalendar(project=project, position=WorkCalendar.objects.filter(project=project).count())
    _fill(row, draft)
    row.save()
    _close(row, draft.closures)
    opened = plan.opened(project, today=today)
    if opened.calendar_id is None:
        opened.calendar = row
        opened.save(update_fields=["calendar"])
    return row


@transaction.atomic
def change(
    calendar: WorkCalendar, draft: CalendarDraft, *, by: User | None, now: datetime, today: date, version: int | None = None
) -> WorkCalendar:  # fmt: skip
    """Write a calendar anew, with all of its closures, and move every date that rests on it.

    Writes WorkCalendar, Closure, kept dates and a trail row with what stood before. Raises: Refused; Stale.
    """
    held = plan.lock(calendar.project)
    row = in_project(held, calendar.pk)
    standing = draft_of(row)
    if version is not None and row.version != version:
        raise Stale(
            _("Somebody has changed this calendar since you opened it; look at it again."),
            theirs=_theirs(row, standing),
        )
    write(held, row, draft)
    plan.settle(held, today=today)
    details = {"before": told(standing), "after": told(draft_of(row))}
    _noted(row, "changed", _("Changed the calendar %(name)s"), by, now, details)
    return row


def _theirs(row: WorkCalendar, standing: CalendarDraft) -> dict[str, Any]:
    """What stands, by the names that a form gives it."""
    weekdays = [str(day) for day in sorted(standing.weekdays)]
    plain = {"name": standing.name, "region": standing.region, "note": standing.note}
    return plain | {"weekdays": weekdays, "version": row.version}


def write(project: Project, row: WorkCalendar, draft: CalendarDraft) -> None:
    """Put a draft into a calendar that stands, for a deed that settles the plan itself. Writes WorkCalendar, Closure."""
    check(project, draft, row)
    _fill(row, draft)
    row.version += 1
    row.save()
    row.closures.all().delete()
    _close(row, draft.closures)


@transaction.atomic
def close(calendar: WorkCalendar, closure: ClosureDraft, *, by: User | None, now: datetime, today: date) -> Closure:
    """Add one closure, such as an inspector's leave, and move every date that rests on it.

    Writes Closure, kept dates and a trail row. Not safe to repeat: each call is a further closure. Raises: Refused.
    """
    held = plan.lock(calendar.project)
    row = in_project(held, calendar.pk)
    _check_closure(closure)
    made = Closure.objects.create(
        calendar=row, first_on=closure.first_on, last_on=closure.last_on, reason=closure.reason.strip()
    )
    row.version += 1
    row.save(update_fields=["version"])
    plan.settle(held, today=today)
    days = {name: display.day(on, held.locale) for name, on in (("first", made.first_on), ("last", made.last_on))}
    words = _("Closed the calendar %(name)s from %(first)s to %(last)s: %(reason)s")
    told = {"first": str(made.first_on), "last": str(made.last_on), "reason": made.reason}
    _noted(row, "closed", words, by, now, told, {"reason": made.reason} | days)
    return made


@transaction.atomic
def remove(calendar: WorkCalendar, *, by: User | None, now: datetime, today: date) -> None:
    """Take a calendar away that nothing works by. Writes WorkCalendar, a trail row. Raises: Refused where something does."""
    held = plan.lock(calendar.project)
    row = in_project(held, calendar.pk)
    _noted(row, "removed", _("Removed the calendar %(name)s"), by, now, {"before": told(draft_of(row))})
    drop(held, row)
    plan.settle(held, today=today)


def drop(project: Project, row: WorkCalendar) -> None:
    """Delete a calendar that nothing works by, for a deed that settles the plan itself. Raises: Refused."""
    _nobody_works_by(row)
    # An activity that was taken out of the plan goes without: it works no more.
    Activity.objects.filter(project=project, calendar=row).exclude(removed_on=None).update(calendar=None)
    Delivery.objects.filter(project=project, calendar=row).exclude(removed_on=None).update(calendar=None)
    row.delete()


def _nobody_works_by(row: WorkCalendar) -> None:
    users = Activity.objects.filter(calendar=row, removed_on=None).values_list("code", flat=True)
    if users:
        raise Refused(_("Activities work by this calendar: %s. Give them another first.") % ", ".join(users[:6]))
    makers = Delivery.objects.filter(calendar=row, removed_on=None).values_list("item", flat=True)
    if makers:
        raise Refused(
            _("Deliveries are counted by this calendar: %s. Give them another first.") % ", ".join(makers[:6])
        )
    if Plan.objects.filter(calendar=row).exists():
        raise Refused(_("The project itself works by this calendar; choose another for it first."))


@transaction.atomic
def work_by(project: Project, calendar: WorkCalendar, *, by: User | None, now: datetime, today: date) -> None:
    """Make a calendar the one that activities without their own work by. Writes Plan, kept dates, a trail row."""
    held = plan.lock(project)
    row = in_project(held, calendar.pk)
    opened = plan.opened(held, today=today)
    opened.calendar = row
    opened.save(update_fields=["calendar"])
    plan.settle(held, today=today)
    _noted(row, "chose", _("The project now works by the calendar %(name)s"), by, now)


def in_project(project: Project, calendar_id: int) -> WorkCalendar:
    """A calendar of this project. Raises: Refused."""
    row = WorkCalendar.objects.select_related("project").filter(project=project, pk=calendar_id).first()
    if row is None:
        raise Refused(_("This calendar is not there any more."))
    return row


def draft_of(row: WorkCalendar) -> CalendarDraft:
    """A calendar as it stands, as a draft to change parts of. Queries: 1."""
    closures = tuple(ClosureDraft(one.first_on, one.last_on, one.reason) for one in row.closures.all())
    extra = tuple(date.fromisoformat(day) for day in row.extra_days)
    return CalendarDraft(row.name, frozenset(map(int, row.weekdays)), row.region, row.note, closures, extra)


def told(draft: CalendarDraft) -> dict[str, Any]:
    """A calendar as plain values for the trail."""
    closures = sorted([str(one.first_on), str(one.last_on), one.reason] for one in draft.closures)
    return {
        "name": draft.name, "weekdays": _digits(draft.weekdays), "region": draft.region, "note": draft.note,
        "closures": closures, "extra_days": sorted(map(str, draft.extra_days)),
    }  # fmt: skip


def from_told(plain: Mapping[str, Any]) -> CalendarDraft:
    """Read back what `told` wrote."""
    closures = tuple(
        ClosureDraft(date.fromisoformat(first), date.fromisoformat(last), reason)
        for first, last, reason in plain["closures"]
    )
    extra = tuple(date.fromisoformat(day) for day in plain["extra_days"])
    weekdays = frozenset(map(int, plain["weekdays"]))
    return CalendarDraft(plain["name"], weekdays, plain["region"], plain["note"], closures, extra)


def check(project: Project, draft: CalendarDraft, own: WorkCalendar | None) -> None:
    """Refuse a calendar that cannot stand, at its field."""
    name = draft.name.strip()
    if not name:
        raise Refused(_("Give the calendar a name, such as who works by it."), field="name")
    if len(name) > NAME_LENGTH or len(draft.note) > 300:
        raise Refused(_("Shorten this; a name has at most 80 letters, a note 300."), field="name")
    twins = WorkCalendar.objects.filter(project=project, name__iexact=name)
    if (twins.exclude(pk=own.pk) if own else twins).exists():
        raise Refused(_("There is a calendar of this name already; give another."), field="name")
    if not draft.weekdays or not draft.weekdays <= set(range(1, 8)):
        raise Refused(_("Tick at least one weekday."), field="weekdays")
    if draft.region and not regions.is_known(draft.region):
        raise Refused(
            _("No public holidays are known for “%s”; choose a region from the list.") % draft.region, field="region"
        )
    for closure in draft.closures:
        _check_closure(closure)
    if any(not EARLIEST <= day <= LATEST for day in draft.extra_days):
        raise Refused(_("A day that is worked is out of range; check its year."), field="extra_days")


def _check_closure(closure: ClosureDraft) -> None:
    if closure.last_on < closure.first_on:
        raise Refused(_("The last day of a closure is before its first; turn them round."), field="last_on")
    if not (closure.first_on >= EARLIEST and closure.last_on <= LATEST):
        raise Refused(_("A closure is out of range; check its year."), field="first_on")
    if (closure.last_on - closure.first_on).days > LONGEST_CLOSURE:
        raise Refused(_("This closure is longer than three years; check its year."), field="last_on")
    if len(closure.reason.strip()) > REASON_LENGTH:
        raise Refused(_("Shorten the reason to 200 letters."), field="reason")


def _fill(row: WorkCalendar, draft: CalendarDraft) -> None:
    row.name, row.weekdays, row.region, row.note = draft.name.strip(), _digits(draft.weekdays), draft.region, draft.note
    row.extra_days = sorted({str(day) for day in draft.extra_days})


def _close(row: WorkCalendar, closures: Iterable[ClosureDraft]) -> None:
    Closure.objects.bulk_create(
        Closure(calendar=row, first_on=one.first_on, last_on=one.last_on, reason=one.reason.strip()) for one in closures
    )


def _digits(weekdays: Iterable[int]) -> str:
    return "".join(str(day) for day in sorted(weekdays))


def _noted(
    row: WorkCalendar, verb: str, words: str, by: User | None, now: datetime, details: Mapping[str, Any] | None = None,
    said: Mapping[str, Any] | None = None,
) -> None:  # fmt: skip
    trail.note(
        row.project, by=by, at=now, verb=verb, subject="calendar", subject_id=row.pk,
        summary=words % {**(said or {}), "name": row.name}, details=dict(details or {}),
    )  # fmt: skip
