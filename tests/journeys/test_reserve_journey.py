"""The contingency of the demo: read on the desk, a risk added on the phone, budget moved by an owner and taken back, and
what a closed line has not needed given back and undone. The expected figures stand in the demo's own scenario, or are
worked by hand from them.
"""

import re

import pytest
from playwright.sync_api import Page, expect

from budget.models import LineItem, Transfer
from projects.models import Project
from tests.journeys import keeping
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def pot(project: Project) -> LineItem:
    return LineItem.objects.get(project=project, kind=LineItem.Kind.CONTINGENCY)


def open_the_pot(person: Person, demo: Project) -> Page:
    page = person.go(f"/p/{demo.slug}/money/")
    return person.follow(page.get_by_role("navigation", name="Money").get_by_role("link", name="Contingency"))


def total(page: Page, label: str) -> str:
    row = page.locator("tfoot tr", has=page.get_by_role("rowheader", name=re.compile(f"^{label}")))
    return row.locator("td").last.inner_text()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pot_is_read_on_the_desk(demo: Project, enter, scheme: str):
    page = open_the_pot(enter(keeping.person("lead"), "desk", scheme=scheme), demo)
    expect(page.locator("h1")).to_contain_text("£69,320 is left of £82,000")
    expect(page.locator(".js-plotly-plot:visible")).to_be_visible()
    assert (total(page, "Drawn"), total(page, "Likely"), total(page, "Open risk")) == (
        "£12,680.00", "£5,453.00", "£20,231.00",
    )  # fmt: skip
    expect(page.locator(".figures")).to_contain_text("£63,867")
    page.get_by_text("The same as a table").click()
    expect(page.get_by_role("table", name="What was left of the contingency, day by day")).to_contain_text("£69,320.00")


def test_a_risk_added_on_the_phone_turns_the_signal(demo: Project, enter):
    """The demo holds 69,320 against 20,231 of risk and 45,015 of spread; half of 20,000 more makes it 0.92."""
    person = enter(keeping.person("lead"))
    page = open_the_pot(person, demo)
    expect(page.locator("h1")).to_contain_text("1.06 times: amber")
    person.follow(page.get_by_role("link", name="Add a risk"))
    page.get_by_label("What may happen").fill("Crane booked twice")
    page.get_by_label("Chance").fill("50")
    page.get_by_label("What it would cost").fill("20,000")
    person.follow(page.get_by_role("button", name="Add the risk"))
    expect(page.get_by_role("status")).to_contain_text("R15 Crane booked twice is on the register")
    expect(page.locator("h1")).to_contain_text("0.92 times: red")


@pytest.mark.parametrize("script", [True, False], ids=["script", "without script"])
def test_an_owner_moves_and_the_lead_takes_back(demo: Project, enter, script: bool):
    owner, lead = enter(keeping.person("owner"), script=script), enter(keeping.person("lead"), "desk", script=script)
    page = open_the_pot(owner, demo)
    owner.follow(page.get_by_role("link", name="Move budget"))
    page.get_by_label("From").select_option(str(pot(demo).pk))
    page.get_by_label("To", exact=True).select_option(str(LineItem.objects.get(project=demo, code="L0605").pk))
    page.get_by_label("Amount").fill("5,000")
    with owner.expecting(422):
        owner.follow(page.get_by_role("button", name="Move the budget"))
    expect(page.get_by_role("alert")).to_contain_text("Why")
    page.get_by_label("price rise").check()
    page.get_by_label("Why", exact=True).fill("controls dearer than reckoned")
    owner.follow(page.get_by_role("button", name="Move the budget"))
    expect(page.locator("h1")).to_contain_text("£64,320 is left of £82,000")

    page = open_the_pot(lead, demo)
    moved = page.get_by_role("row", name=re.compile("controls dearer than reckoned"))
    lead.follow(moved.get_by_role("link", name="Take it back"))
    page.get_by_label("Why").fill("it has a quote now")
    lead.follow(page.get_by_role("button", name="Take it back"))
    expect(page.locator("h1")).to_contain_text("£69,320 is left of £82,000")
    assert Transfer.objects.filter(project=demo, reverses__isnull=False).count() == 1


def test_a_closed_line_gives_back_and_it_is_undone(demo: Project, enter):
    """Dewatering: budget 6,500 and 1,170 drawn, closed at 6,370; 1,300 was not needed."""
    line = LineItem.objects.get(project=demo, code="L0105")
    person = enter(keeping.person("lead"))
    page = person.go(f"/p/{demo.slug}/money/lines/{line.pk}/")
    expect(page.get_by_text("£1,300 of its budget as moved was not needed.")).to_be_visible()
    person.follow(page.get_by_role("link", name="Give it back to the contingency"))
    page.get_by_label("Why").fill("pumped for less")
    person.follow(page.get_by_role("button", name="Give it back"))
    assert LineItem.objects.get(pk=pot(demo).pk).likely_minor == 70_620_00
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.locator("h1")).to_contain_text("£69,320 is left of £82,000")


def test_a_line_is_closed_and_opened_again(demo: Project, enter):
    line = LineItem.objects.filter(project=demo, state="invoiced").exclude(changes__state="proposed").first()
    before = line.likely_minor
    person = enter(keeping.person("lead"), "desk")
    page = person.go(f"/p/{demo.slug}/money/lines/{line.pk}/")
    person.follow(page.get_by_role("link", name="Close this line"))
    page.get_by_label("Why the account ends elsewhere").fill("the rest is not going to be built")
    person.follow(page.get_by_role("button", name="Close the line"))
    expect(page.get_by_role("status")).to_contain_text("is closed at")
    person.follow(page.get_by_role("link", name="Open the line again"))
    page.get_by_label("Why").fill("it is, after all")
    person.follow(page.get_by_role("button", name="Open the line again"))
    line.refresh_from_db()
    assert (line.closed_on, line.likely_minor) == (None, before)
