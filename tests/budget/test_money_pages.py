"""Money, a trade, a line and quotes side by side: who may read them, what they say, and how many queries they take."""

from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from budget.models import LineItem, QuoteExtra, QuoteItem
from budget.selectors import steps
from budget.selectors.overview import overview
from budget.services import lines, quotes
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY, signed_in

Standing = QuoteItem.Standing


def address(name: str, project: Project, *args: int, **query: str) -> str:
    return reverse(f"budget:{name}", args=[project.slug, *args], query=query or None)


def scope(line: LineItem, *entries: tuple[str, int | None]) -> None:
    lines.set_scope(line, list(entries), by=builders.lead_of(line.project), now=NOW, today=TODAY)


def text_of(client: Client, url: str, **more) -> str:
    answer = client.get(url, **more)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.fixture
def tank(project: Project) -> LineItem:
    """A line with a flip: Low looks lowest, but leaves out the check that High includes."""
    line = builders.line(project, budget=100_000)
    scope(line, ("Works check", 12_000_00), ("Bonding kit", None))
    low = (quotes.ScopeDraft("Works check", Standing.OUT), quotes.ScopeDraft("Bonding kit", Standing.INCLUDED))
    high = (quotes.ScopeDraft("Works check", Standing.INCLUDED), quotes.ScopeDraft("Bonding kit", Standing.INCLUDED))
    builders.quote(line, 90_000, vendor="Low", scope=low)
    builders.quote(line, 95_000, vendor="High", scope=high)
    return LineItem.objects.get(pk=line.pk)


READ = ("money", "vendors", "trade_lines", "trade_quotes", "line", "line_quotes", "quote")
CHANGE = (
    "add_trade",
    "add_line",
    "edit_line",
    "scope",
    "estimate",
    "own_forecast",
    "original",
    "log_quote",
    "withdraw",
    "renew",
)


def every(project: Project, line: LineItem, names: tuple[str, ...]) -> list[str]:
    ids = {
        "trade_lines": [line.trade_id], "trade_quotes": [line.trade_id],
        "quote": [line.quote_lines.first().quote_id], "withdraw": [line.quote_lines.first().quote_id],
        "renew": [line.quote_lines.first().quote_id],
    }  # fmt: skip
    bare = {"money", "vendors", "add_trade", "add_line", "log_quote"}
    return [address(name, project, *([] if name in bare else ids.get(name, [line.pk]))) for name in names]


@pytest.mark.parametrize("who", ["lead", "owner", "bookkeeper", "viewer"])
def test_every_member_may_read(who: str, request: pytest.FixtureRequest, project: Project, tank: LineItem):
    client = signed_in(request.getfixturevalue(who))
    assert {client.get(url).status_code for url in every(project, tank, READ)} == {200}


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_only_the_lead_may_change(who: str, request: pytest.FixtureRequest, project: Project, tank: LineItem):
    client = signed_in(request.getfixturevalue(who))
    assert {client.post(url).status_code for url in every(project, tank, CHANGE)} == {403}
    assert {
        signed_in(project.memberships.get(role="lead").user).get(url).status_code
        for url in every(project, tank, CHANGE)
    } == {200}


def test_an_outsider_learns_nothing(outsider: User, project: Project, tank: LineItem):
    client = signed_in(outsider)
    assert {client.get(url).status_code for url in every(project, tank, READ + CHANGE)} == {404}


def test_another_projects_line_is_not_found_through_ones_own(outsider: User, tank: LineItem):
    own = outsider.memberships.get().project
    client = signed_in(outsider)
    found = [
        client.get(url).status_code
        for url in every(own, tank, ("line", "line_quotes", "trade_quotes", "quote", "scope"))
    ]
    assert set(found) == {404}


def test_money_opens_with_both_yardsticks(lead: User, project: Project, tank: LineItem):
    builders.line(project, "L0102", budget=5_000)
    page = text_of(signed_in(lead), address("money", project))
    # Worked by hand: the lower middle of 102,000 and 95,000 is 95,000; the first complete quote was Low at 102,000.
    assert "You are £5,000 under the first budget; £7,000 saved against the original quotes on the 1 of 2 lines" in page


def test_an_empty_budget_says_what_to_do(lead: User, project: Project):
    assert "Start with the trades" in text_of(signed_in(lead), address("money", project))


def test_a_trade_opens_without_script(lead: User, project: Project, tank: LineItem):
    client = signed_in(lead)
    assert "Work L0101" not in text_of(client, address("money", project))
    assert "Work L0101" in text_of(client, address("money", project, open="T01"))


def test_a_trade_opens_in_place_with_htmx(lead: User, project: Project, tank: LineItem):
    part = text_of(signed_in(lead), address("trade_lines", project, tank.trade_id), headers={"HX-Request": "true"})
    assert part.startswith(f'<tbody id="in-{tank.trade_id}"') and "<html" not in part


def test_contingency_is_kept_apart(lead: User):
    project = builders.project(lead, name="Set aside", contingency=8_000)
    builders.line(project, budget=1_000)
    page = text_of(signed_in(lead), address("money", project))
    assert "of £8,000 at the start" in page and "You are on the first budget" in page


def test_a_long_trade_is_shown_in_parts(lead: User, project: Project):
    trade = builders.trade(project)
    LineItem.objects.bulk_create(
        LineItem(project=project, trade=trade, code=f"N{n:03}", description=f"Piece {n:03}", position=n)
        for n in range(201)
    )
    client = signed_in(lead)
    assert "Piece 200" not in text_of(client, address("trade_lines", project, trade.pk))
    assert "Piece 200" in text_of(client, address("trade_lines", project, trade.pk) + "?from=200")


def test_the_line_says_by_which_rule_and_from_what(lead: User, project: Project, tank: LineItem):
    page = text_of(signed_in(lead), address("line", project, tank.pk))
    assert "High is the middle of 2 complete quotes that still hold" in page
    assert (
        "is likely to cost £95,000: £5,000 under budget." in page and "£7,000 saved against the original quote" in page
    )


def test_the_side_by_side_names_what_turned_the_order_round(lead: User, project: Project, tank: LineItem):
    page = text_of(signed_in(lead), address("line_quotes", project, tank.pk))
    assert "Low is lowest as given, but High is lowest levelled, by £7,000." in page
    assert "What turned it round: Works check." in page and "plug: own figure" in page


def test_a_quote_far_below_the_middle_is_asked_about(lead: User, project: Project):
    line = builders.line(project)
    for vendor, amount in (("Cheap", 8_000), ("Usual", 10_000), ("Dear", 10_500)):
        builders.quote(line, amount, vendor=vendor)
    page = text_of(signed_in(lead), address("line_quotes", project, line.pk))
    assert "Cheap is more than 15 % under the middle" in page


def test_questions_come_from_what_is_unclear(lead: User, project: Project):
    line = builders.line(project)
    scope(line, ("Pump", 100_00), ("Skips", 50_00))
    builders.quote(line, 900, vendor="Vague", scope=(quotes.ScopeDraft("Pump", Standing.UNCLEAR),))
    page = text_of(signed_in(lead), address("line_quotes", project, line.pk))
    assert "1. Pump 2. Skips" in page


def test_a_foreign_quote_keeps_its_currency_beside_its_rate(lead: User, project: Project):
    line = builders.line(project)
    duty = (quotes.ExtraDraft(QuoteExtra.Kind.DUTY, "Duty 6.5 %", 65_00),)
    builders.quote(line, 1_000, vendor="Far", currency="USD", rate=Decimal("0.79"), extras=duty)
    page = text_of(signed_in(lead), address("line_quotes", project, line.pk))
    assert "US$1,000.00" in page and "£790.00" in page and "+£65.00" in page and "£855.00" in page


def queries(client: Client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


@pytest.mark.parametrize(
    ("name", "most"),
    [("money", 8), ("trade_lines", 6), ("trade_quotes", 12), ("line_quotes", 12), ("line", 30), ("quote", 14)],
)
def test_the_number_of_queries_does_not_grow(name: str, most: int, lead: User, project: Project, tank: LineItem):
    client, url = signed_in(lead), every(project, tank, (name,))[0]
    before = queries(client, url)
    for number in range(8):
        line = builders.line(project, f"L02{number:02}")
        for vendor in ("One", "Two", "Three"):
            builders.quote(line, 9_000 + number, vendor=vendor)
    for vendor in ("One", "Two", "Three"):
        builders.quote(tank, 99_000, vendor=vendor)
    assert queries(client, url) == before <= most


def test_a_step_of_the_bridge_opens_to_its_entries(lead: User, project: Project, tank: LineItem):
    client, seen = signed_in(lead), overview(project)
    step = seen.bridge[0]
    url = address("step", project, step.cause)
    assert url in text_of(client, address("money", project))
    found = steps.entries(project, step.cause)
    assert found.total_minor == step.amount == sum(row.amount_minor for row in found.rows) != 0
    whole, part = text_of(client, url), text_of(client, url, headers={"HX-Request": "true"})
    assert "<html" in whole and "<html" not in part
    assert all(row.line.description in part for row in found.rows)
    assert client.get(address("step", project, "luck")).status_code == 404
