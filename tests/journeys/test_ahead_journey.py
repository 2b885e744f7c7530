"""The demo's coming weeks: a need cleared and added on the phone, an order that waits, a thing that arrives, a week's promises.

The expected dates stand in the demo's own scenario.
"""

import re

import pytest
from playwright.sync_api import expect

from projects.models import Project
from schedule.models import Activity, Delivery, Need, Promise
from tests.journeys import keeping

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("script", [True, False], ids=["script", "without script"])
def test_a_need_is_cleared_taken_back_and_added_on_the_phone(demo: Project, enter, script: bool):
    person = enter(keeping.person("lead"), script=script)
    page = person.go(f"/p/{demo.slug}/sequence/ahead/")
    expect(page.locator("h1")).to_contain_text("2 needs are overdue")
    person.follow(page.get_by_role("button", name="It is there Hold-down bolts on site"))
    expect(page.get_by_role("status")).to_contain_text("There: Hold-down bolts on site.")
    assert Need.objects.get(project=demo, what="Hold-down bolts on site").cleared_on == demo.held_on
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.get_by_role("button", name="It is there Hold-down bolts on site")).to_be_visible()

    person.follow(page.get_by_role("link", name="Add a need A30 Pour bay 2"))
    expect(page.get_by_label("By when")).to_have_value("2027-02-03")
    page.get_by_label("What is needed").fill("Spare vibrator")
    page.get_by_label("plant or lift").check()
    person.follow(page.get_by_role("button", name="Add it"))
    expect(page.get_by_role("status")).to_contain_text("A30 Pour bay 2 needs: Spare vibrator.")
    expect(page.get_by_role("link", name="Spare vibrator")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_an_order_waits_and_a_thing_arrives(demo: Project, enter, scheme: str):
    person = enter(keeping.person("lead"), "desk", scheme=scheme)
    page = person.go(f"/p/{demo.slug}/sequence/deliveries/")
    expect(page.locator("h1")).to_contain_text("Next to order is Dehumidifier: by Thu 4 Feb 2027")
    expect(page.locator("h1")).to_contain_text("Tank shell comes 5 days later than the opening allows.")
    person.follow(page.get_by_role("row", name=re.compile("Lighting fittings")).get_by_role("link"))
    expect(page.get_by_text("The works are closed from Sat 30 Jan 2027 to Sat 20 Feb 2027 (22 days).")).to_be_visible()
    waits = page.get_by_role("table", name="What waiting costs")
    expect(waits.get_by_role("row", name=re.compile("^Fri 29 Jan 2027"))).to_contain_text("Mon 19 Apr 2027")
    expect(waits.get_by_role("row", name=re.compile("^Fri 19 Mar 2027"))).to_contain_text("late for the opening")

    skid = Delivery.objects.get(project=demo, item="Filter skid")
    page = person.go(f"/p/{demo.slug}/sequence/deliveries/{skid.pk}/")
    person.follow(page.get_by_role("link", name="It is on site", exact=True))
    person.follow(page.get_by_role("button", name="Report it"))
    expect(page.locator("h1")).to_have_text("Filter skid: on site since Fri 29 Jan 2027.")
    assert Activity.objects.get(project=demo, code="A58").finished_on == demo.held_on
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.locator("h1")).to_contain_text("expected on site on Fri 19 Feb 2027")


def test_a_weeks_promises_are_made_and_told(demo: Project, enter):
    person = enter(keeping.person("lead"))
    page = person.go(f"/p/{demo.slug}/sequence/ahead/")
    person.follow(page.get_by_role("link", name="The week\u2019s promises"))
    expect(page.locator("h1")).to_contain_text("13 of 16 promises kept, 81.2%")
    expect(page.locator(".js-plotly-plot:visible")).to_be_visible()
    person.follow(page.get_by_role("link", name="The week after"))
    person.follow(page.get_by_role("button", name="Promise it all the same A30 Pour bay 2"))
    expect(page.get_by_text("Still in the way:").first).to_be_visible()
    person.follow(page.get_by_role("link", name="Not kept Pour bay 2"))
    page.get_by_label("weather").check()
    person.follow(page.get_by_role("button", name="Note the cause"))
    assert Promise.objects.get(project=demo).cause == "weather"
    person.follow(page.get_by_role("button", name="Undo"))
    assert Promise.objects.get(project=demo).kept is None


def test_a_trade_reads_its_own_page(demo: Project, enter):
    person = enter(keeping.person("monitor"))
    page = person.go(f"/p/{demo.slug}/sequence/ahead/")
    page.get_by_label("A page for one trade").select_option("Concrete and reinforcement")
    person.follow(page.get_by_role("button", name="Show"))
    expect(page.locator("h1")).to_contain_text("Concrete and reinforcement: on site between Wed 3 Feb 2027")
    expect(page.get_by_text("Pre-pour inspection, bay 2 (2 Feb)")).to_be_visible()
