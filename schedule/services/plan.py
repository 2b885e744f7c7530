"""The one door through which dates change.

Whatever a service does to activities, links, calendars or progress, it ends with `settle`: the network is worked out
anew and what is kept with each activity is written where it differs. `drifted` proves that nothing stands otherwise.
"""

from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import bulk, display, trail
from projects.faults import Refused
from projects.models import Project, User
from schedule.calc import network as engine
from schedule.models import Activity, Baseline, BaselineDate, Plan
from schedule.selectors import network as facts
from schedule.selectors.standing import refusing

#: What is kept with an activity, in the order `_worked_out` gives it.
KEPT = (
    "early_start_on",
    "early_finish_on",
    "late_start_on",
    "late_finish_on",
    "float_days",
    "free_days",
    "target_finish_on",
    "target_float_days",
    "critical",
)


def lock(project: Project) -> Project:
    """Hold the project's row until the transaction ends, so that two writers of its plan queue up."""
    return Project.objects.select_for_update().get(pk=project.pk)


def opened(project: Project, *, today: date) -> Plan:
    """The plan of a project, begun on the project's start where there is none yet. Safe to repeat."""
    plan, _made = Plan.objects.get_or_create(project=project, defaults={"starts_on": project.starts_on or today})
    return plan


def settle(project: Project, *, today: date) -> Plan:
    """Work out every date of a project anew and write what has moved.

    Args:
        today: progress is known up to this day; work that has not started cannot start before it. Before the plan
            begins it has no effect.
    Returns: the plan, with its finish. Writes the kept figures of activities and the plan. Repeating it writes nothing.
    Raises: Refused where the network has no answer, such as a circle, with its members named.
    """
    plan = opened(project, today=today)
    plan.data_on = today if today >= plan.starts_on else None
    solution, rows = _solved(project, plan)
    _write(project, solution, rows)
    plan.finish_on = solution.finish if rows else None
    plan.save(update_fields=["data_on", "finish_on"])
    return plan


def _solved(project: Project, plan: Plan) -> tuple[engine.Solution, dict[str, int]]:
    read = facts.read(project, plan, data_on=plan.data_on, finish_by=project.opens_on)
    with refusing(read.names):
        return engine.solve_network(read.network), dict(read.rows)


def _worked_out(solution: engine.Solution, rows: dict[str, int]) -> Iterator[tuple[int, tuple[Any, ...]]]:
    for code, pk in rows.items():
        dates = solution.activities[code]
        yield (
            pk,
            (
                dates.early_start, dates.early_finish, dates.own_late_start, dates.own_late_finish, dates.float_to_finish,
                dates.free_float, dates.late_finish, dates.total_float, dates.critical,
            ),
        )  # fmt: skip


def _write(project: Project, solution: engine.Solution, rows: dict[str, int]) -> None:
    before = {row[0]: row[1:] for row in Activity.objects.filter(project=project).values_list("pk", *KEPT)}
    bulk.save_values(Activity, KEPT, ((pk, kept) for pk, kept in _worked_out(solution, rows) if before[pk] != kept))


def bring_up_to(project: Project, *, today: date, at: datetime) -> None:
    """Move work that should have begun by now to today. Queries: 1 where that was done today already. Safe to repeat."""
    plan = Plan.objects.filter(project=project).first()
    if plan is None or plan.data_on == today or today < plan.starts_on:
        return
    with transaction.atomic():
        settle(lock(project), today=today)


def drifted(project: Project) -> dict[str, tuple[Any, ...]]:
    """Activities whose kept figures are not what their network comes to: {code: (kept, worked out)}; empty when true."""
    plan = facts.plan_of(project)
    if plan is None:
        return {}
    solution, rows = _solved(project, plan)
    kept = {row[0]: row[1:] for row in Activity.objects.filter(project=project).values_list("pk", *KEPT)}
    codes = {pk: code for code, pk in rows.items()}
    return {codes[pk]: (kept[pk], figures) for pk, figures in _worked_out(solution, rows) if kept[pk] != figures}


@transaction.atomic
def take_baseline(
    project: Project, *, name: str, reason: str = "", by: User | None, now: datetime, today: date
) -> Baseline:
    """Freeze the dates as they stand, to measure later ones against.

    Writes a Baseline with a row for each activity, and a trail row. Not safe to repeat: each call is a further one.
    Raises: Refused where nothing is planned.
    """
    plan = settle(lock(project), today=today)
    found = Activity.objects.filter(project=project, removed_on=None).values_list(
        "pk", "days", "early_start_on", "early_finish_on"
    )
    if not found:
        raise Refused(_("Nothing is planned yet; add activities first."))
    row = Baseline.objects.create(
        project=project, name=name, reason=reason, taken_on=today, taken_at=now, taken_by=by, finish_on=plan.finish_on
    )
    BaselineDate.objects.bulk_create(
        BaselineDate(baseline=row, activity_id=pk, days=days, start_on=start, finish_on=finish)
        for pk, days, start, finish in found
        if start and finish  # settled, so there always are
    )
    trail.note(
        project, by=by, at=now, verb="froze", subject="baseline", subject_id=row.pk,
        summary=_("Froze the plan as “%(name)s”: %(count)d activities, finish %(finish)s")
        % {"name": name, "count": len(found), "finish": display.day(plan.finish_on, project.locale) if plan.finish_on else "–"},
    )  # fmt: skip
    return row
