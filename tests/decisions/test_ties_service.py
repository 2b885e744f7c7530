"""Tying lines and decisions to the sequence."""

import pytest

from decisions.models import ActivityLine, DecisionActivity
from decisions.services import plan
from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from tests import builders
from tests.builders import NOW
from tests.decisions import building

pytestmark = pytest.mark.django_db


def _tied(activity) -> list[str]:
    return sorted(ActivityLine.objects.filter(activity=activity).values_list("line__code", flat=True))


def test_lines_of_an_activity_are_written_anew(project: Project):
    pour, by = builders.activity(project, "A1"), builders.lead_of(project)
    slab, bars, steel = (builders.line(project, code) for code in ("L01", "L02", "L03"))
    plan.tie_lines(pour, [slab, bars], by=by, now=NOW)
    plan.tie_lines(pour, [bars, steel], by=by, now=NOW)
    assert _tied(pour) == ["L02", "L03"]
    newest = TrailEntry.objects.filter(subject="activity", verb="tied").order_by("pk").last()
    assert newest.details == {"before": ["L01", "L02"], "after": ["L02", "L03"]}


def test_tying_again_writes_nothing(project: Project):
    pour, line, by = builders.activity(project, "A1"), builders.line(project), builders.lead_of(project)
    plan.tie_lines(pour, [line], by=by, now=NOW)
    rows = TrailEntry.objects.count()
    plan.tie_lines(pour, [line], by=by, now=NOW)
    assert TrailEntry.objects.count() == rows


def test_a_line_of_another_project_is_refused(project: Project, outsider: User):
    pour = builders.activity(project, "A1")
    foreign = builders.line(builders.project(outsider), "L01")
    with pytest.raises(Refused, match="budget"):
        plan.tie_lines(pour, [foreign], by=builders.lead_of(project), now=NOW)
    assert _tied(pour) == []


def test_work_that_waits_for_an_answer(project: Project):
    asked = building.tank(project)
    answer = builders.activity(project, "A1", 0, kind="decision")
    frame = builders.activity(project, "A2", 5, after=["A1"])
    plan.tie_decision(asked, [answer, frame], by=builders.lead_of(project), now=NOW)
    found = DecisionActivity.objects.filter(decision=asked).values_list("activity__code", flat=True)
    assert list(found) == ["A1", "A2"]


def test_one_activity_stands_for_the_answer(project: Project):
    asked = building.tank(project)
    two = [builders.activity(project, code, 0, kind="decision") for code in ("A1", "A2")]
    with pytest.raises(Refused, match="stands for the answer"):
        plan.tie_decision(asked, two, by=builders.lead_of(project), now=NOW)


def test_an_activity_out_of_the_plan_is_refused(project: Project):
    from schedule.services import activities

    row, by = builders.activity(project, "A1"), builders.lead_of(project)
    builders.activity(project, "A2")
    activities.remove(row, reason="not built", by=by, now=NOW, today=builders.TODAY)
    row.refresh_from_db()
    with pytest.raises(Refused, match="plan"):
        plan.tie_lines(row, [builders.line(project)], by=by, now=NOW)
