"""The owners and the opening: expected when, against what, moved by whom; what may not be covered and what was gone over."""

import json
from datetime import timedelta
from typing import Any

import pytest

from projects.models import Project, User
from reports.pdf import words
from reports.selectors import issued, owners
from reports.services import issuing
from schedule.models import Activity
from schedule.services import holds, plan, progress, proofs
from tests import builders
from tests.builders import NOW, TODAY


@pytest.fixture
def build(project: Project) -> Project:
    """Ten days of work in a row beside a short shed, with a target that they meet."""
    Project.objects.filter(pk=project.pk).update(
        starts_on=TODAY, opens_on=TODAY + timedelta(days=13), cost_of_day_minor=900_00
    )
    project.refresh_from_db()
    builders.line(project, budget=10_000)
    builders.calendar(project)
    builders.activity(project, "A01", days=5, name="Dig")
    builders.activity(project, "A02", days=5, after=["A01"], name="Pour", covers=True)
    builders.activity(project, "A03", days=1, name="Shed")
    plan.take_baseline(project, name="First plan", **told(project))
    return project


def told(project: Project, *, days: int = 0) -> dict[str, Any]:
    return {
        "by": builders.lead_of(project),
        "now": NOW + timedelta(days=days),
        "today": TODAY + timedelta(days=days),
    }


def content(project: Project, *, days: int = 0) -> owners.Content:
    return owners.content(project, on=TODAY + timedelta(days=days), last=issued.last_report(project))


def take_longer(project: Project, code: str, days: int, reason: str, *, after: int = 0) -> None:
    row = Activity.objects.get(project=project, code=code)
    progress.report(row, started_on=TODAY, days=days, reason=reason, **told(project, days=after))


def page_of(project: Project, user: User) -> str:
    return " ".join(builders.signed_in(user).get(f"/p/{project.slug}/owners/").content.decode().split())


def test_without_a_plan_nothing_is_said_of_it(project: Project) -> None:
    found = content(project)
    assert (found["opening"], found["covering"], found["orders"], found["gone_over"]) == (None, [], [], [])


def test_the_finish_is_held_against_target_and_plan(build: Project) -> None:
    take_longer(build, "A01", 8, "Rock in the ground")
    opening = content(build)["opening"]
    assert (opening["days"], opening["cost_minor"]) == (5, 4_500_00)  # Thursday to Tuesday, over a weekend
    assert opening["planned"] == {"name": "First plan", "finish_on": "2027-02-11", "days": 5, "early": 0}


def test_an_opening_in_time_costs_nothing(build: Project) -> None:
    opening = content(build)["opening"]
    assert (opening["days"], opening["early"], opening["cost_minor"]) == (0, 0, 0)


def test_only_late_work_that_decides_the_day_is_named_and_the_rest_counted(build: Project) -> None:
    take_longer(build, "A01", 8, "Rock in the ground")
    take_longer(build, "A03", 2, "Timber short")
    opening = content(build)["opening"]
    assert [(row["activity"], row["reason"]) for row in opening["why"]] == [("A01 Dig", "Rock in the ground")]
    assert opening["absorbed"] == 1


def test_a_reason_for_what_is_not_late_is_no_reason(build: Project) -> None:
    take_longer(build, "A01", 5, "Going well")
    assert (content(build)["opening"]["why"], content(build)["opening"]["absorbed"]) == ([], 0)


def test_the_move_since_the_last_report_is_told_with_what_was_said_since(build: Project) -> None:
    take_longer(build, "A01", 6, "Rock in the ground")
    issuing.issue(build, note="", **told(build))
    take_longer(build, "A01", 9, "More rock", after=1)
    moved = content(build, days=1)["since"]["opening"]
    assert (moved["days"], [row["reason"] for row in moved["why"]]) == (5, ["More rock"])
    issued_then = json.loads(issued.last_report(build).content)
    assert issued_then["opening"]["finish_on"] == moved["then_on"]


def test_a_report_of_before_openings_were_told_still_opens(build: Project) -> None:
    report = issuing.issue(build, note="", **told(build))
    old = json.loads(report.content)
    for name in ("opening", "covering", "orders", "gone_over"):
        del old[name]
    shown = owners.for_page(old)
    assert (shown["opening"], shown["covering"]) == (None, [])
    assert "When it opens" not in [section["title"] for section in words.paper(old)["sections"]]


def test_work_that_is_not_cleared_and_what_was_gone_over_are_told_on_page_and_paper(
    build: Project, owner: User
) -> None:
    row = builders.hold_point(build, cost=41_000)
    assert content(build)["covering"][0]["cost_minor"] == 41_000_00
    assert "A02 Pour</strong> is to start on" in page_of(build, owner)
    pour = Activity.objects.get(code="A02")
    holds.overrule(row, pour, reason="Rain is coming", **told(build))
    found = content(build)
    assert found["covering"] == []
    (gone,) = found["gone_over"]
    assert (gone["reason"], gone["cost_minor"], gone["released"]) == ("Rain is coming", 41_000_00, False)
    assert "Hold points overruled" in page_of(build, owner) and "Rain is coming" in page_of(build, owner)
    paper = json.dumps(words.paper(found))
    assert "Rain is coming" in paper and "Missing then" in paper


def test_an_overrule_stays_told_when_the_hold_point_is_released_after_all(build: Project) -> None:
    row = builders.hold_point(build)
    holds.overrule(row, Activity.objects.get(code="A02"), reason="Rain is coming", **told(build))
    proofs.prove(row.checks.get(), proofs.Found(True, "as drawn"), **told(build))
    proofs.sign(row, role="Engineer", name="E. Ngineer", **told(build))
    assert content(build)["gone_over"][0]["released"] is True


def test_a_delivery_after_the_last_day_is_told(build: Project, owner: User) -> None:
    builders.activity(build, "A04", days=20, name="Chiller comes", kind="delivery")
    builders.activity(build, "A05", days=1, after=["A04"])
    builders.delivery(build, "A04", ordered_on=TODAY)
    (order,) = content(build)["orders"]
    assert (order["item"], order["state"]) == ("Chiller", "past") and order["days"] > 0
    assert "after the last day that keeps the target" in page_of(build, owner)


def test_the_sentence_and_the_paper_say_the_same_day(build: Project, owner: User) -> None:
    take_longer(build, "A01", 8, "Rock in the ground")
    assert "It opens on Tue 16 Feb 2027, 5 days after the target" in page_of(build, owner)
    paper = words.paper(content(build))
    assert "It opens on Tue 16 Feb 2027, 5 days after the target." in paper["sentence"]
    assert paper["facts"][2] == "target for the opening: Thu 11 Feb 2027"
