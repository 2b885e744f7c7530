"""The sequence on site and at the desk: what comes next, what sets it, a report in one tap, and a gate that says no."""

import re

import pytest
from playwright.sync_api import expect

from projects.models import Project
from schedule.models import Activity
from tests.journeys import keeping

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def activity(demo: Project, code: str) -> Activity:
    return Activity.objects.get(project=demo, code=code)


def test_on_the_phone_the_six_weeks_come_first_and_a_report_is_one_tap(demo: Project, enter):
    """From the scenario: the opening is expected on 28 May, 7 days after the target at £900 a day."""
    person = enter(keeping.person("lead"))
    page = person.go(f"/p/{demo.slug}/sequence/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("You open on Fri 28 May 2027, 7 days after the target")
    expect(page.get_by_role("heading", level=1)).to_contain_text("the days cost £6,300")
    ahead = page.locator(".ahead")
    expect(ahead.get_by_role("heading", name="The six weeks ahead")).to_be_visible()
    person.follow(ahead.get_by_role("link", name="A38 Set frame on feet, level and grout"))
    person.follow(page.get_by_role("button", name="Done today"))
    expect(page.get_by_text("A38 Set frame on feet, level and grout is done.")).to_be_visible()
    assert activity(demo, "A38").finished_on is not None
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.get_by_text("is taken back")).to_be_visible()
    assert activity(demo, "A38").finished_on is None


def test_a_pour_behind_a_shut_gate_does_not_start(demo: Project, enter):
    person = enter(keeping.person("lead"), script=False)
    page = person.go(f"/p/{demo.slug}/sequence/plan/activities/{activity(demo, 'A30').pk}/")
    expect(page.get_by_text("May we cover it? Not yet.")).to_be_visible()
    person.follow(page.get_by_role("link", name="Report", exact=True))
    page.get_by_label("It began on").fill(demo.held_on.isoformat())
    with person.expecting(422):
        person.follow(page.get_by_role("button", name="Save the report"))
    expect(page.get_by_role("link", name="Overrule H05 with a reason")).to_be_visible()
    assert activity(demo, "A30").started_on is None


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_desk_narrows_the_picture_and_the_list_together(demo: Project, enter, scheme: str):
    person = enter(keeping.person("lead"), "desk", scheme=scheme)
    page = person.go(f"/p/{demo.slug}/sequence/")
    expect(page.locator("#sequence .main-svg").first).to_be_visible()
    page.locator("[name=what]").select_option("critical")
    expect(page.get_by_role("heading", name="4 of 89 activities")).to_be_visible()
    page.locator("[name=span]").select_option("whole")
    expect(page).to_have_url(re.compile(r"\?span=whole&what=critical&"))
    expect(page.locator("#sequence .main-svg").first).to_be_visible()
    person.look()


def test_a_group_of_the_list_opens_in_place(demo: Project, enter):
    person = enter(keeping.person("lead"), "desk")
    page = person.go(f"/p/{demo.slug}/sequence/?by=trade")
    page.get_by_role("link", name="Water treatment plant", exact=True).click()
    person.follow(page.get_by_role("link", name="A58 Filter skid made and delivered"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("A58 Filter skid made and delivered is under way")
