"""What the owners are told of the opening: when it is expected, against the target and the first plan, and what decides it."""

import json
from collections.abc import Iterable
from datetime import date
from typing import Any

from django.db.models import Exists, OuterRef

from projects.models import Project, TrailEntry
from reports.models import IssuedReport
from schedule.calc import network as engine
from schedule.calc import opening as rules
from schedule.models import Activity, Baseline, BaselineDate, Plan
from schedule.selectors import network as facts

Content = dict[str, Any]
#: So many reasons are told, the newest first; the rest are counted.
TOLD = 6


def opening(project: Project) -> Content | None:
    """Read when the project opens, and what was said of late work that decides it.

    Returns: values that JSON holds as they are; None where nothing is planned. Queries: 9 at most, whatever the size.
    """
    plan = facts.plan_of(project)
    if plan is None or plan.finish_on is None:
        return None
    days = rules.days_against(plan.finish_on, project.opens_on) if project.opens_on else None
    kept = Baseline.objects.filter(project=project).order_by("pk").last()
    return {
        "finish_on": plan.finish_on.isoformat(),
        "target_on": project.opens_on.isoformat() if project.opens_on else None,
        "days": days,
        "early": max(0, -(days or 0)),
        "cost_minor": rules.cost_of_days(days or 0, project.cost_of_day_minor or 0),
        "planned": _planned(kept, plan.finish_on),
        **_reasons(project, plan, kept),
    }


def moved(now: Content | None, last: IssuedReport) -> Content | None:
    """How the expected opening moved since a report, and what was said of it since; None where either told no opening."""
    then = json.loads(last.content).get("opening")
    if not now or not then:
        return None
    was, is_now = date.fromisoformat(then["finish_on"]), date.fromisoformat(now["finish_on"])
    days = rules.days_against(is_now, was)
    return {
        "then_on": then["finish_on"],
        "now_on": now["finish_on"],
        "days": days,
        "early": max(0, -days),
        "why": [row for row in now["why"] if row["on"] > last.issued_on.isoformat()],
    }


def _planned(kept: Baseline | None, finish: date) -> Content | None:
    """The plan that was frozen last, and how far the finish is from it."""
    if kept is None or kept.finish_on is None:
        return None
    days = rules.days_against(finish, kept.finish_on)
    return {"name": kept.name, "finish_on": kept.finish_on.isoformat(), "days": days, "early": max(0, -days)}


def _reasons(project: Project, plan: Plan, kept: Baseline | None) -> Content:
    """Of the reasons given for late work the newest of each: told where it decides the opening, counted where not."""
    rows = (
        TrailEntry.objects.filter(project=project, subject="activity", verb__in=("reported", "changed"))
        .filter(details__reason__isnull=False)
        .exclude(details__reason="")
        .order_by("-pk")
        .values_list("subject_id", "details__reason", "at")
    )
    newest: dict[int, Content] = {}
    for pk, reason, at in rows:
        newest.setdefault(pk or 0, {"reason": reason, "on": at.date().isoformat()})
    if not newest:
        return {"why": [], "absorbed": 0}
    read = facts.read(project, plan, data_on=plan.data_on, finish_by=project.opens_on)
    chain = {read.rows[code] for code in deciding(engine.solve_network(read.network))}
    called = _late(newest, kept)
    told = [{"activity": called[pk], **row} for pk, row in newest.items() if pk in chain and pk in called]
    return {"why": told[:TOLD], "absorbed": len(called) - len(told)}


def _late(among: Iterable[int], kept: Baseline | None) -> dict[int, str]:
    """Of some activities those that end later than the frozen plan had them, or were not in it: what they are called."""
    rows = Activity.objects.filter(pk__in=list(among), removed_on=None)
    if kept is not None:
        in_time = BaselineDate.objects.filter(
            baseline=kept, activity=OuterRef("pk"), finish_on__gte=OuterRef("early_finish_on")
        )
        rows = rows.exclude(Exists(in_time))
    return {row.pk: str(row) for row in rows}


def deciding(solution: engine.Solution) -> set[str]:
    """The work that the finish follows from: what ends last, what holds that where it is, and so on back.

    >>> dig, shed = engine.Activity("dig", 4), engine.Activity("shed", 1)
    >>> pour = engine.Activity("pour", 1, after=(engine.Link("dig"), engine.Link("shed")))
    >>> sorted(deciding(engine.solve_network(engine.Network(date(2026, 7, 6), activities=(dig, shed, pour)))))
    ['dig', 'pour']
    """
    found: set[str] = set()
    ahead = [code for code, row in solution.activities.items() if row.early_finish == solution.finish]
    while ahead:
        here = ahead.pop()
        if here not in found:
            found.add(here)
            ahead += solution.drives(here)
    return found
