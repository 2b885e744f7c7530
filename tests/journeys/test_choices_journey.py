"""A decision from the question to the paper: on a phone, without script, through an owner, onto one A4 page."""

import re
from io import BytesIO

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from playwright.sync_api import Browser, BrowserContext, Page, expect

from budget.models import LineItem
from decisions.models import Decision, Record
from projects.models import Project, User
from reports.demo import load
from tests import builders
from tests.decisions import building

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
PHONE, DESK = {"width": 390, "height": 844}, {"width": 1440, "height": 900}
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]


@pytest.fixture
def as_user(browser: Browser, live_server):
    """Open the program as somebody; without script unless asked for."""
    contexts: list[BrowserContext] = []

    def enter(user: User, size: dict[str, int] = PHONE, *, script: bool = False, scheme: str = "light") -> Page:
        context = browser.new_context(
            viewport=size, java_script_enabled=script, color_scheme=scheme, base_url=live_server.url
        )
        contexts.append(context)
        cookie = builders.signed_in(user).cookies[settings.SESSION_COOKIE_NAME].value
        context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": live_server.url}])
        return context.new_page()

    yield enter
    for context in contexts:
        context.close()


def choices(project: Project, rest: str = "") -> str:
    return f"/p/{project.slug}/choices/{rest}"


def test_from_the_question_to_an_owners_approval_without_script(project: Project, owner: User, as_user):
    line = builders.line(project, "L0303", budget=42_000)
    builders.quote(line, 40_000, vendor="Quillstone")
    builders.quote(line, 30_000, vendor="Norrowby")
    lead = as_user(builders.lead_of(project))
    lead.goto(choices(project))
    lead.get_by_role("link", name="New decision").click()
    lead.get_by_label("What is to be decided").fill("How to carry the tank")
    lead.get_by_label("Line of the budget").fill("L0303")
    lead.get_by_role("button", name="Open the decision").click()
    for name, vendor in (("Plinth", "Quillstone"), ("Frame", "Norrowby")):
        lead.get_by_role("link", name=re.compile("Add an option")).first.click()
        lead.get_by_label("Name of this way to build it").fill(name)
        price = lead.locator("#id_items-0-price")
        price.select_option(price.locator("option", has_text=vendor).get_attribute("value"))
        lead.get_by_role("button", name="Put it on the table").click()
    expect(lead.locator("h1")).to_contain_text("B Frame is expected to cost £30,000, £10,000 less than A")

    lead.get_by_role("link", name="Choose B").click()
    lead.get_by_label("Why this one").fill("It can still be put level after the slab is down")
    lead.get_by_role("button", name="See what it does").click()
    expect(lead.locator("main")).to_contain_text("It will wait for an owner")
    expect(lead.locator("main")).to_contain_text("£10,000 saved against the original quote")
    assert not Record.objects.exists()
    lead.get_by_role("button", name="Record it for an owner").click()
    expect(lead.locator("h1")).to_contain_text("waits for an owner")

    other = as_user(owner)
    other.goto(choices(project))
    other.get_by_role("link", name="Look and answer").click()
    other.get_by_role("button", name="Approve").click()
    expect(other.locator("h1")).to_contain_text("B Frame was chosen at £30,000")
    assert LineItem.objects.get(code="L0303").likely_minor == 30_000_00
    assert Decision.objects.get().state == Decision.State.DECIDED


def test_rows_grow_in_place_with_script(project: Project, as_user):
    building.tank(project)
    other = builders.line(project, "L1401")
    page = as_user(builders.lead_of(project), script=True)
    decision = Decision.objects.get()
    page.goto(choices(project, f"{decision.pk}/options/new/"))
    page.get_by_label("Name of this way to build it").fill("Kerbs")
    page.get_by_label("or your estimate").fill("14,000")
    page.get_by_role("button", name="Add an effect").click()
    page.get_by_label("Line of the budget").fill(other.code)
    page.get_by_label("Costs it, or with a minus spares it").fill("-600")
    page.get_by_label("Why").fill("bearers")
    page.get_by_role("button", name="Put it on the table").click()
    expect(page.locator("main")).to_contain_text("is on the table")
    assert building.key(decision, "C").effects.get().amount_minor == -600_00


@pytest.mark.parametrize(("size", "scheme"), [(PHONE, "light"), (DESK, "dark")])
def test_the_pages_keep_the_policy_and_the_rules_of_access(project: Project, as_user, size, scheme):
    """Source of the rules: WCAG 2.2 A and AA, as far as axe-core can measure them."""
    decision = building.tank(project, checks=("Carries the load",))
    page = as_user(builders.lead_of(project), size, script=True, scheme=scheme)
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    option = building.key(decision, "B").pk
    for rest in (
        "",
        "new/",
        f"{decision.pk}/",
        f"{decision.pk}/options/{option}/",
        f"{decision.pk}/record/?option={option}",
    ):
        page.goto(choices(project, rest))
        if rest == f"{decision.pk}/":
            expect(page.locator("#options .main-svg").first).to_be_visible()
        found = Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}}).response["violations"]
        assert [(rest, rule["id"], [n["html"][:120] for n in rule["nodes"]]) for rule in found] == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), rest
    assert complaints == []


def test_every_record_of_the_demo_fits_one_page_of_a4(as_user):
    project = load.load()
    page = as_user(project.memberships.get(user__username="lead").user, DESK)
    for record in Record.objects.select_related("decision"):
        page.goto(choices(project, f"records/{record.pk}/"))
        expect(page.locator(".record__seal")).to_contain_text("The hash matches what is stored.")
        paper = BytesIO(page.pdf(prefer_css_page_size=True, print_background=True)).getvalue()
        if record.decision.code == "D03":
            words = "D Three separate windows with mullions had a lower expected total, £93,755 against £94,736"
            expect(page.locator(".record")).to_contain_text(words)
            expect(page.locator(".record")).to_contain_text("turned down because it fails: Unbroken view of hull")
        assert len(re.findall(rb"/Type\s*/Page\b(?!s)", paper)) == 1, record.decision.code
