"""What a record does to the plan: the changes of its option are put in when it takes effect, and taken out when it is reopened.

The activity that stands for the answer is done on the day of the decision. What goes in is what the record froze, so that an
approval weeks later puts in what the owner saw; where the plan has moved on so far that it does not fit any more, that is
refused with its reason (ADR 0406).
"""

import json
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _

from decisions.models import Decision, DecisionActivity, Record, RecordPlan
from projects.models import TrailEntry, User
from schedule.calc import alter_json
from schedule.models import Activity
from schedule.services import altering, progress


def put_in(row: Record, *, by: User | None, now: datetime, today: date, on: date) -> None:
    """Put what a record does into the plan. Writes RecordPlan and what the services of the plan write. Raises: Refused."""
    decision = row.decision
    changes = _frozen_changes(row)
    reason = _("decision %(code)s, %(option)s") % {"code": decision.code, "option": row.option}
    before: dict[str, Any] = {}
    if changes:
        before["plan"] = altering.put_in(
            decision.project, alter_json.read(changes), reason=reason, by=by, now=now, today=today,
            names=alter_json.names(changes), subject="decision", subject_id=decision.pk,
        )  # fmt: skip
    answer = _answer(row)
    if answer is not None:
        before["answer"] = {"code": answer.code, "started": str(answer.started_on or "") or None}
        started = min(answer.started_on or on, on)
        progress.report(answer, started_on=started, finished_on=on, reason=reason, by=by, now=now, today=today)
    if before:
        RecordPlan.objects.create(record=row, changes=changes, before=before)


def _frozen_changes(row: Record) -> dict[str, Any]:
    frozen = json.loads(row.frozen)
    option = next(one for one in frozen["options"] if one["key"] == frozen["choice"]["option"])
    return dict(option.get("plan", {}).get("changes", {}))


def answer_done(row: Record) -> str:
    """The activity that a record's taking effect did, or would do; "" for none."""
    kept = RecordPlan.objects.filter(record=row).first()
    if kept is None:
        return str(_answer(row) or "")
    done = kept.before.get("answer")
    found = Activity.objects.filter(project=row.decision.project, code=done["code"]).first() if done else None
    return str(found or "")


def left_alone(decision: Decision) -> tuple[str, ...]:
    """What the newest reopening of a decision left in the plan, a sentence each."""
    rows = TrailEntry.objects.filter(
        project=decision.project, subject="decision", subject_id=decision.pk, verb="reopened"
    )
    newest = rows.order_by("-pk").first()
    return tuple(newest.details.get("left", ())) if newest else ()


def _answer(row: Record) -> Activity | None:
    """The activity that stands for the answer, where it is not done yet."""
    tie = (
        DecisionActivity.objects.filter(
            decision=row.decision, activity__kind=Activity.Kind.DECISION, activity__removed_on=None
        )
        .select_related("activity__project")
        .first()
    )
    return tie.activity if tie and tie.activity.finished_on is None else None


def take_out(row: Record, *, reason: str, by: User | None, now: datetime, today: date) -> tuple[str, ...]:
    """Take out of the plan what a record put in. Returns: what was left alone, a sentence each. Raises: Refused."""
    kept = RecordPlan.objects.filter(record=row).first()
    if kept is None:
        return ()
    decision, left = row.decision, []
    words = _("decision %(code)s reopened: %(reason)s") % {"code": decision.code, "reason": reason}
    if answer := kept.before.get("answer"):
        left += _unanswered(row, answer, reason=words, by=by, now=now, today=today)
    if plan := kept.before.get("plan"):
        left += altering.take_out(
            decision.project, plan, reason=words, by=by, now=now, today=today, subject="decision", subject_id=decision.pk
        )  # fmt: skip
    return tuple(left)


def _unanswered(
    row: Record, answer: dict[str, Any], *, reason: str, by: User | None, now: datetime, today: date
) -> list[str]:
    """Open the activity of the answer again, where it stands as the record left it."""
    held = Activity.objects.filter(project=row.decision.project, code=answer["code"], removed_on=None).first()
    if held is None:
        return [_("%s is not in the plan any more.") % answer["code"]]
    if held.finished_on != row.taking.taken_on:
        return [_("%s has been reported on since; its dates are left as they are.") % held]
    started = date.fromisoformat(answer["started"]) if answer["started"] else None
    progress.report(held, started_on=started, finished_on=None, reason=reason, by=by, now=now, today=today)
    return []
