"""Tying lines and decisions to the sequence: which work a line pays for, and which work waits for an answer.

Ties move no date and no amount by themselves; the outlook of Cash and the decide-by dates read them.
"""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import LineItem
from decisions.models import ActivityLine, Decision, DecisionActivity
from projects import trail
from projects.faults import Refused
from projects.models import User
from schedule.models import Activity
from schedule.services import plan


@transaction.atomic
def tie_lines(activity: Activity, lines: Iterable[LineItem], *, by: User | None, now: datetime) -> None:
    """Say which lines of the budget an activity's work is paid from; lines no longer named are let go.

    Writes ActivityLine and a trail row where something differs. Safe to repeat. Raises: Refused.
    """
    project = plan.lock(activity.project)
    wanted = {line.pk: line for line in lines}
    if any(line.project_id != project.pk or line.removed_on for line in wanted.values()):
        raise Refused(_("Choose lines that are on this project's budget."), field="lines")
    _in_plan(project.pk, [activity])
    held = ActivityLine.objects.filter(activity=activity)
    before = dict(held.values_list("line_id", "line__code"))
    if set(before) == set(wanted):
        return
    held.exclude(line__in=wanted).delete()
    ActivityLine.objects.bulk_create(ActivityLine(activity=activity, line_id=pk) for pk in wanted if pk not in before)
    codes = sorted(line.code for line in wanted.values())
    words = _("%(activity)s is paid from %(lines)s") if codes else _("%(activity)s is paid from no line any more")
    trail.note(
        project, by=by, at=now, verb="tied", subject="activity", subject_id=activity.pk,
        summary=words % {"activity": activity, "lines": ", ".join(codes)},
        details={"before": sorted(before.values()), "after": codes},
    )  # fmt: skip


@transaction.atomic
def tie_decision(decision: Decision, activities: Iterable[Activity], *, by: User | None, now: datetime) -> None:
    """Say which activities wait for the answer; one of kind decision among them stands for the answer itself.

    May be done in every state of the decision: it changes nothing that a record froze. Writes DecisionActivity and a trail
    row where something differs. Safe to repeat. Raises: Refused.
    """
    project = plan.lock(decision.project)
    wanted = {activity.pk: activity for activity in activities}
    _in_plan(project.pk, wanted.values())
    if sum(row.kind == Activity.Kind.DECISION for row in wanted.values()) > 1:
        raise Refused(_("One activity stands for the answer itself; choose one of kind decision."), field="answer")
    held = DecisionActivity.objects.filter(decision=decision)
    before = dict(held.values_list("activity_id", "activity__code"))
    if set(before) == set(wanted):
        return
    held.exclude(activity__in=wanted).delete()
    DecisionActivity.objects.bulk_create(
        DecisionActivity(decision=decision, activity_id=pk) for pk in wanted if pk not in before
    )
    codes = sorted(row.code for row in wanted.values())
    words = _("%(work)s waits for decision %(code)s") if codes else _("No work waits for decision %(code)s any more")
    trail.note(
        project, by=by, at=now, verb="tied", subject="decision", subject_id=decision.pk,
        summary=words % {"work": ", ".join(codes), "code": decision.code},
        details={"before": sorted(before.values()), "after": codes},
    )  # fmt: skip


def _in_plan(project_id: int, activities: Iterable[Any]) -> None:
    if any(row.project_id != project_id or row.removed_on for row in activities):
        raise Refused(_("Choose activities that are in this project's plan."), field="activities")
