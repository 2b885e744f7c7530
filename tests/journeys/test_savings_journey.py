"""An idea on the phone that becomes money: entered, priced, decided, refused where it counts twice, read by an owner."""

import pytest
from playwright.sync_api import expect

from budget.models import LineItem
from decisions.models import BookEntry
from decisions.selectors import savings
from projects.models import Project, User
from tests import builders
from tests.decisions import book_building as building
from tests.decisions import building as decisions
from tests.journeys import keeping

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


def book(project: Project) -> str:
    return f"/p/{project.slug}/money/savings/"


@pytest.mark.parametrize("script", [True, False], ids=["script", "without script"])
def test_an_idea_becomes_a_saving_and_is_never_counted_twice(project: Project, lead: User, enter, script: bool):
    """Expected by hand: 20,000 quoted first, let for 17,000, so 3,000 may be claimed and no more."""
    line = building.let(project)
    person = enter(lead, script=script)
    page = person.go(book(project))
    person.follow(page.get_by_role("link", name="Note an idea"))
    page.get_by_label("Line of the budget").fill(line.code)
    page.get_by_label("What is saved, put off or added").fill("Second maker")
    person.follow(page.get_by_role("button", name="Enter it"))
    expect(page.locator("h1")).to_contain_text("Nothing has been saved")

    person.follow(page.get_by_role("link", name="Take further"))
    page.get_by_label("Amount").fill("3,500")
    person.follow(page.get_by_role("button", name="Take it further"))
    person.follow(page.get_by_role("link", name="Take further"))
    with person.expecting(422):
        person.follow(page.get_by_role("button", name="Take it further"))
    expect(page.locator("main")).to_contain_text("£3,500 would be counted twice")
    page.get_by_label("Amount").fill("3,000")
    person.follow(page.get_by_role("button", name="Take it further"))
    expect(page.locator("h1")).to_contain_text("£3,000 was saved against the original quotes")
    expect(page.locator("main")).to_contain_text("The one line that is let is explained to the cent")
    assert savings.book(project).counted_minor == 3_000_00


def test_a_slip_is_undone_where_it_was_said(project: Project, lead: User, enter):
    line = building.let(project)
    person = enter(lead, "desk")
    page = person.go(book(project))
    person.follow(page.get_by_role("link", name="Enter a saving"))
    page.get_by_label("Line of the budget").fill(line.code)
    page.get_by_label("What is saved, put off or added").fill("Second maker")
    page.get_by_label("Amount").fill("3,000")
    page.get_by_label("How it came about").select_option("a better quote")
    person.follow(page.get_by_role("button", name="Enter it"))
    expect(page.locator(".main-svg").first).to_be_visible()
    person.follow(page.get_by_role("button", name="Undo"))
    expect(page.locator("h1")).to_contain_text("Nothing has been saved")
    assert BookEntry.objects.filter(reverses__isnull=False).count() == 1


def test_what_came_true_follows_the_bills_and_the_owner_reads_the_same_sums(project: Project, owner: User, enter):
    decisions.record(decisions.tank(project), "B")
    line = LineItem.objects.select_related("project").get(code="L0303")
    builders.approved(line, 7_500, vendor="Norrowby")
    person = enter(owner, "desk", scheme="dark")
    page = person.go(book(project))
    told = "£5,000 was saved against the original quotes; £2,500 of it has come true"
    expect(page.locator("h1")).to_contain_text(told)
    assert page.get_by_role("link", name="Enter a saving").count() == 0
    person.follow(page.get_by_role("link", name="D01 How to carry the tank"))
    person.go(f"/p/{project.slug}/owners/")
    table = page.locator("table", has=page.get_by_text("What was saved, how, and what ate into it"))
    assert table.locator("tr.total").first.locator("td").all_inner_texts() == ["£5,000.00", "£2,500.00"]


def test_the_demo_is_explained_to_the_cent_on_its_page(demo: Project, enter):
    """Source: the demo's own check values, worked out apart from this program."""
    person = enter(keeping.person("monitor"))
    page = person.go(book(demo))
    expect(page.locator("h1")).to_contain_text("£61,082.80 was saved against the original quotes; £19,393.21 of it")
    expect(page.locator("main")).to_contain_text("All 40 are explained to the cent")
    page.get_by_text("The proof, line by line").click()
    row = page.get_by_role("row", name="L0202 Under-slab circulation pipework, three loops").last
    cells = ["£41,250.00", "£41,708.00", "−£710.00", "–", "−£1,008.00", "£1,260.00", "to the cent"]
    assert row.locator("td").all_inner_texts() == cells
    person.look()
