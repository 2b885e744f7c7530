"""What the forms of the plan have to know: what there is to choose from, and the row that is changed."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from django.http import Http404

from projects.models import Project, TrailEntry, User
from schedule.models import Activity, Plan, WorkCalendar

#: The first code of a plan that has none.
FIRST_CODE = "A01"
NUMBERED = re.compile(r"(.*?)(\d{1,6})")


@dataclass(frozen=True, slots=True)
class Choice:
    """An activity that others may wait for."""

    code: str
    name: str

    @property
    def label(self) -> str:
        return f"{self.code} · {self.name}"


@dataclass(frozen=True, slots=True)
class Desk:
    """What there is to choose from in the form of an activity."""

    project: Project
    activities: tuple[Choice, ...]
    calendars: tuple[str, ...]
    #: The name of the calendar that work without its own goes by, or "" for Monday to Friday.
    own_calendar: str
    trades: tuple[str, ...]
    areas: tuple[str, ...]
    next_code: str


def desk(project: Project) -> Desk:
    """Read what the form of an activity offers. Queries: 3."""
    rows = list(Activity.objects.filter(project=project).values_list("code", "name", "trade", "area", "removed_on"))
    plan = Plan.objects.select_related("calendar").filter(project=project).first()
    return Desk(
        project=project,
        activities=tuple(Choice(code, name) for code, name, _trade, _area, removed in rows if removed is None),
        calendars=tuple(WorkCalendar.objects.filter(project=project).values_list("name", flat=True)),
        own_calendar=plan.calendar.name if plan and plan.calendar else "",
        trades=_names(row[2] for row in rows),
        areas=_names(row[3] for row in rows),
        next_code=next_code([row[0] for row in rows]),
    )


def _names(found: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted({name for name in found if name}))


def next_code(codes: Sequence[str]) -> str:
    """The code after the highest one of the same letters as the newest: A07 after A06. Codes are in the order of the plan.

    >>> next_code(["A01", "A02", "B9"]), next_code(["A01", "A10", "A02"]), next_code(["pour"])
    ('B10', 'A11', 'A01')
    """
    found = [match for match in map(NUMBERED.fullmatch, codes) if match]
    if not found:
        return FIRST_CODE
    letters, width = found[-1][1], len(found[-1][2])
    highest = max(int(match[2]) for match in found if match[1] == letters)
    return f"{letters}{highest + 1:0{width}d}"


def activity_in(project: Project, activity_id: int) -> Activity:
    """An activity of the plan, with its calendar. Raises: Http404. Queries: 1."""
    found = Activity.objects.select_related("calendar", "project")
    row = found.filter(project=project, pk=activity_id, removed_on=None).first()
    if row is None:
        raise Http404
    return row


def calendar_in(project: Project, calendar_id: int) -> WorkCalendar:
    """A calendar of the project. Raises: Http404. Queries: 1."""
    row = WorkCalendar.objects.select_related("project").filter(project=project, pk=calendar_id).first()
    if row is None:
        raise Http404
    return row


def deed_in(project: Project, entry_id: int) -> TrailEntry:
    """A row of the project's trail. Raises: Http404. Queries: 1."""
    row = TrailEntry.objects.select_related("project").filter(project=project, pk=entry_id).first()
    if row is None:
        raise Http404
    return row


def newest_deed(project: Project, subject: str, by: User) -> int:
    """The newest thing that somebody did of such a kind, for its undo; 0 where there is none. Queries: 1."""
    rows = TrailEntry.objects.filter(project=project, subject=subject, by=by).order_by("-pk")
    return rows.values_list("pk", flat=True).first() or 0


@dataclass(frozen=True, slots=True)
class Start:
    """How the plan starts, or would."""

    starts_on: date
    calendar: str
    version: int


def start(project: Project, *, today: date) -> Start:
    """When the plan starts and by which calendar. Queries: 1."""
    row = Plan.objects.select_related("calendar").filter(project=project).first()
    if row is None:
        return Start(project.starts_on or today, "", 1)
    return Start(row.starts_on, row.calendar.name if row.calendar else "", row.version)
