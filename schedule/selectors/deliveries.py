"""Deliveries as they stand: when each is expected, when it is needed, how long it may still wait to be ordered.

The expected day is that of the activity a delivery hangs on, or the day it came. What the maker promised stands beside it
until somebody puts it into the plan.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import cast

from django.http import Http404

from projects.models import Project
from schedule.calc import deliveries as calc
from schedule.calc import network as engine
from schedule.calc.calendars import EVERY_DAY, Calendar, NoSuchCalendar, TooFar
from schedule.calc.deliveries import LastOrder, Wait, Way
from schedule.models import Activity, Delivery, DeliveryStage, Link, Plan, WorkCalendar
from schedule.selectors import network
from schedule.selectors.arriving import Arriving, Board, Stage, Waits

#: Links that hold the start of what waits.
HOLDING_START = (Link.Kind.FS, Link.Kind.SS)


def board(project: Project, today: date) -> Board:
    """Read every delivery of a project. Queries: 6, however many there are."""
    rows = _rows(project)
    if not rows:
        return Board(())
    beside = _Beside.of(project, rows)
    found = [_coming(row, beside, today) for row in rows]
    return Board(tuple(sorted(found, key=lambda one: (one.state == "there", one.spare_days, one.pk))))


def one(project: Project, delivery_id: int, today: date) -> Arriving:
    """One delivery of this project. Queries: 6. Raises: Http404."""
    rows = _rows(project, pk=delivery_id)
    if not rows:
        raise Http404
    return _coming(rows[0], _Beside.of(project, rows), today)


def row_of(project: Project, delivery_id: int) -> Delivery:
    """The row of a delivery, one that was taken off, too. Queries: 1. Raises: Http404."""
    found = Delivery.objects.select_related("activity", "project", "calendar").filter(project=project, pk=delivery_id)
    row = found.first()
    if row is None:
        raise Http404
    return row


def waits_of(arriving: Arriving, days: int = calc.AHEAD) -> tuple[Wait, ...]:
    """What it comes to if it is ordered a week later, and another, and where the day on site jumps. Queries: 0."""
    first = _first_order(arriving.way, arriving.today)
    jumps = calc.jumps(arriving.way, first, days=days)
    edges = {jump.last_on + timedelta(days=after) for jump in jumps for after in (0, 1)}
    return tuple(
        wait
        for place, wait in enumerate(calc.waiting(arriving.way, first, days=days))
        if place % 7 == 0 or wait.ordered_on in edges
    )


def free_activities(project: Project) -> list[Activity]:
    """Activities that could be a delivery and are none yet: not done, those that bring something first. Queries: 1."""
    rows = Activity.objects.filter(project=project, removed_on=None, finished_on=None)
    free = rows.exclude(delivery__in=Delivery.objects.filter(project=project, removed_on=None))
    bringing = {Activity.Kind.DELIVERY, Activity.Kind.FABRICATION}
    return sorted(free, key=lambda row: (row.kind not in bringing, row.position, row.pk))


def calendars(project: Project) -> list[WorkCalendar]:
    """The calendars of a project, to choose from. Queries: 1."""
    return list(WorkCalendar.objects.filter(project=project))


def stage_of(row: Delivery, kind: str) -> Stage:
    """A stage as it stands, one that is not there yet as an empty one. Queries: 1."""
    found = row.stages.filter(kind=kind).first() or DeliveryStage(delivery=row, kind=kind)
    return _stage(found, date.min)


def as_promised(activity: Activity, promised_on: date) -> tuple[int, date | None]:
    """How the plan has to change for an activity to end on a promised day. Queries: 3.

    Returns: its days, of its own calendar, and the day it cannot begin before; the first moves with work that has a length, the
    second with a milestone.
    """
    start = activity.started_on or activity.early_start_on
    if not activity.days or start is None:
        return activity.days, promised_on
    return calc.length_to(_own(activity), start, promised_on), activity.not_before_on


def finish_with_promise(seen: Arriving) -> tuple[date | None, date | None]:
    """The finish of the build as it stands, and if the promised day were put into the plan. Writes nothing. Queries: 9.

    Returns: None twice where nothing is promised, the thing is there, or no calendar reaches so far.
    """
    plan = network.plan_of(seen.row.project)
    if seen.row.promised_on is None or seen.arrived_on or plan is None:
        return None, None
    try:
        return plan.finish_on, _finish_if_promised(seen, plan)
    except (TooFar, NoSuchCalendar, engine.BadNetwork):
        return None, None


def _finish_if_promised(seen: Arriving, plan: Plan) -> date:
    activity = seen.activity
    days, not_before = as_promised(activity, cast(date, seen.row.promised_on))
    held = not_before + timedelta(days=1) if not_before and not days else not_before  # as `network.read` has it
    read = network.read(seen.row.project, plan, data_on=plan.data_on).network
    changed = tuple(
        replace(row, duration=days, not_before=held) if row.id == activity.code else row for row in read.activities
    )
    return engine.solve_network(replace(read, activities=changed)).finish


def _own(activity: Activity) -> Calendar:
    """The calendar that an activity's days count in."""
    if activity.elapsed:
        return EVERY_DAY
    plan = network.plan_of(activity.project)
    own = activity.calendar_id or (plan.calendar_id if plan else None)
    return network.calendars_of(activity.project).get(own or 0, network.WEEKDAYS)


# --- reading --------------------------------------------------------------------------------------------------


def _rows(project: Project, **more: object) -> list[Delivery]:
    found = Delivery.objects.filter(project=project, removed_on=None, activity__removed_on=None, **more)
    return list(found.select_related("activity"))


@dataclass(frozen=True, slots=True)
class _Beside:
    """What is read once for all rows."""

    stages: Mapping[int, Sequence[DeliveryStage]]
    waits: Mapping[int, tuple[Waits, ...]]
    calendars: Mapping[int, Calendar]
    default: Calendar

    @classmethod
    def of(cls, project: Project, rows: Sequence[Delivery]) -> "_Beside":
        calendars = network.calendars_of(project)
        own = Plan.objects.filter(project=project).values_list("calendar_id", flat=True).first()
        return cls(_stages(rows), _waits(rows), calendars, calendars.get(own or 0, network.WEEKDAYS))


def _stages(rows: Sequence[Delivery]) -> dict[int, list[DeliveryStage]]:
    found: dict[int, list[DeliveryStage]] = defaultdict(list)
    for stage in DeliveryStage.objects.filter(delivery__in=rows):
        found[stage.delivery_id].append(stage)
    return found


def _waits(rows: Sequence[Delivery]) -> dict[int, tuple[Waits, ...]]:
    found: dict[int, tuple[Waits, ...]] = defaultdict(tuple)
    links = Link.objects.filter(
        before__in=[row.activity_id for row in rows], kind__in=HOLDING_START, waiting__removed_on=None
    )
    for link in links.select_related("waiting"):
        work = link.waiting
        found[link.before_id] += (Waits(work.pk, work.code, work.name, work.early_start_on, work.trade),)
    return found


def _coming(row: Delivery, beside: _Beside, today: date) -> Arriving:
    way = _way(row, beside)
    stages = tuple(_stage(one, today) for one in beside.stages.get(row.pk, ()))
    made = Arriving(row, row.activity, stages, beside.waits.get(row.activity_id, ()), way, today, None, None, None)
    if row.ordered_on or row.activity.started_on or made.arrived_on:
        return made
    try:
        jump = next(iter(calc.jumps(way, _first_order(way, today))), None)
        latest, for_work = _order(way, made.latest_on), _order(way, _day_before(made.needed_by))
    except (TooFar, NoSuchCalendar) as fault:
        return replace(made, fault=str(fault))
    return replace(made, order=latest, order_for_work=for_work, jump=jump)


def _first_order(way: Way, today: date) -> date:
    """The first day on which it could be ordered, when its approval begins today."""
    return today + timedelta(days=way.approval_days)


def _day_before(day: date | None) -> date | None:
    return day - timedelta(days=1) if day else None


def _order(way: Way, on_site_by: date | None) -> LastOrder | None:
    return calc.last_order(way, on_site_by) if on_site_by else None


def _way(row: Delivery, beside: _Beside) -> Way:
    activity = row.activity
    own = EVERY_DAY if activity.elapsed else beside.calendars.get(activity.calendar_id or 0, beside.default)
    maker = beside.calendars.get(row.calendar_id or 0, own)
    making = activity.days if row.lead_days is None else row.lead_days
    return Way(making, maker, row.road_days, row.approval_days)


def _stage(row: DeliveryStage, today: date) -> Stage:
    late = row.done_on is None and row.due_on is not None and row.due_on < today
    return Stage(str(row.kind), row.get_kind_display(), row.due_on, row.done_on, row.paper, row.paper_there, late)
