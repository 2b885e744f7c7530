"""A practitioner's own workbook brought in on the phone and on a desk: questions, proofs, Money, and all of it back."""

import json
from pathlib import Path

import pytest
from django.db.models import Sum
from playwright.sync_api import Page, expect

from budget.models import LineItem, Quote, SheetRow
from budget.services import ledger
from projects.models import Project
from tests.journeys import keeping
from tests.journeys.watching import Person

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]
DEMO = Path(__file__).resolve().parents[2] / "reports" / "demo" / "skerrywick.json"
MESSY = json.loads(DEMO.read_text("utf-8"))["messy_sheet_example"]
SHEET = {"name": "budget v7 FINAL (2).csv", "mimeType": "text/csv", "buffer": MESSY["text"].encode()}
SUM_MINOR = MESSY["expected"]["sum_of_budget_without_duplicate"] * 100


def budget_of(project: Project) -> int:
    lines = LineItem.objects.filter(project=project, removed_on=None)
    return lines.aggregate(whole=Sum("budget_minor"))["whole"]


def hand_in(person: Person, demo: Project) -> Page:
    page = person.go(f"/p/{demo.slug}/project/exchange/")
    page.get_by_label("a budget with its quotes").check()
    page.get_by_label("Sheet (.xlsx or .csv)").set_input_files(SHEET)
    person.follow(page.get_by_role("button", name="Read the sheet"))
    return page


def question(page: Page, words: str):
    return page.get_by_role("group", name=words)


def see_the_doubts(page: Page) -> None:
    """Each doubt of the sheet is asked, with the careful answer suggested."""
    expect(
        question(page, "Is row 15, “Engineer”, row 14 once more?").get_by_label("Yes, leave row 15 out")
    ).to_be_checked()
    expect(question(page, "What is the 10% of row 16?").get_by_label("Leave the row out")).to_be_checked()
    expect(question(page, "What becomes of the credit of row 11").get_by_label("Bring the line in")).to_be_checked()
    expect(question(page, "Which currency is 151,600 in?").get_by_label("in GBP")).to_be_checked()
    expect(question(page, "Which trade is “Fees”?").get_by_label("T14 Fees, permits and testing")).to_be_checked()
    expect(page.get_by_label("Date of the quotes")).to_have_value("2027-01-29")


def see_the_rows(page: Page) -> None:
    """The sheet as it was beside what was read, with its sums proved."""
    row = page.get_by_role("row").filter(has_text="Dig & cart")
    for words in ("£18,900.00", "18.9k", "k is thousand", "incl extra (timber)"):
        expect(row).to_contain_text(words)
    expect(page.get_by_role("row").filter(has_text="printed 29/01/27")).to_contain_text("print note")
    expect(page.locator("main")).to_contain_text("£55,000.00 is the sum of its rows.")
    expect(page.locator("main")).to_contain_text("The sheet states £341,100.00, its rows make £429,500.00.")


@pytest.mark.parametrize(("size", "script"), [("phone", True), ("desk", False)], ids=["phone", "desk without script"])
def test_the_messy_sheet_comes_in_and_goes_back(demo: Project, enter, size: str, script: bool):
    before = budget_of(demo)
    person = enter(keeping.person("lead"), size, script=script)
    page = hand_in(person, demo)
    see_the_doubts(page)
    see_the_rows(page)
    question(page, "Whose quotes stand in column D").get_by_role("textbox", name="Quotes of").fill("Aridlow")
    person.follow(page.get_by_role("button", name="Use these answers"))
    expect(page.get_by_role("heading", level=1)).to_have_text("1 question before budget v7 FINAL (2).csv can come in.")
    expect(page.locator("main")).to_contain_text("Write a name.")
    question(page, "Whose quotes stand in column E").get_by_role("textbox", name="Quotes of").fill("Norrowby")
    person.follow(page.get_by_role("button", name="Use these answers"))
    expect(page.get_by_role("heading", level=1)).to_contain_text(
        "9 lines of budget v7 FINAL (2).csv are ready to come in, £429,500 in all"
    )
    person.follow(page.get_by_role("button", name="Bring it in"))
    expect(page.get_by_role("status")).to_contain_text("Brought in 9 rows of a budget with its quotes")
    assert budget_of(demo) == before + SUM_MINOR and ledger.unreconciled(demo) == []

    see_it_in_money(person, demo)
    page = person.go(f"/p/{demo.slug}/project/exchange/")
    person.follow(page.get_by_role("row").filter(has_text=SHEET["name"]).get_by_role("button", name="Take back"))
    expect(page.get_by_role("status")).to_contain_text("9 lines with their quotes")
    assert budget_of(demo) == before and ledger.unreconciled(demo) == []
    assert not Quote.objects.filter(import_batch__file_name=SHEET["name"]).exclude(state="withdrawn").exists()


def see_it_in_money(person: Person, demo: Project) -> None:
    """A line bears its figures, its quotes, and the words of the sheet."""
    line = SheetRow.objects.get(row=5, line__project=demo).line
    page = person.go(f"/p/{demo.slug}/money/?open={line.trade.code}")
    expect(page.get_by_role("row").filter(has_text="Break out slab").first).to_contain_text("£21,600")
    page = person.go(f"/p/{demo.slug}/money/lines/{line.pk}/")
    expect(page.get_by_role("row").filter(has=page.get_by_role("link", name="Norrowby"))).to_contain_text("£20,850.00")
    said = page.locator("section", has=page.get_by_role("heading", name="What the sheet said"))
    expect(said).to_contain_text("20850 excl tipping")
    expect(said).to_contain_text("read as £20,850.00")
    expect(said).to_contain_text("Paid to date")
