"""The page of a practitioner's own sheet: its questions, its proofs, its rows, and what a hand may do to them."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from budget.models import ImportBatch, LineItem, Quote, SheetRow, Trade
from projects.models import Project, User
from tests.builders import signed_in
from tests.reports.exchange.sheets import csv, workbook

DEMO = Path(__file__).resolve().parents[3] / "reports" / "demo" / "skerrywick.json"
TEXT: str = json.loads(DEMO.read_text("utf-8"))["messy_sheet_example"]["text"]
ANSWERS = {"vendor:3": "Aridlow", "vendor:4": "Norrowby", "rate:EUR": "0.86", "rate:USD": "0.79"}


def address(project: Project, name: str, **more: Any) -> str:
    return reverse(f"exchange:{name}", kwargs={"slug": project.slug, **more})


def hand_in(client: Client, project: Project, data: bytes, name: str = "budget-v7.csv", **more: str) -> Any:
    upload = SimpleUploadedFile(name, data)
    return client.post(address(project, "index"), {"kind": "workbook", "file": upload, **more}, follow=True)


@pytest.fixture
def bare(project: Project) -> Project:
    Trade.objects.filter(project=project).delete()
    return project


@pytest.fixture
def batch(bare: Project, lead: User) -> ImportBatch:
    hand_in(signed_in(lead), bare, TEXT.encode())
    return ImportBatch.objects.get(project=bare)


def page_of(client: Client, project: Project, batch: ImportBatch, **query: str) -> str:
    return client.get(address(project, "sheet", pk=batch.pk), query).content.decode()


def filled(page: str, **typed: str) -> dict[str, Any]:
    """The form of questions as the page filled it in, with what somebody types."""
    data: dict[str, Any] = {"do": "answers", "asked": re.findall(r'name="asked" value="([^"]+)"', page)}
    for name, value in re.findall(r'type="radio" name="(choice:[^"]+)" value="([^"]+)" checked', page):
        data[name] = value
    for name, value in re.findall(r'type="hidden" name="(choice:[^"]+)" value="([^"]+)"', page):
        data[name] = value
    for name, value in re.findall(r'name="(typed:[^"]+)" value="([^"]*)"', page):
        data[name] = value
    return data | {f"typed:{key}": value for key, value in typed.items() if f"typed:{key}" in data}


def answer(client: Client, project: Project, batch: ImportBatch, **typed: str) -> str:
    page = page_of(client, project, batch)
    return client.post(
        address(project, "sheet", pk=batch.pk), filled(page, **(ANSWERS | typed)), follow=True
    ).content.decode()


def test_the_page_shows_the_sheet_as_it_was_beside_what_was_read(bare: Project, lead: User, batch: ImportBatch):
    page = page_of(signed_in(lead), bare, batch)
    assert "10 questions before budget-v7.csv can come in." in page and "Bring it in" not in page
    for text in (
        "£18,900.00",
        "18.9k",
        "k is thousand",
        "20850 excl tipping",
        "€158,400.00",
        "€158.400,00",
        "from above",
        "likely there twice",
    ):
        assert text in page
    for text in (
        "Skerrywick Wreck Hall - BUDGET v7 FINAL (2)",
        "printed 29/01/27",
        "print note",
        "Sub-total groundworks · 55,000",
    ):
        assert text in page


def test_the_page_proves_the_sums(bare: Project, lead: User, batch: ImportBatch):
    page = page_of(signed_in(lead), bare, batch)
    assert "£55,000.00 is the sum of its rows." in page and "£58,350.00 is the sum of its rows." in page
    assert "The sheet states £341,100.00, its rows make £429,500.00." in page and "£454,000.00" in page


def test_a_sum_that_is_wrong_names_its_row(bare: Project, lead: User):
    rows = ["Trade,Item,Budget", "C,Slab,100", "C,Kerb,250", "C,Edge,70", "TOTAL,,350"]
    page = hand_in(signed_in(lead), bare, csv(*rows)).content.decode()
    assert "£70.00 too little." in page and "It would hold without row 4" in page


def test_an_errand_from_the_sheet_to_money_and_back(bare: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    page = answer(client, bare, batch)
    assert "9 lines of budget-v7.csv are ready to come in, £429,500 in all, with 15 quotes." in page
    page = client.post(address(bare, "bring_in", pk=batch.pk), follow=True).content.decode()
    assert "Brought in 9 rows of a budget with its quotes from budget-v7.csv." in page
    assert LineItem.objects.filter(project=bare).count() == 9 and Quote.objects.filter(project=bare).count() == 15
    line = SheetRow.objects.get(row=6).line
    page = client.get(reverse("budget:line", kwargs={"slug": bare.slug, "line_id": line.pk})).content.decode()
    assert "What the sheet said" in page and "18.9k" in page and "read as £18,900.00" in page
    page = client.post(address(bare, "take_back", pk=batch.pk), follow=True).content.decode()
    assert "Took back the import of budget-v7.csv: 9 lines with their quotes." in page
    assert not LineItem.objects.filter(project=bare, removed_on=None).exists()


def test_an_answer_that_does_not_do_is_told_beside_it_and_kept(bare: Project, lead: User, batch: ImportBatch):
    page = answer(signed_in(lead), bare, batch, **{"rate:USD": "soon", "vendor:4": ""})
    assert "2 questions before budget-v7.csv can come in." in page
    assert "Write a rate above zero, such as 0.86." in page and 'value="soon"' in page and "Write a name." in page
    assert "8 questions are answered" in page


def test_an_answer_may_be_changed(bare: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    answer(client, bare, batch)
    client.post(address(bare, "sheet", pk=batch.pk), {"do": "answers", "asked": "twin:15", "choice:twin:15": "in"})
    assert "10 lines of budget-v7.csv are ready to come in, £454,000 in all" in page_of(client, bare, batch)


def test_another_vendor_for_one_trade(bare: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    data = filled(page_of(client, bare, batch), **ANSWERS) | {
        "part": ["vendor:3:tank"],
        "typed:vendor:3:tank": "Brunnhalde",
    }
    client.post(address(bare, "sheet", pk=batch.pk), data)
    client.post(address(bare, "bring_in", pk=batch.pk))
    assert Quote.objects.filter(vendor__name="Brunnhalde").count() == 2


def test_rows_are_left_out_and_taken_for_lines_by_a_tick(bare: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    answer(client, bare, batch)
    here = address(bare, "sheet", pk=batch.pk)
    ticked = {"do": "rows", "shown": [str(row) for row in range(1, 18)], "out": ["4"], "line": ["8"]}
    client.post(here, ticked)
    page = page_of(client, bare, batch)
    assert "left out by you" in page and "What is the budget of row" not in page
    assert "9 lines" in page and "£470,000 in all" in page  # 429,500 - 14,500 + 55,000
    client.post(here, ticked | {"out": [], "line": []})
    assert "9 lines of budget-v7.csv are ready to come in, £429,500 in all" in page_of(client, bare, batch)


def shape_form(page: str) -> dict[str, Any]:
    found: dict[str, Any] = {
        "do": "columns",
        "read-mark": "",
        "read-heading": re.search(r'name="read-heading" value="(\d+)"', page)[1],
    }
    for name, body in re.findall(r'<select name="(read-column_[^"]+)".*?>(.*?)</select>', page, re.DOTALL):
        chosen = re.search(r'value="([^"]*)"\s+selected', body)
        found[name] = chosen[1] if chosen else ""
    return found


def test_columns_may_be_read_in_another_way(bare: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    form = shape_form(page_of(client, bare, batch))
    assert (form["read-column_2"], form["read-column_3"], form["read-column_5"]) == ("budget", "quote", "paid")
    client.post(address(bare, "sheet", pk=batch.pk), form | {"read-column_3": "kept", "read-column_4": "kept"})
    page = page_of(client, bare, batch)
    assert "Whose quotes" not in page and "Which date do the quotes bear?" not in page


def test_a_column_can_not_be_two_budgets(bare: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    form = shape_form(page_of(client, bare, batch))
    answered = client.post(address(bare, "sheet", pk=batch.pk), form | {"read-column_3": "budget"})
    assert answered.status_code == 422 and "Another column is that already" in answered.content.decode()


@pytest.mark.parametrize(
    "wrong", [{"read-column_2": "zzz"}, {"read-mark": "x"}, {"read-heading": "0"}, {"read-heading": "x"}]
)
def test_a_choice_that_is_none_is_refused(bare: Project, lead: User, batch: ImportBatch, wrong: dict[str, str]):
    client = signed_in(lead)
    form = shape_form(page_of(client, bare, batch))
    assert client.post(address(bare, "sheet", pk=batch.pk), form | wrong).status_code == 422


def test_another_row_of_headings_finds_its_own_columns(bare: Project, lead: User):
    client = signed_in(lead)
    rows = ["Trade,Item,Budget", "x,y,z", "Item,Trade,Estimate", "Slab,C,5"]
    hand_in(client, bare, csv(*rows))
    batch = ImportBatch.objects.get()
    client.post(address(bare, "sheet", pk=batch.pk), shape_form(page_of(client, bare, batch)) | {"read-heading": "3"})
    assert "1 line of budget-v7.csv is ready to come in, £5 in all." in page_of(client, bare, batch)


HOSTILE: list[dict[str, Any]] = [
    {},
    {"do": "nonsense"},
    {"do": "rows", "shown": ["x", "-1", "9" * 30], "out": ["5"], "line": ["5"]},
    {"do": "answers", "asked": ["nobody:1"] * 50, "choice:nobody:1": "x"},
    {"do": "answers", "asked": ["twin:15"], "choice:twin:15": "\x00out of line"},
    {"do": "answers", "asked": ["date"], "typed:date": "9" * 5000},
    {"do": "answers", "part": ["twin:15"], "typed:twin:15": "x"},
    {"do": "answers", "asked": ["rate:EUR"], "choice:rate:EUR": "=", "typed:rate:EUR": "NaN"},
]


@pytest.mark.parametrize("data", HOSTILE)
def test_what_was_never_asked_changes_nothing(bare: Project, lead: User, batch: ImportBatch, data: dict[str, Any]):
    client = signed_in(lead)
    answered = client.post(address(bare, "sheet", pk=batch.pk), data, follow=True)
    assert answered.status_code == 200 and "10 questions before" in answered.content.decode()


def test_hostile_cells_are_shown_as_text(bare: Project, lead: User):
    rows = ["Trade,Item,Budget,<b>Quote</b>", '<i>C</i>,"<script>alert(1)</script>",5,"<img src=x> 7"']
    page = hand_in(signed_in(lead), bare, csv(*rows)).content.decode()
    assert (
        "<script>alert" not in page and "<i>C</i>" not in page and "<b>Quote" not in page and "<img src=x" not in page
    )


def test_only_rows_in_doubt(bare: Project, lead: User, batch: ImportBatch):
    page = page_of(signed_in(lead), bare, batch, rows="out")
    assert "likely there twice" in page and "Break out slab" not in page


def test_a_long_sheet_is_shown_page_by_page_and_its_questions_a_few_at_a_time(bare: Project, lead: User):
    rows = [["Trade", "Item", "Budget"], *(["C", f"Work {number}", "1.234"] for number in range(250))]
    client = signed_in(lead)
    first = hand_in(client, bare, workbook(rows), "long.xlsx").content.decode()
    batch = ImportBatch.objects.get()
    last = page_of(client, bare, batch, **{"from": "200"})
    assert (
        "250 questions before" in first and first.count('name="asked"') == 40 and "210 more come after these." in first
    )
    assert "Work 249" in last and "Work 249" not in first


def test_a_workbook_with_two_sheets_reads_the_one_that_is_named(bare: Project, lead: User):
    def second(book: Any) -> None:
        sheet = book.create_sheet("Costs")
        for row in (["Trade", "Item", "Budget"], ["C", "Slab", 5.0], ["", "Kerb", "=B2"]):
            sheet.append(row)
        sheet.merge_cells("A2:A3")
        sheet.row_dimensions[3].hidden = True

    data = workbook([["Nothing"], ["here"]], name="Cover", mend=second)
    page = hand_in(signed_in(lead), bare, data, "two.xlsx", sheet="costs").content.decode()
    assert "The sheet “Costs” of the workbook was read." in page and "formulas were never worked out" in page
    assert "The row is hidden in the sheet" in page and "Is row 3, “Kerb”, a line?" in page


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer", "outsider"])
def test_only_the_lead_answers(request: Any, bare: Project, batch: ImportBatch, who: str):
    client = signed_in(request.getfixturevalue(who))
    for method in (client.get, client.post):
        assert method(address(bare, "sheet", pk=batch.pk)).status_code == (404 if who == "outsider" else 403)
