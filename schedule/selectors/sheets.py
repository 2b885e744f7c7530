"""The plan as rows of sheets, in the words and the order that `calc.sheet` reads."""

from collections.abc import Iterator
from typing import Any

from projects.models import Project
from schedule.calc import sheet
from schedule.calc.sheet import Column
from schedule.models import Activity, Closure, Link, WorkCalendar

Row = tuple[Any, ...]
#: Columns of an activity that stand in its row under the same name.
OWN = (
    "code", "name", "trade", "area", "days", "not_before_on", "not_before_why", "notice_days", "attended_by", "note",
    "started_on", "finished_on", "early_start_on", "early_finish_on", "late_finish_on", "float_days",
)  # fmt: skip


def activities(project: Project, *, with_links: bool) -> tuple[tuple[Column, ...], list[Row]]:
    """Every activity of the plan. Queries: 1, and 1 for the links.

    Args:
        with_links: write what each waits for into a column; else they are left to their own sheet.
    """
    columns = tuple(one for one in sheet.COLUMNS[sheet.ACTIVITIES] if with_links or one.name != "after")
    waits = _waits(project) if with_links else {}
    rows = Activity.objects.select_related("calendar").filter(project=project, removed_on=None)
    return columns, [tuple(_cell(row, column.name, waits) for column in columns) for row in rows]


def _cell(row: Activity, name: str, waits: dict[int, str]) -> Any:
    if name == "after":
        return waits.get(row.pk, "")
    if name == "kind":
        return str(row.get_kind_display())
    if name == "calendar":
        return row.calendar.name if row.calendar else ""
    value = getattr(row, name)
    return value if name in OWN else _truth(value)


def _truth(value: bool) -> str:
    return "yes" if value else "no"


def _links(project: Project) -> Iterator[tuple[int, str, str, str, int, bool]]:
    rows = Link.objects.filter(waiting__project=project, waiting__removed_on=None, before__removed_on=None)
    rows = rows.order_by("waiting__position", "waiting_id", "pk")
    yield from rows.values_list("waiting_id", "waiting__code", "before__code", "kind", "lag_days", "lag_elapsed")


def _waits(project: Project) -> dict[int, str]:
    found: dict[int, list[sheet.Waits]] = {}
    for waiting, _code, before, kind, lag, elapsed in _links(project):
        found.setdefault(waiting, []).append((before, kind, lag, elapsed))
    return {waiting: sheet.written(links) for waiting, links in found.items()}


def links(project: Project) -> tuple[tuple[Column, ...], list[Row]]:
    """Every link of the plan. Queries: 1."""
    rows = [(code, before, kind, lag, _truth(elapsed)) for _pk, code, before, kind, lag, elapsed in _links(project)]
    return tuple(sheet.COLUMNS[sheet.LINKS]), rows


def calendars(project: Project) -> tuple[tuple[Column, ...], list[Row]]:
    """Every calendar. Queries: 1."""
    rows = WorkCalendar.objects.filter(project=project)
    found = [
        (row.name, sheet.written_weekdays(map(int, row.weekdays)), row.region, "; ".join(row.extra_days), row.note)
        for row in rows
    ]
    return tuple(sheet.COLUMNS[sheet.CALENDARS]), found


def closures(project: Project) -> tuple[tuple[Column, ...], list[Row]]:
    """Every closure of every calendar. Queries: 1."""
    rows = Closure.objects.filter(calendar__project=project).order_by("calendar__position", "calendar_id", "first_on")
    found = list(rows.values_list("calendar__name", "first_on", "last_on", "reason"))
    return tuple(sheet.COLUMNS[sheet.CLOSURES]), found
