"""Today and the sequence: what may not be covered, what presses, and when it opens."""

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from projects.access import Door
from projects.models import Project, Role, User
from reports.selectors import today as selectors
from schedule.models import Activity, Need
from schedule.services import holds, needs, plan, progress, proofs
from tests import builders
from tests.builders import NOW, TODAY


@pytest.fixture
def build(project: Project) -> Project:
    """A pour in three days behind an inspection, on a calendar of Monday to Friday; it opens a week late."""
    Project.objects.filter(pk=project.pk).update(
        starts_on=TODAY, opens_on=TODAY + timedelta(days=4), cost_of_day_minor=900_00
    )
    project.refresh_from_db()
    builders.calendar(project)
    builders.activity(project, "A01", days=2, name="Inspect", notice_days=2, attended_by="Inspector")
    builders.activity(project, "A02", days=1, after=["A01"], name="Pour", covers=True)
    builders.activity(project, "A03", days=5, after=["A02"], name="Fit out")
    return project


def seen(project: Project, user: User, *, days: int = 0) -> selectors.Today:
    today = TODAY + timedelta(days=days)
    plan.bring_up_to(project, today=today, at=NOW)
    return selectors.today(Door(project=project, user=user, role=Role.LEAD, now=NOW, today=today))


def group(found: selectors.Today, kind: str) -> Any:
    return next((one.matters for one in found.groups if one.kind == kind), ())


def told(project: Project) -> dict[str, Any]:
    return {"by": builders.lead_of(project), "now": NOW, "today": TODAY}


def test_a_pour_that_is_not_cleared_comes_before_everything(build: Project, lead: User) -> None:
    builders.hold_point(build, checks=("Bars", "Cover"), cost=41_000)
    found = seen(build, lead)
    (matter,) = group(found, "cover")
    assert (matter.line, matter.days_left, matter.amount_minor) == ("A02 Pour", 4, 41_000_00)
    assert (matter.covering.proofs_missing, matter.covering.signatures_missing) == (2, 1)
    page = " ".join(builders.signed_in(lead).get(f"/p/{build.slug}/").content.decode().split())
    assert "Not cleared to be covered" in page and "covered wrong it costs £41,000" in page


def test_covering_work_without_a_hold_point_is_asked_about(build: Project, lead: User) -> None:
    (matter,) = group(seen(build, lead), "cover")
    assert (matter.line, matter.covering.stopping) == ("A02 Pour", ())


def test_a_released_hold_point_presses_nobody(build: Project, lead: User) -> None:
    row = builders.hold_point(build)
    release(row)
    assert group(seen(build, lead), "cover") == ()


def release(row: Any) -> None:
    check = row.checks.select_related("hold__project").get()
    proofs.prove(check, proofs.Found(True, "as drawn"), **told(row.project))
    proofs.sign(row, role="Engineer", name="E. Ngineer", **told(row.project))


def test_an_overruled_hold_point_stays_until_it_is_released(build: Project, lead: User) -> None:
    row = builders.hold_point(build)
    pour = Activity.objects.get(code="A02")
    holds.overrule(row, pour, reason="Rain is coming", **told(build))
    found = seen(build, lead)
    assert group(found, "cover") == ()
    assert [matter.overruled.reason for matter in group(found, "overruled")] == ["Rain is coming"]


def test_an_order_that_makes_work_wait_soon_is_told_by_its_day(build: Project, lead: User) -> None:
    Project.objects.filter(pk=build.pk).update(opens_on=TODAY + timedelta(days=90))
    builders.activity(build, "A04", days=3, name="Chiller comes", kind="delivery")
    builders.activity(build, "A05", days=1, after=["A04", "A03"])
    builders.delivery(build, "A04")
    (matter,) = group(seen(build, lead), "order")
    work = Activity.objects.get(code="A05")
    assert (matter.order.item, matter.order.state) == ("Chiller", "plan soon")
    assert matter.on is not None and matter.on < work.early_start_on and matter.days_left == (matter.on - TODAY).days


def test_needs_are_told_once_their_day_has_passed_and_answers_stand_with_the_decisions(
    build: Project, lead: User
) -> None:
    builders.activity(build, "A06", days=0, kind="decision", name="Decide")
    pour, answer = Activity.objects.get(code="A02"), Activity.objects.get(code="A06")
    needs.add(pour, what="Pump", kind=Need.Kind.PLANT, who="Site lead", by_on=TODAY, **told(build))
    needs.add(answer, what="Chiller decision", kind=Need.Kind.DECISION, by_on=TODAY, **told(build))
    assert group(seen(build, lead), "need") == ()
    assert [matter.need.what for matter in group(seen(build, lead, days=1), "need")] == ["Pump"]


def test_a_visit_has_to_be_asked_for_until_it_is_booked(build: Project, lead: User) -> None:
    row = builders.hold_point(build)
    (matter,) = group(seen(build, lead), "visit")
    assert matter.hold.visit.by == "Inspector"
    holds.book(row, visit_on=TODAY + timedelta(days=3), **told(build))
    assert group(seen(build, lead), "visit") == ()


def test_what_should_have_begun_or_ended_is_to_be_reported(build: Project, lead: User) -> None:
    first = Activity.objects.get(code="A01")
    assert [matter.line for matter in group(seen(build, lead), "begin")] == ["A01 Inspect"]
    progress.report(first, started_on=TODAY, **told(build))
    assert group(seen(build, lead), "begin") == ()
    assert [matter.line for matter in group(seen(build, lead, days=5), "begin")] == ["A01 Inspect"]


def test_the_head_says_when_it_opens_and_what_the_days_cost(build: Project, lead: User) -> None:
    found = seen(build, lead).opening
    assert found is not None
    assert (found.days, found.cost_minor) == ((found.finish_on - build.opens_on).days, found.days * 900_00)
    page = " ".join(builders.signed_in(lead).get(f"/p/{build.slug}/").content.decode().split())
    assert f"{found.days} days late" in page


def test_a_build_without_a_plan_says_nothing_of_an_opening(project: Project, lead: User) -> None:
    assert seen(project, lead).opening is None
    assert "You open on" not in builders.signed_in(lead).get(f"/p/{project.slug}/").content.decode()


def test_the_page_asks_as_much_of_thirty_activities_as_of_three(build: Project, lead: User) -> None:
    builders.hold_point(build)
    builders.delivery(build, "A03")
    client = builders.signed_in(lead)
    counts = []
    for first in (10, 40):
        client.get(f"/p/{build.slug}/")
        with CaptureQueriesContext(connection) as asked:
            assert client.get(f"/p/{build.slug}/").status_code == 200
        counts.append(len(asked))
        for number in range(first, first + 15):
            builders.activity(build, f"B{number}", days=3)
            builders.delivery(build, f"B{number}", item=f"Thing {number}")
            builders.hold_point(build, f"X{number}", activity="A01", stops=(f"B{number}",))
    assert counts[0] == counts[1] <= 95
