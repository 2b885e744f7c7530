"""The pieces in a real browser: nothing to complain about, on a phone and on a desk, in light and in dark."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.test import Client
from playwright.sync_api import Browser, Page, expect

from projects.models import User
from tests.journeys.watching import left_behind

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
SIZES = {"phone": {"width": 390, "height": 844}, "desk": {"width": 1440, "height": 900}}


@pytest.fixture
def session_cookie(live_server) -> dict[str, str]:
    client = Client()
    client.force_login(User.objects.create_user("ana", first_name="Ana"))
    return {"name": settings.SESSION_COOKIE_NAME, "value": client.cookies["sessionid"].value, "url": live_server.url}


@pytest.fixture
def opened(browser: Browser, live_server, session_cookie):
    """Open the gallery and keep what the browser complains of."""
    contexts, every = [], []

    def open_gallery(size: str, scheme: str = "light", script: bool = True) -> tuple[Page, list[str]]:
        context = browser.new_context(viewport=SIZES[size], color_scheme=scheme, java_script_enabled=script)
        contexts.append(context)
        context.add_cookies([session_cookie])
        page, complaints = context.new_page(), []
        page.on("console", lambda said: complaints.append(said.text))
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "requestfailed",
            lambda request: left_behind(request) or complaints.append(f"failed: {request.url} {request.failure}"),
        )
        page.on("response", lambda answer: answer.status < 400 or complaints.append(f"{answer.status}: {answer.url}"))
        every.append(complaints)
        page.goto(f"{live_server.url}/gallery/")
        return page, complaints

    yield open_gallery
    for context in contexts:
        context.close()
    assert [words for complaints in every for words in complaints] == []


@pytest.mark.parametrize(
    ("size", "scheme"), [("phone", "light"), ("phone", "dark"), ("desk", "light"), ("desk", "dark")]
)
def test_the_pieces_keep_the_policy_and_the_rules_of_access(opened, size: str, scheme: str):
    """Source of the rules: WCAG 2.2 A and AA, as far as axe-core can measure them."""
    page, complaints = opened(size, scheme)
    expect(page.locator("#bridge .main-svg").first).to_be_visible()
    expect(page.locator("#options .main-svg").first).to_be_visible()
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": tags}})
    assert [(rule["id"], [node["html"][:120] for node in rule["nodes"]]) for rule in found.response["violations"]] == []
    assert complaints == []


@pytest.mark.parametrize("size", SIZES)
def test_the_page_never_scrolls_sideways(opened, size: str):
    page, _complaints = opened(size)
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_thumb_finds_everything_on_a_phone(opened):
    """Our rule: 44 px, larger than the 24 px of WCAG 2.2, 2.5.8; links within a sentence are free of it."""
    page, _complaints = opened("phone")
    sizes = page.eval_on_selector_all(
        ".rail a, .button--main, .chip span, .field > input[type=text], .entry, select, summary",
        "all => all.filter(e => e.getClientRects().length)"
        ".map(e => [e.className || e.tagName, Math.round(e.getBoundingClientRect().height)])",
    )
    assert len(sizes) > 15 and [size for size in sizes if size[1] < 44] == []


def test_the_picture_follows_the_colour_scheme(opened):
    page, _complaints = opened("desk")
    bar = page.locator("#bridge .bars .point path").first
    expect(bar).to_have_css("fill", "rgb(156, 55, 32)")
    page.emulate_media(color_scheme="dark")
    expect(bar).to_have_css("fill", "rgb(242, 154, 130)")


def test_a_row_opens_and_closes_in_place(opened):
    page, _complaints = opened("desk")
    opener, inside = page.get_by_role("link", name="Panels"), page.locator("#in-T12")
    expect(inside).to_be_hidden()
    opener.click()
    expect(inside).to_be_visible()
    expect(opener).to_have_attribute("aria-expanded", "true")
    opener.click()
    expect(inside).to_be_hidden()


def test_rows_of_a_form_are_added_and_removed(opened):
    page, _complaints = opened("phone")
    rows = page.locator("[data-rows-list] [data-row]")
    page.get_by_role("button", name="Add a row").click()
    expect(rows).to_have_count(3)
    expect(page.locator("[name=rows-TOTAL_FORMS]")).to_have_value("3")
    expect(page.locator("[name=rows-2-item]")).to_be_focused()
    rows.nth(0).get_by_role("button").click()
    expect(rows.nth(0)).to_be_hidden()
    expect(page.locator("[name=rows-0-DELETE]")).to_be_checked()


def test_everything_is_there_without_script(opened):
    page, complaints = opened("desk", script=False)
    expect(page.get_by_text("The same as a table").first).to_be_visible()
    page.get_by_text("The same as a table").first.click()
    expect(page.get_by_role("rowheader", name="Decisions")).to_be_visible()
    expect(page.locator("[name=rows-0-DELETE]")).to_be_visible()
    assert complaints == []


def test_pictures_are_drawn_for_white_paper_while_printing(opened):
    page, _complaints = opened("desk", scheme="dark")
    bar = page.locator("#bridge .bars .point path").first
    expect(bar).to_have_css("fill", "rgb(242, 154, 130)")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    expect(bar).to_have_css("fill", "rgb(156, 55, 32)")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    expect(bar).to_have_css("fill", "rgb(242, 154, 130)")
