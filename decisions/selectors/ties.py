"""What ties decisions and lines to the plan, for the forms that tie them."""

from collections.abc import Iterable
from dataclasses import dataclass

from budget.models import LineItem
from decisions.models import ActivityLine, Decision, DecisionActivity
from projects.models import Project
from schedule.models import Activity, WorkCalendar


@dataclass(frozen=True, slots=True)
class WorkChoice:
    """An activity of the plan that an entry may name."""

    pk: int
    code: str
    name: str
    kind: str
    days: int

    @property
    def label(self) -> str:
        return f"{self.code} · {self.name}"

    @property
    def is_answer(self) -> bool:
        return self.kind == Activity.Kind.DECISION


@dataclass(frozen=True, slots=True)
class PlanChoices:
    """What an option may change: the activities of the plan, and the calendars that added work may go by."""

    works: tuple[WorkChoice, ...]
    calendars: tuple[str, ...]

    def days_of(self, code: str) -> int:
        return next((work.days for work in self.works if work.code == code), 1)


def works(project: Project) -> tuple[WorkChoice, ...]:
    """Read the activities that are in the plan. Queries: 1."""
    rows = Activity.objects.filter(project=project, removed_on=None)
    return tuple(WorkChoice(*row) for row in rows.values_list("pk", "code", "name", "kind", "days"))


def plan_choices(project: Project) -> PlanChoices:
    """Read what an option may change. Queries: 1 where nothing is planned, else 2."""
    found = works(project)
    names = WorkCalendar.objects.filter(project=project).values_list("name", flat=True) if found else ()
    return PlanChoices(found, tuple(names))


def lines_in(project: Project, ids: Iterable[int]) -> list[LineItem]:
    """Lines of the budget by their keys; those of other projects are left out. Queries: 1."""
    return list(LineItem.objects.filter(project=project, removed_on=None, pk__in=list(ids)))


def activities_in(project: Project, ids: Iterable[int]) -> list[Activity]:
    """Activities of the plan by their keys; those of other projects are left out. Queries: 1."""
    return list(Activity.objects.filter(project=project, removed_on=None, pk__in=list(ids)))


def lines_of(activity: Activity) -> list[str]:
    """The codes of the lines that an activity's work is paid from. Queries: 1."""
    return list(ActivityLine.objects.filter(activity=activity).values_list("line__code", flat=True))


@dataclass(frozen=True, slots=True)
class Tied:
    """The activities of a decision: the one that stands for the answer, and the codes of those that wait for it."""

    answer: int | None
    waiting: tuple[str, ...]


def tied(decision: Decision) -> Tied:
    """Read what waits for a decision. Queries: 1."""
    rows = DecisionActivity.objects.filter(decision=decision, activity__removed_on=None)
    found = list(rows.values_list("activity_id", "activity__code", "activity__kind"))
    answer = next((pk for pk, _code, kind in found if kind == Activity.Kind.DECISION), None)
    return Tied(answer, tuple(code for pk, code, _kind in found if pk != answer))
