"""The plan as the engine wants it: every activity, link and calendar of a project as plain values."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from projects.models import Project
from schedule.calc import network as engine
from schedule.calc.calendars import Calendar
from schedule.models import Activity, Closure, Link, Plan, WorkCalendar

#: The calendar of a project that has named none: Monday to Friday, our choice.
WEEKDAYS = Calendar("weekdays", frozenset({1, 2, 3, 4, 5}))


@dataclass(frozen=True, slots=True)
class Read:
    """A project's network, and the row that each of its activities comes from.

    In the network activities are known by their codes and calendars by their names; both stand once in a project.
    """

    network: engine.Network
    #: {code: primary key}
    rows: Mapping[str, int]
    names: Mapping[str, str]


def plan_of(project: Project) -> Plan | None:
    """The row that says where a project's plan begins, or None where nothing is planned. Queries: 1."""
    return Plan.objects.select_related("calendar").filter(project=project).first()


def read(project: Project, plan: Plan, *, data_on: date | None = None, finish_by: date | None = None) -> Read:
    """Read the network of a project; removed activities are left out. Queries: 4.

    Args:
        data_on: the day up to which progress is known; None for a plan that nothing has been done of.
        finish_by: the day from which late dates are worked back as well, or None.
    """
    calendars = calendars_of(project)
    names = {pk: calendar.name for pk, calendar in calendars.items()}
    found = list(
        Activity.objects.filter(project=project, removed_on=None).values_list(
            "pk", "code", "name", "kind", "days", "calendar_id", "elapsed", "not_before_on", "started_on", "finished_on"
        )
    )
    codes = {row[0]: row[1] for row in found}
    links = _links(project, codes)
    network = engine.Network(
        start=plan.starts_on,
        calendars={calendar.name: calendar for calendar in calendars.values()} | {WEEKDAYS.name: WEEKDAYS},
        default_calendar=names.get(plan.calendar_id or 0, WEEKDAYS.name),
        activities=tuple(
            engine.Activity(
                id=code,
                duration=days,
                calendar=names.get(calendar_id, ""),
                after=tuple(links[pk]),
                not_before=_day_of(not_before, days),
                elapsed=elapsed,
                started_on=started,
                finished_on=finished,
            )
            for pk, code, _name, _kind, days, calendar_id, elapsed, not_before, started, finished in found
        ),
        data_on=data_on,
        finish_by=finish_by,
    )
    return Read(network, {code: pk for pk, code in codes.items()}, {row[1]: row[2] for row in found})


def _day_of(not_before: date | None, days: int) -> date | None:
    """A milestone happens at the end of a day: one that falls on a day at the earliest lets work begin the day after (ADR 0403)."""
    return not_before + timedelta(days=1) if not_before is not None and days == 0 else not_before


def calendars_of(project: Project) -> dict[int, Calendar]:
    """Every calendar of a project, by its row. Queries: 2."""
    closed: dict[int, list[tuple[date, date]]] = defaultdict(list)
    rows = Closure.objects.filter(calendar__project=project).order_by("first_on", "pk")
    for calendar_id, first, last in rows.values_list("calendar_id", "first_on", "last_on"):
        closed[calendar_id].append((first, last))
    kept = WorkCalendar.objects.filter(project=project).order_by("position", "pk")
    return {
        pk: Calendar(
            name, frozenset(map(int, weekdays)), region, tuple(closed[pk]), tuple(map(date.fromisoformat, extra))
        )
        for pk, name, weekdays, region, extra in kept.values_list("pk", "name", "weekdays", "region", "extra_days")
    }


def _links(project: Project, codes: Mapping[int, str]) -> dict[int, list[engine.Link]]:
    found: dict[int, list[engine.Link]] = defaultdict(list)
    rows = Link.objects.filter(waiting__project=project).order_by("pk")
    for waiting, before, kind, lag, elapsed in rows.values_list(
        "waiting_id", "before_id", "kind", "lag_days", "lag_elapsed"
    ):
        if waiting in codes and before in codes:
            found[waiting].append(engine.Link(codes[before], kind, lag, elapsed))
    return found
