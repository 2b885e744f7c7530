"""What a deed on the plan does to its dates: asked while it is done, or before, with nothing kept.

The dates before and after are read under the same lock as the deed, so what is said is what this deed did and nobody
else's.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from django.db import transaction

from projects.models import Project
from schedule.calc import opening, shift
from schedule.models import Activity, Plan
from schedule.services import plan

Done = TypeVar("Done")
Dates = dict[str, tuple[date | None, date | None]]


@dataclass(frozen=True, slots=True)
class Effect:
    """How a deed moved the plan.

    `moved` are the codes of activities that stood before and after and have other dates now; `days` are calendar days of
    the finish, above zero for later, None where there was or is none; `cost_minor` is what the opening costs more by it.
    """

    finish_before: date | None
    finish_after: date | None
    target_on: date | None
    days: int | None
    cost_minor: int
    moved: tuple[str, ...]


def of(project: Project, deed: Callable[[], Done]) -> tuple[Done, Effect]:
    """Do a deed of the plan and tell what it moved. Writes what the deed writes. Queries: 5 beside the deed's."""
    with transaction.atomic():
        held = plan.lock(project)
        before = _stands(held)
        done = deed()
        return done, _between(held, before, _stands(held))


def rehearsed(project: Project, deed: Callable[[], object]) -> Effect:
    """Tell what a deed would move. Writes nothing: the deed is done and taken back in one transaction."""
    with transaction.atomic():
        _done, effect = of(project, deed)
        transaction.set_rollback(True)
    return effect


def _stands(project: Project) -> tuple[date | None, Dates]:
    finish = Plan.objects.filter(project=project).values_list("finish_on", flat=True).first()
    rows = Activity.objects.filter(project=project, removed_on=None)
    return finish, {
        code: (start, end) for code, start, end in rows.values_list("code", "early_start_on", "early_finish_on")
    }


def _between(project: Project, before: tuple[date | None, Dates], after: tuple[date | None, Dates]) -> Effect:
    moved = tuple(code for code, dates in after[1].items() if code in before[1] and before[1][code] != dates)
    first, last, target = before[0], after[0], project.opens_on
    if first is None or last is None:
        return Effect(first, last, target, None, 0, moved)
    cost = shift.cost_between(first, last, target, project.cost_of_day_minor) if target else 0
    return Effect(first, last, target, opening.days_against(last, first), cost, moved)
