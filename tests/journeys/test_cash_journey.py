"""What falls due, what is held, what is away, and how far the money goes: from the first source to the last release."""

import re
from collections.abc import Iterator
from datetime import date
from decimal import Decimal

import pytest
from django.conf import settings
from playwright.sync_api import Browser, Page, expect

from budget.models import Arrival, FundingReceipt, LineItem, PaymentStage, RetentionRelease
from budget.services import payments
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY
from tests.journeys.watching import SIZES

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def panels(project: Project, lead: User) -> LineItem:
    """20,000 € of goods at 0.86 with a deposit of 40 % and 5 % held; 8,000 € billed with 400 € held, and paid."""
    project.opens_on = date(2027, 5, 21)
    project.save(update_fields=["opens_on"])
    line = builders.line(project, "L0502", budget=20_000, description="Acrylic panels")
    rate = Decimal("0.86")
    terms = {"vendor": "Verralis", "currency": "EUR", "rate": rate}
    builders.let(line, 20_000, deposit_percent=Decimal(40), retention=5, **terms)
    entered = builders.approved(line, 8_000, retention=400, due_on=date(2027, 2, 12), **terms)
    payments.pay(entered, rate=rate, paid_on=TODAY, by=lead, now=NOW, today=TODAY)
    return line


def cash(project: Project) -> str:
    return f"/p/{project.slug}/money/cash/"


def said(page: Page) -> object:
    return expect(page.get_by_role("status").first)


def test_the_money_is_promised_comes_in_and_is_taken_back(project: Project, panels: LineItem, lead: User, enter):
    """The likely final is 17,200 and 6,536 is paid: 10,664 to complete, which 4,000 less that does not cover."""
    person = enter(lead)
    person.go(cash(project))
    person.follow(person.page.get_by_role("link", name="Add a source").last)
    page = person.page
    page.get_by_label("Who gives it").fill("Bank loan")
    page.get_by_label("Promised").fill("30,000")
    person.follow(page.get_by_role("button", name="Add the source"))
    said(page).to_contain_text("Bank loan is on the list of funding.")
    expect(page.locator("h1")).to_contain_text("no money is in hand")
    person.follow(page.get_by_role("link", name="Money came in").last)
    page.get_by_label("Amount").fill("10,000")
    person.follow(page.get_by_role("button", name="Enter the money"))
    said(page).to_contain_text("£10,000 came in from Bank loan.")
    expect(page.locator("h1")).to_contain_text(re.compile("the money in hand lasts into \\w+ 2027"))
    expect(page.locator("#months .main-svg").first).to_be_visible()
    person.follow(page.get_by_role("button", name="Undo"))
    said(page).to_contain_text("It is taken back that £10,000 came in")
    assert sum(row.amount_minor for row in FundingReceipt.objects.all()) == 0


def test_goods_are_staged_arrive_with_a_photograph_and_their_retention_is_given_back(
    project: Project, panels: LineItem, lead: User, enter
):
    person = enter(lead)
    page = person.go(cash(project) + "#away")
    expect(page.locator("#away")).to_contain_text("£6,536 is paid for goods that are not on site")
    person.follow(page.locator("#away").get_by_role("link", name="Stages"))
    page.get_by_label("Day").nth(1).fill("2027-03-05")
    page.get_by_role("button", name="Remove").last.click()
    person.follow(page.get_by_role("button", name="Save the stages"))
    said(page).to_contain_text("Verralis is paid by these stages.")
    expect(page.locator("#weeks")).to_contain_text("Verralis, On delivery")
    assert [row.share_percent for row in PaymentStage.objects.all()] == [40, 60]
    person.follow(page.get_by_role("link", name="It has arrived"))
    page.get_by_label("What was seen").fill("Three crates, seals whole")
    page.get_by_label("Photograph").set_input_files(
        {"name": "crate.png", "mimeType": "image/png", "buffer": builders.PNG}
    )
    person.follow(page.get_by_role("button", name="They are on site"))
    said(page).to_contain_text("The goods of Verralis are on site.")
    expect(page.locator("#away")).to_contain_text("Everything that was paid for ahead is on site.")
    assert Arrival.objects.get().attachment is not None
    person.follow(page.locator("#retention").get_by_role("link", name="Release"))
    page.get_by_label("Amount").fill("500")
    with person.expecting(422):
        person.follow(page.get_by_role("button", name="Release it"))
    expect(page.locator("main")).to_contain_text("€400 is held of Verralis; no more than that can be released.")
    page.get_by_label("Amount").fill("150.50")
    person.follow(page.get_by_role("button", name="Release it"))
    said(page).to_contain_text("Released €150.50 of the retention of Verralis.")
    person.follow(page.get_by_role("button", name="Undo"))
    said(page).to_contain_text("it is held again")
    assert sum(row.amount_quoted_minor for row in RetentionRelease.objects.all()) == 0


def test_a_rate_of_today_moves_the_balance_abroad(project: Project, panels: LineItem, bookkeeper: User, enter):
    """12,000 € are not billed: at 0.90 they are 480 dearer than at 0.86."""
    person = enter(bookkeeper, "desk")
    page = person.go(cash(project))
    expect(page.locator("#abroad")).to_contain_text("No rate of today is set for EUR")
    person.follow(page.get_by_role("link", name="Exchange rates").last)
    page.get_by_label("Currency").select_option("EUR")
    page.get_by_label("GBP for one of it").fill("0.9")
    person.follow(page.get_by_role("button", name="Save today\u2019s rate"))
    said(page).to_contain_text("Today\u2019s rate of EUR is saved")
    person.go(cash(project))
    expect(page.locator("#abroad")).to_contain_text("Rates have made it £480 dearer since it was agreed.")
    panels.refresh_from_db()
    assert panels.currency_minor == 480_00


@pytest.fixture
def bare(project: Project, bookkeeper: User, browser: Browser, live_server) -> Iterator[Page]:
    """The bookkeeper at a browser that runs no script."""
    context = browser.new_context(viewport=SIZES["phone"], java_script_enabled=False, base_url=live_server.url)
    value = builders.signed_in(bookkeeper).cookies[settings.SESSION_COOKIE_NAME].value
    context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": value, "url": live_server.url}])
    yield context.new_page()
    context.close()


def test_the_bookkeeper_releases_retention_without_script(project: Project, panels: LineItem, bare: Page):
    bare.goto(cash(project))
    bare.locator("#retention").get_by_role("link", name="Release").click()
    bare.get_by_label("Amount").fill("400")
    bare.get_by_role("button", name="Release it").click()
    expect(bare.locator("#retention")).to_contain_text("all released")
    bare.get_by_role("button", name="Undo").click()
    expect(bare.locator("#retention")).to_contain_text("£344 is held back")
    assert RetentionRelease.objects.count() == 2
