"""Errands with money in a real browser: a quote on the phone, with and without script, and side by side on the desk."""

from collections.abc import Callable, Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from playwright.sync_api import Browser, Page, expect

from budget.models import LineItem, Quote, QuoteItem
from budget.services import lines, quotes
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY, signed_in
from tests.journeys.watching import left_behind

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
SIZES = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1440, "height": 900}}
Standing = QuoteItem.Standing
Opens = Callable[..., tuple[Page, list[str]]]


@pytest.fixture
def opened(browser: Browser, live_server) -> Iterator[Opens]:
    """Open a page as somebody and keep what the browser complains of."""
    contexts, every = [], []

    def open_as(user: User, path: str, size: str = "phone", *, script: bool = True, scheme: str = "light"):
        context = browser.new_context(viewport=SIZES[size], java_script_enabled=script, color_scheme=scheme)
        contexts.append(context)
        cookie = signed_in(user).cookies["sessionid"].value
        context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": live_server.url}])
        page, complaints = context.new_page(), []
        page.on("console", lambda said: complaints.append(said.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "requestfailed",
            lambda request: left_behind(request) or complaints.append(f"failed: {request.url} {request.failure}"),
        )
        page.on("response", lambda answer: answer.status < 400 or complaints.append(f"{answer.status}: {answer.url}"))
        every.append(complaints)
        page.goto(live_server.url + path)
        return page, complaints

    yield open_as
    for context in contexts:
        context.close()
    assert [words for complaints in every for words in complaints] == []


@pytest.fixture
def tank(project: Project, lead: User) -> LineItem:
    line = builders.line(project, "L0501", budget=100_000, description="Acrylic panels")
    scope = [("Works check", 12_000_00), ("Bonding kit", 700_00)]
    lines.set_scope(line, scope, by=lead, now=NOW, today=TODAY)
    whole = tuple(quotes.ScopeDraft(name, Standing.INCLUDED) for name, _plug in scope)
    builders.quote(line, 95_000, vendor="Verralis", scope=whole)
    return line


def money(project: Project) -> str:
    return f"/p/{project.slug}/money/"


def test_a_quote_is_logged_on_the_phone_and_undone(opened: Opens, lead: User, project: Project, tank: LineItem):
    page, complaints = opened(lead, money(project))
    page.get_by_role("link", name=tank.trade.name).click()
    page.get_by_role("link", name="Acrylic panels").click()
    page.get_by_role("link", name="Log a quote").click()
    page.get_by_label("Vendor", exact=True).fill("Hailanyu")
    page.get_by_label("Amount quoted").fill("90,000")
    page.get_by_role("radiogroup", name="Works check").get_by_role("radio", name="out").check()
    page.get_by_label("Everything not marked is in the price").check()
    page.get_by_role("button", name="Save the quote").last.click()
    expect(page.get_by_role("status")).to_contain_text("Logged the quote of Hailanyu.")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Hailanyu comes to £102,000 levelled")
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("status")).to_contain_text("is taken back")
    assert complaints == [] and Quote.objects.get(vendor__name="Hailanyu").state == Quote.State.WITHDRAWN


def test_a_line_named_on_the_way_brings_its_scope_list(opened: Opens, lead: User, project: Project, tank: LineItem):
    page, complaints = opened(lead, money(project) + "quotes/new/")
    page.get_by_label("Line", exact=True).fill("L0501 · Acrylic panels")
    page.get_by_label("Line", exact=True).press("Tab")
    expect(page.get_by_role("radiogroup", name="Bonding kit")).to_be_visible()
    page.get_by_role("button", name="Add another line").click()
    expect(page.get_by_label("Line", exact=True)).to_have_count(2)
    page.get_by_label("Line", exact=True).last.fill("L0501")
    page.get_by_label("Line", exact=True).last.press("Tab")
    expect(page.get_by_role("radiogroup", name="Bonding kit")).to_have_count(2)
    assert complaints == []


def test_a_quote_is_logged_without_script(opened: Opens, lead: User, project: Project, tank: LineItem):
    page, _complaints = opened(lead, money(project) + "quotes/new/", script=False)
    page.get_by_label("Vendor", exact=True).fill("Palanquin")
    page.get_by_label("Line", exact=True).fill("Acrylic panels")
    page.get_by_role("button", name="Show the scope lists").click()
    page.get_by_role("radiogroup", name="Works check").get_by_role("radio", name="in", exact=True).check()
    page.get_by_role("radiogroup", name="Bonding kit").get_by_role("radio", name="unclear").check()
    page.get_by_label("Amount quoted").fill("97,000")
    page.get_by_role("button", name="Save the quote").last.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Palanquin comes to £97,700 levelled")


def test_return_saves_and_does_not_add_a_row(opened: Opens, lead: User, project: Project, tank: LineItem):
    page, _complaints = opened(lead, money(project) + f"quotes/new/?line={tank.pk}")
    page.get_by_label("Vendor", exact=True).fill("Palanquin")
    page.get_by_label("Amount quoted").fill("97,000")
    page.get_by_label("Amount quoted").press("Enter")
    expect(page.get_by_role("status")).to_contain_text("Logged the quote of Palanquin.")


def test_the_lead_prefers_and_the_owner_accepts(
    opened: Opens, lead: User, owner: User, project: Project, tank: LineItem
):
    page, _complaints = opened(lead, money(project) + f"lines/{tank.pk}/quotes/", "desk")
    page.get_by_role("button", name="Prefer", exact=True).click()
    expect(page.get_by_text("Verralis is preferred")).to_be_visible()
    theirs, complaints = opened(owner, money(project) + f"lines/{tank.pk}/quotes/", "desk")
    theirs.get_by_role("link", name="Accept", exact=True).click()
    theirs.get_by_role("button", name="Accept the quote").click()
    expect(theirs.get_by_role("status").first).to_contain_text("Accepted the quote of Verralis.")
    tank.refresh_from_db()
    assert complaints == [] and tank.agreed_minor == 95_000_00


PAGES = [
    "", "?open=T01", "vendors/", "quotes/new/", "lines/new/", "lines/{line}/", "lines/{line}/quotes/", "lines/{line}/scope/",
    "quotes/{quote}/", "quotes/{quote}/accept/",
]  # fmt: skip


@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), ("desk", "dark")])
def test_the_pages_keep_the_rules_of_access(
    opened: Opens, size: str, scheme: str, lead: User, project: Project, tank: LineItem
):
    """Source of the rules: WCAG 2.2 A and AA, as far as axe-core can measure them; no page scrolls sideways (our rule)."""
    page, complaints = opened(lead, money(project), size, scheme=scheme)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    root, found = page.url, {}
    for path in PAGES:
        page.goto(root + path.format(line=tank.pk, quote=Quote.objects.get().pk))
        seen = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}}).response["violations"]
        found |= {path: [(rule["id"], rule["nodes"][0]["html"][:160]) for rule in seen]} if seen else {}
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    assert (found, complaints) == ({}, [])
