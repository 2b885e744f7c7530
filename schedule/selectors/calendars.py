"""The calendars of a project as its page shows them: their rules, who works by them, and the weeks to come."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Q

from projects.models import Project
from schedule import regions
from schedule.calc import weeks
from schedule.calc.calendars import Calendar
from schedule.calc.rests import Closed
from schedule.calc.weeks import Week
from schedule.models import Closure, Plan, WorkCalendar

WEEKS = 8


@dataclass(frozen=True, slots=True)
class Shown:
    """One calendar."""

    row: WorkCalendar
    calendar: Calendar
    #: Closures that have not ended, the next first.
    coming: tuple[Closed, ...]
    weeks: tuple[Week, ...]
    #: The next public holiday it rests on, with its name.
    next_holiday: tuple[date, str] | None
    #: How many activities of the plan name it.
    users: int
    is_own: bool


@dataclass(frozen=True, slots=True)
class Page:
    calendars: tuple[Shown, ...]
    starts_on: date | None
    own_name: str
    #: Activities that name no calendar and go by the project's own.
    without: int


def page(project: Project, *, today: date) -> Page:
    """Every calendar of a project, in their order. Queries: 4."""
    plan = Plan.objects.select_related("calendar").filter(project=project).first()
    closed: dict[int, list[Closed]] = defaultdict(list)
    rows_of_closures = Closure.objects.filter(calendar__project=project).order_by("first_on", "pk")
    for pk, first, last, why in rows_of_closures.values_list("calendar_id", "first_on", "last_on", "reason"):
        closed[pk].append((first, last, why))
    counted = Count("activities", filter=Q(activities__removed_on=None))
    rows = WorkCalendar.objects.filter(project=project).annotate(users=counted)
    own = plan.calendar_id if plan else None
    return Page(
        calendars=tuple(_shown(row, closed[row.pk], own, today) for row in rows),
        starts_on=plan.starts_on if plan else None,
        own_name=plan.calendar.name if plan and plan.calendar else "",
        without=project.activities.filter(removed_on=None, calendar=None).count(),
    )


def _shown(row: WorkCalendar, closed: list[Closed], own: int | None, today: date) -> Shown:
    calendar = as_rules(row, closed)
    return Shown(
        row=row,
        calendar=calendar,
        coming=tuple(one for one in closed if one[1] >= today),
        weeks=weeks.weeks(calendar, closed, today, WEEKS),
        next_holiday=_next_holiday(calendar, today),
        users=row.users,  # type: ignore[attr-defined]  # counted by the query
        is_own=row.pk == own,
    )


def _next_holiday(calendar: Calendar, today: date) -> tuple[date, str] | None:
    """The next public holiday on a day that would be worked; None where none comes in this year or the next."""
    coming = (one for _year, days in holidays(calendar.region, today=today) for one in days)
    return next((one for one in coming if one[0].isoweekday() in calendar.weekdays), None)


def as_rules(row: WorkCalendar, closed: list[Closed]) -> Calendar:
    """A calendar as the engine wants it."""
    spans = tuple((first, last) for first, last, _why in closed)
    return Calendar(
        row.name, frozenset(map(int, row.weekdays)), row.region, spans, tuple(map(date.fromisoformat, row.extra_days))
    )


def holidays(region: str, *, today: date) -> list[tuple[int, list[tuple[date, str]]]]:
    """The public holidays of a place still to come this year, and those of next year, by year. Queries: none."""
    if not region:
        return []
    found = {
        year: [one for one in regions.named_holidays(region, year) if one[0] >= today]
        for year in (today.year, today.year + 1)
    }
    return [(year, days) for year, days in found.items() if days]
