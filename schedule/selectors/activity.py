"""Everything that is known of one activity."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import QuerySet
from django.http import Http404

from projects.models import Project, TrailEntry
from schedule.calc import network as engine
from schedule.calc import opening
from schedule.calc import why as reasons
from schedule.calc.calendars import EVERY_DAY, Calendar
from schedule.calc.rests import Closed
from schedule.calc.why import Held, Why
from schedule.models import Activity, BaselineDate, Delivery, Link, Need, Plan
from schedule.selectors import holds
from schedule.selectors import network as facts
from schedule.selectors.holds import Covering, Hold

LATEST = 12


@dataclass(frozen=True, slots=True)
class Planned:
    """What the newest frozen plan says of it; `days_later` is the finish now less the finish then [calendar days]."""

    name: str
    taken_on: date
    days: int
    start_on: date
    finish_on: date
    days_later: int


@dataclass(frozen=True, slots=True)
class Page:
    """An activity with all that hangs on it."""

    activity: Activity
    why: Why | None
    #: The activities that hold its start, by their rows.
    drivers: tuple[Activity, ...]
    #: The last day it may be finished on before anything that waits for it moves.
    free_until: date | None
    waits_for: tuple[Link, ...]
    leads_to: tuple[Link, ...]
    needs: tuple[Need, ...]
    answer: Covering | None
    looked_at: tuple[Hold, ...]
    delivery: Delivery | None
    planned: Planned | None
    trail: tuple[TrailEntry, ...]

    @property
    def slips(self) -> list[TrailEntry]:
        """Entries that say why something is otherwise than planned."""
        return [entry for entry in self.trail if entry.details.get("reason")]


def activity_in(project: Project, activity_id: int) -> Activity:
    """An activity of this project, also one that was taken out. Queries: 1. Raises: Http404."""
    found = Activity.objects.select_related("calendar", "project").filter(project=project, pk=activity_id).first()
    if found is None:
        raise Http404
    return found


def finish_of(project: Project) -> date | None:
    """The day everything is done, as it was last worked out. Queries: 1."""
    return Plan.objects.filter(project=project).values_list("finish_on", flat=True).first()


def read(project: Project, activity_id: int, *, today: date) -> Page:
    """Read one activity. Queries: at most 24, whatever the size of the plan. Raises: Http404."""
    row = activity_in(project, activity_id)
    why, free_until = (None, None) if row.removed_on else _reckoned(project, row)
    waits_for = _links(row.waits_for.filter(before__removed_on=None).select_related("before"))
    book = holds.book(project, today=today)
    return Page(
        activity=row,
        why=why,
        drivers=tuple(link.before for link in waits_for if why and link.before.code in why.drives),
        free_until=free_until,
        waits_for=waits_for,
        leads_to=_links(row.leads_to.filter(waiting__removed_on=None).select_related("waiting")),
        needs=tuple(row.needs.filter(cleared_on=None, removed_on=None)),
        answer=next((one for one in book.answers() if one.work.key == row.pk), None),
        looked_at=tuple(hold for hold in book.holds if hold.activity.key == row.pk),
        delivery=Delivery.objects.filter(activity=row, removed_on=None).first(),
        planned=_planned(row),
        trail=_trail(row),
    )


def _links(found: QuerySet[Link]) -> tuple[Link, ...]:
    return tuple(found.order_by("pk"))


def _reckoned(project: Project, row: Activity) -> tuple[Why | None, date | None]:
    plan = facts.plan_of(project)
    if plan is None or row.early_start_on is None or row.early_finish_on is None:
        return None, None
    read = facts.read(project, plan, data_on=plan.data_on, finish_by=project.opens_on)
    drives = engine.solve_network(read.network).drives(row.code)
    calendar, closed = _calendar(row, plan, read.network.calendars)
    held = Held(
        row.early_start_on, row.started_on, drives, row.not_before_on, plan.data_on, plan.starts_on, days=row.days
    )
    return (
        reasons.why(held, calendar, closed),
        reasons.latest_without_harm(calendar, row.early_finish_on, row.free_days),
    )


def _calendar(row: Activity, plan: Plan, known: Mapping[str, Calendar]) -> tuple[Calendar, list[Closed]]:
    """The calendar an activity works by, with why it rests when."""
    if row.elapsed:
        return EVERY_DAY, []
    used = row.calendar or plan.calendar
    if used is None:
        return facts.WEEKDAYS, []
    return known[used.name], list(used.closures.values_list("first_on", "last_on", "reason"))


def _planned(row: Activity) -> Planned | None:
    found = BaselineDate.objects.select_related("baseline").filter(activity=row).order_by("-baseline_id").first()
    if found is None or row.early_finish_on is None:
        return None
    later = opening.days_against(row.early_finish_on, found.finish_on)
    return Planned(found.baseline.name, found.baseline.taken_on, found.days, found.start_on, found.finish_on, later)


def _trail(row: Activity) -> tuple[TrailEntry, ...]:
    found = TrailEntry.objects.filter(project_id=row.project_id, subject="activity", subject_id=row.pk)
    return tuple(found.select_related("by").order_by("-pk")[:LATEST])
