"""From the lead who issues and gives a link, over an owner who answers, to a bank that has no account."""

import re
from collections.abc import Iterator
from io import BytesIO

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Page, expect

from budget.models import LineItem
from decisions.models import Decision
from projects.models import Project, User
from tests import builders
from tests.decisions import building
from tests.journeys.watching import SIZES

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def owners(project: Project, rest: str = "") -> str:
    return f"/p/{project.slug}/owners/{rest}"


def linked(page: Page) -> str:
    return page.locator("#address").inner_text()


def test_an_owner_is_asked_answers_and_sees_what_came_of_it(project: Project, owner: User, enter):
    building.record(building.tank(project, plinth=40_000, frame=30_000), "B")
    person = enter(owner)
    page = person.go(owners(project))
    expect(page.locator("h1")).to_contain_text("1 thing waits for an owner")
    person.follow(page.get_by_role("link", name="Look and answer"))
    person.follow(page.get_by_role("button", name="Approve"))
    person.go(owners(project))
    expect(page.locator("main")).to_contain_text("Approved by Olu Owner")
    expect(page.locator("h1")).to_contain_text("£10,000 is saved against the original quotes")
    assert LineItem.objects.get(code="L0303").likely_minor == 30_000_00


@pytest.fixture
def bare(project: Project, browser: Browser, live_server) -> Iterator[Page]:
    """The lead at a browser that runs no script; it would call every script that it leaves out a failure."""
    context = browser.new_context(viewport=SIZES["phone"], java_script_enabled=False, base_url=live_server.url)
    value = builders.signed_in(builders.lead_of(project)).cookies[settings.SESSION_COOKIE_NAME].value
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": live_server.url}])
    yield context.new_page()
    context.close()


def test_from_the_report_to_the_bank_without_script(project: Project, bare: Page, enter):
    building.record(building.tank(project), "B")
    bare.goto(owners(project))
    bare.get_by_label("A word to the owners").fill("The frame is ordered.")
    bare.get_by_role("button", name="Issue this page as a report").click()
    expect(bare.locator(".said")).to_contain_text("Report 1 is issued and kept.")
    bare.get_by_label("Whom is it for").fill("The bank")
    bare.get_by_role("button", name="Make a link").click()
    address = linked(bare)

    bank = enter(size="desk", scheme="dark")
    seen = bank.go(address)
    expect(seen.locator("h1")).to_contain_text("£5,000 is saved against the original quotes")
    expect(seen.locator(".main-svg").first).to_be_visible()
    expect(seen.locator("main")).to_contain_text("Since report 1")

    bare.goto(owners(project))
    bare.get_by_role("button", name=re.compile("Take back")).click()
    expect(bare.locator(".said")).to_contain_text("no longer works")
    with bank.expecting(404):
        bank.go(address)
    expect(seen.locator("main")).not_to_contain_text("£5,000")


def test_what_changed_since_opens_to_its_entries(project: Project, enter):
    lead = builders.lead_of(project)
    builders.quote(builders.line(project, "L0101", budget=10_000), 9_000)
    builders.signed_in(lead).post(owners(project, "issue/"), {"note": ""})
    builders.quote(builders.line(project, "L0102", budget=10_000), 12_500)
    person = enter(lead)
    page = person.go(owners(project))
    entry = page.get_by_role("rowheader", name=re.compile("L0102 Work L0102"))
    expect(entry).to_be_hidden()
    page.locator("#since summary", has_text="quotes came in").click()
    expect(entry).to_be_visible()
    person.look()


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_the_page_of_the_demo_and_its_report_keep_the_rules(demo: Project, enter, size: str):
    """Source of the rules: WCAG 2.2 A and AA, as far as axe-core can measure them."""
    person = enter(demo.memberships.get(user__username="lead").user, size)
    page = person.go(owners(demo))
    assert Decision.objects.filter(project=demo).exists() and page.locator(".told").count() > 3
    person.follow(page.get_by_role("link", name=re.compile("^Report 1 of")))


def test_the_page_of_the_demo_prints_on_four_sheets_at_most(demo: Project, enter):
    person = enter(demo.memberships.get(user__username="owner").user, "desk")
    page = person.go(owners(demo))
    expect(page.locator(".main-svg").first).to_be_visible()
    paper = BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)).getvalue()
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", paper)) <= 4
