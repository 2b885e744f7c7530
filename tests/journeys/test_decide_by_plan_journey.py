"""A decision of the demo whose option changes the plan: compared, recorded, approved, in the plan, and taken out again."""

from datetime import date

import pytest
from playwright.sync_api import expect

from projects.models import Project
from schedule.models import Activity, Plan
from schedule.services import plan
from tests.journeys import keeping
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def installing(demo: Project) -> int:
    return Activity.objects.get(project=demo, code="A76").days


def opens_on(demo: Project) -> date | None:
    return Plan.objects.get(project=demo).finish_on


def compare_it(lead: Person, demo: Project) -> None:
    """The gallery bolted on site takes 40 days instead of 6."""
    page = lead.go(f"/p/{demo.slug}/choices/")
    lead.follow(page.get_by_role("link", name="D09 Gallery and walkway"))
    expect(page.locator("main")).to_contain_text("Too late after")
    expect(page.get_by_role("heading", name="What waiting costs")).to_be_visible()
    lead.follow(page.get_by_role("link", name="Edit A", exact=True))
    page.get_by_text("Give the days by hand instead").click()
    page.get_by_label("Float it may use").fill("")
    page.get_by_text("What it does to the plan").click()
    page.get_by_role("button", name="Add a change").click()
    row = page.locator("[data-rows=changed] [data-row]").first
    row.get_by_label("Activity").fill("A76")
    row.get_by_label("Days").fill("40")
    lead.follow(page.get_by_role("button", name="Save the option"))
    expect(page.get_by_role("row", name="What that does")).to_contain_text("opening")


def record_it(lead: Person, demo: Project) -> str:
    page = lead.page
    lead.follow(page.get_by_role("link", name="Choose A", exact=True))
    page.get_by_label("Why this one").fill("The home maker can come back")
    lead.follow(page.get_by_role("button", name="See what it does"))
    expect(page.locator("main")).to_contain_text("The opening moves from Fri 28 May 2027 to")
    expect(page.locator("main")).to_contain_text("A74 Decide D09 gallery and walkway is done with it.")
    told = page.locator("main").inner_text()
    lead.follow(page.get_by_role("button", name="Record it for an owner"))
    return told


def test_what_was_compared_goes_into_the_plan_and_out_again(demo: Project, enter):
    lead, owner = enter(keeping.person("lead"), "phone"), enter(keeping.person("owner"), "desk")
    before = opens_on(demo)
    compare_it(lead, demo)
    told = record_it(lead, demo)
    assert (installing(demo), opens_on(demo)) == (6, before)

    page = owner.go(f"/p/{demo.slug}/choices/")
    owner.follow(page.get_by_role("link", name="Look and answer"))
    owner.follow(page.get_by_role("button", name="Approve", exact=True))
    after = opens_on(demo)
    assert installing(demo) == 40 and after is not None and f"to {after:%a} {after.day} {after:%b %Y}" in told
    assert Activity.objects.get(project=demo, code="A74").finished_on == demo.held_on

    page = lead.go(f"/p/{demo.slug}/choices/")
    lead.follow(page.get_by_role("link", name="D09 Gallery and walkway"))
    lead.follow(page.get_by_role("link", name="Reopen the decision"))
    page.get_by_label("Why it is taken back").fill("too long for the season")
    lead.follow(page.get_by_role("button", name="Reopen the decision"))
    assert (installing(demo), opens_on(demo)) == (6, before)
    assert plan.drifted(demo) == {}
