"""The first minutes: the address that starting prints, what waits today, where the money stands, and a trade levelled."""

import re
from decimal import Decimal
from typing import Any

import pytest
import serve
from playwright.sync_api import Locator, Page, expect

from budget.models import LineItem
from budget.selectors.overview import Figures, overview
from projects import display
from projects.models import Project
from reports.demo import scenario
from tests.journeys import keeping

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def printed_address(name: str, base: str) -> str:
    """The address that `make run` prints behind a person's name."""
    (line,) = (line for line in serve.sign_in_lines(base) if line.split("http")[0].strip() == name)
    return line.split()[-1]


def row_of(page: Page, name: str, within: Locator | None = None) -> Locator:
    header = page.get_by_role("rowheader", name=re.compile(f"^{re.escape(name)}"))
    return (within or page).get_by_role("row").filter(has=header)


def as_shown(figures: Figures, project: Project) -> list[str]:
    four = (figures.budget, figures.original, figures.agreed, figures.likely)
    return [display.money(amount, project) for amount in four]


def test_the_printed_address_leads_to_today_and_on_to_the_money(demo: Project, enter, live_server):
    person = enter(size="desk")
    page = person.go(printed_address("Site lead", live_server.url))
    expect(page).to_have_url(re.compile(f"/p/{demo.slug}/$"))
    expect(page.locator("summary", has_text="Site lead")).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_contain_text("overdue")
    expect(page.get_by_role("link", name="Dehumidification").first).to_be_visible()

    person.follow(page.get_by_role("navigation", name="Pages").get_by_role("link", name="Money"))
    seen = overview(demo)
    for column, amount in enumerate(as_shown(seen.total, demo)):
        expect(row_of(page, "All trades").locator("td").nth(column)).to_contain_text(amount)
    over = display.difference(seen.total.over_budget, demo, "first_budget")
    saved = display.difference(seen.total.against_original, demo, "originals")
    assert seen.total.over_budget < 0 and "under the first budget" in over and "saved against" in saved
    expect(page.get_by_role("heading", level=1)).to_contain_text(over)
    expect(page.get_by_role("heading", level=1)).to_contain_text(saved)


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_the_bridge_is_drawn_and_ends_where_the_table_does(demo: Project, enter, size: str):
    page = enter(keeping.person("lead"), size).go(f"/p/{demo.slug}/money/")
    seen = overview(demo)
    assert len(seen.bridge) > 2
    # A bar for each cause and one for the likely final; the first budget is the line that they hang on.
    expect(page.locator("#bridge .bars .point path")).to_have_count(len(seen.bridge) + 1)
    expect(page.locator("#bridge")).to_contain_text(
        f"First budget {display.money(seen.total.budget, demo, brief=True)}"
    )
    expect(page.locator("#bridge .bars .point path").first).to_be_visible()
    page.get_by_text("The same as a table").click()
    last = page.locator(".picture__table tbody tr").last
    expect(last).to_contain_text(display.money(seen.total.budget + sum(step.amount for step in seen.bridge), demo))
    expect(row_of(page, "All trades")).to_contain_text(display.money(seen.total.likely, demo))


def test_a_trade_opens_in_place_and_its_lines_add_up(demo: Project, enter):
    page = enter(keeping.person("lead"), "desk").go(f"/p/{demo.slug}/money/")
    page.get_by_role("link", name="Electrical", exact=True).click()
    for line in LineItem.objects.filter(project=demo, trade__code="T07"):
        expect(row_of(page, line.description)).to_contain_text(display.money(line.likely_minor, demo))
    total = sum(line.likely_minor for line in LineItem.objects.filter(project=demo, trade__code="T07"))
    expect(row_of(page, "Electrical")).to_contain_text(display.money(total, demo))
    expect(page).to_have_url(re.compile("/money/$"))


# --- A trade levelled: the scenario states the levelled totals, which were reckoned apart from this program -----


def quotes_for(code: str) -> list[dict[str, Any]]:
    return [quote for quote in scenario.read()["quotes"] if quote["line"] == code]


def shown(amount: Decimal | int, project: Project, **more: Any) -> str:
    return display.money(scenario.minor(amount), project, **more)


def test_lowest_as_given_is_not_lowest_levelled(demo: Project, enter):
    """Source: the levelled totals of the scenario file."""
    person = enter(keeping.person("lead"), "desk")
    page = person.go(f"/p/{demo.slug}/money/")
    page.get_by_role("link", name="Tank fabrication and acrylic panels").click()
    person.follow(page.get_by_role("link", name="Acrylic viewing panels"))
    person.follow(page.get_by_role("link", name="Side by side").first)

    ranked = sorted(quotes_for("L0502"), key=lambda quote: quote["levelled_total"])
    cheapest_as_given = min(ranked, key=lambda quote: quote["net_in_base"])
    margin = cheapest_as_given["levelled_total"] - ranked[0]["levelled_total"]
    assert cheapest_as_given["vendor"] != ranked[0]["vendor"]
    expect(page.get_by_role("heading", level=1)).to_contain_text(
        f"{cheapest_as_given['vendor']} is lowest as given, but {ranked[0]['vendor']} is lowest levelled, by "
        f"{shown(margin, demo, brief=True)}"
    )
    heads = page.locator("thead th.quote-head")
    for place, quote in enumerate(ranked):
        expect(heads.nth(place)).to_contain_text(quote["vendor"])
        expect(row_of(page, "Levelled").locator("td").nth(place)).to_contain_text(shown(quote["levelled_total"], demo))
    expect(row_of(page, "Levelled").locator("td").first).to_contain_text("lowest")
    expect(row_of(page, "Levelled").locator("td").nth(1)).to_contain_text(f"+{shown(margin, demo)}")
    turned = page.get_by_text("What turned it round:")
    for item in ("Sea or road freight", "Import duty, 6.5% of goods and freight"):
        expect(turned).to_contain_text(item)


def test_plugs_rank_and_days_left_of_a_trade(demo: Project, enter):
    """Source: the plugs, totals and dates of the scenario file; the date of the demo is 29 January 2027."""
    person = enter(keeping.person("lead"), "desk")
    page = person.go(f"/p/{demo.slug}/money/")
    page.get_by_role("link", name="Wet-floor coatings and waterproofing").click()
    person.follow(page.get_by_role("link", name="Quotes side by side"))
    sheet = page.locator("section", has=page.get_by_role("heading", name="L0901")).last
    ranked = sorted(quotes_for("L0901"), key=lambda quote: quote["levelled_total"])
    for place, quote in enumerate(ranked):
        expect(sheet.locator("thead th.quote-head").nth(place)).to_contain_text(quote["vendor"])
        left = (scenario.day(quote["valid_until"]) - demo.held_on).days
        expect(row_of(page, "Holds", sheet).locator("td").nth(place)).to_contain_text(f"{left} days left")
        out = quote["scope_status"]["Slip test certificate"] == "out"
        cell = row_of(page, "Slip test certificate", sheet).locator("td").nth(place)
        expect(cell).to_contain_text(f"+{shown(350, demo)}" if out else "in")
    unclear = next(place for place, quote in enumerate(ranked) if quote["vendor"] == "Tarnfloor Systems")
    cell = row_of(page, "Shot-blast preparation", sheet).locator("td").nth(unclear)
    expect(cell).to_contain_text("unclear")
    expect(cell).to_contain_text(f"+{shown(3100, demo)}")
