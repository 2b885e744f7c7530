"""What the Sequence page rests on: every activity with its kept dates, the calendars, the frozen plan, and what is still needed."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import FilteredRelation, OuterRef, Q, Subquery

from projects.models import Project
from schedule.calc import opening
from schedule.calc.calendars import Calendar
from schedule.calc.listing import Row
from schedule.calc.rests import Closed
from schedule.models import Activity, Baseline, BaselineDate, Need, WorkCalendar
from schedule.selectors.network import WEEKDAYS

COLUMNS = (
    "pk", "code", "name", "kind", "trade", "area", "days", "calendar_id", "elapsed", "covers", "started_on", "finished_on",
    "early_start_on", "early_finish_on", "late_finish_on", "float_days", "target_float_days", "critical",
)  # fmt: skip
NEED = ("what", "kind", "who", "by_on")


@dataclass(frozen=True, slots=True)
class CalendarShown:
    """A calendar by its row, with why it rests when."""

    pk: int
    calendar: Calendar
    closed: tuple[Closed, ...]


@dataclass(frozen=True, slots=True)
class Frozen:
    """The newest frozen plan."""

    name: str
    taken_on: date
    finish_on: date | None


@dataclass(frozen=True, slots=True)
class OpenNeed:
    """Something an activity waits for that is not there yet."""

    what: str
    kind: str
    who: str
    by_on: date


@dataclass(frozen=True, slots=True)
class Overview:
    """A project's sequence; rows come in the order of the plan."""

    rows: tuple[Row, ...]
    finish_on: date | None
    target_on: date | None
    cost_of_day_minor: int
    calendars: tuple[CalendarShown, ...]
    own_calendar: CalendarShown
    frozen: Frozen | None
    needs: Mapping[int, tuple[OpenNeed, ...]]

    @property
    def days_late(self) -> int | None:
        """Calendar days from the target to the finish; above zero is late."""
        if self.finish_on is None or self.target_on is None:
            return None
        return opening.days_against(self.finish_on, self.target_on)

    @property
    def days_from_frozen(self) -> int | None:
        """Calendar days from the finish by the frozen plan to the finish now."""
        if self.finish_on is None or self.frozen is None or self.frozen.finish_on is None:
            return None
        return opening.days_against(self.finish_on, self.frozen.finish_on)

    @property
    def cost_minor(self) -> int:
        return opening.cost_of_days(self.days_late or 0, self.cost_of_day_minor)

    @property
    def done(self) -> int:
        return sum(not row.is_left for row in self.rows)

    @property
    def left(self) -> int:
        return sum(row.is_left for row in self.rows)

    @property
    def critical(self) -> int:
        return sum(row.is_critical for row in self.rows)

    @property
    def trades(self) -> list[str]:
        return sorted({row.trade for row in self.rows if row.trade}, key=str.casefold)

    @property
    def areas(self) -> list[str]:
        return sorted({row.area for row in self.rows if row.area}, key=str.casefold)

    def calendar(self, pk: int) -> CalendarShown:
        """The calendar of this key, else the project's own."""
        return next((one for one in self.calendars if one.pk == pk), self.own_calendar)


def read(project: Project) -> Overview:
    """Everything on the page but the hold points; removed activities are left out. Queries: 3."""
    frozen, planned = _frozen(project)
    calendars = _calendars(project)
    read = _activities(project)
    finish, own = (read[0]["project__plan__finish_on"], read[0]["project__plan__calendar_id"]) if read else (None, None)
    rows = {row["pk"]: Row(*[*(row[name] for name in COLUMNS), planned.get(row["pk"])]) for row in read}
    return Overview(
        rows=tuple(rows.values()),
        finish_on=finish,
        target_on=project.opens_on,
        cost_of_day_minor=project.cost_of_day_minor or 0,
        calendars=calendars,
        own_calendar=next((one for one in calendars if one.pk == own), CalendarShown(0, WEEKDAYS, ())),
        frozen=frozen,
        needs=_needs(read),
    )


def _activities(project: Project) -> list[dict[str, Any]]:
    """A row for each activity, several for one that needs several things."""
    still = FilteredRelation("needs", condition=Q(needs__cleared_on=None, needs__removed_on=None))
    found = Activity.objects.filter(project=project, removed_on=None).exclude(early_start_on=None)
    found = found.annotate(still=still).order_by("position", "pk", "still__by_on", "still__pk")
    plan = ("project__plan__finish_on", "project__plan__calendar_id")
    return list(found.values(*COLUMNS, *plan, *(f"still__{name}" for name in NEED)))


def _frozen(project: Project) -> tuple[Frozen | None, dict[int, date]]:
    newest = Baseline.objects.filter(project=OuterRef("baseline__project")).order_by("-pk").values("pk")[:1]
    found = BaselineDate.objects.filter(baseline__project=project, baseline_id=Subquery(newest)).values_list(
        "activity_id", "finish_on", "baseline__name", "baseline__taken_on", "baseline__finish_on"
    )
    rows = list(found)
    return (Frozen(*rows[0][2:]) if rows else None), {row[0]: row[1] for row in rows}


def _calendars(project: Project) -> tuple[CalendarShown, ...]:
    rows = WorkCalendar.objects.filter(project=project).order_by("position", "pk", "closures__first_on")
    named: dict[int, tuple[str, str, str, list[str]]] = {}
    closed: dict[int, list[Closed]] = defaultdict(list)
    for pk, name, weekdays, region, extra, first, last, why in rows.values_list(
        "pk", "name", "weekdays", "region", "extra_days",
        "closures__first_on", "closures__last_on", "closures__reason",
    ):  # fmt: skip
        named[pk] = (name, weekdays, region, extra)
        if first is not None:
            closed[pk].append((first, last, why))
    return tuple(_calendar(pk, *told, tuple(closed[pk])) for pk, told in named.items())


def _calendar(
    pk: int, name: str, weekdays: str, region: str, extra: list[str], closed: tuple[Closed, ...]
) -> CalendarShown:
    days = tuple((first, last) for first, last, _why in closed)
    worked = tuple(map(date.fromisoformat, extra))
    return CalendarShown(pk, Calendar(name, frozenset(map(int, weekdays)), region, days, worked), closed)


def _needs(read: Iterable[Mapping[str, Any]]) -> dict[int, tuple[OpenNeed, ...]]:
    found: dict[int, list[OpenNeed]] = defaultdict(list)
    for row in read:
        if row["still__what"] is not None and row["finished_on"] is None:
            what, kind, who, by_on = (row[f"still__{name}"] for name in NEED)
            found[row["pk"]].append(OpenNeed(what, str(Need.Kind(kind).label), who, by_on))
    return {pk: tuple(needs) for pk, needs in found.items()}
