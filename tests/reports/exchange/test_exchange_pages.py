"""The pages of import and export, tried by everybody on the build and by somebody who is not."""

import io
import re
from typing import Any

import openpyxl
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from budget.models import ImportBatch, Invoice, LineItem, Quote
from projects.models import Project, User
from reports.exchange import samples
from tests import builders
from tests.builders import signed_in
from tests.reports.exchange.sheets import csv, workbook

SHEET = [
    ["Trade", "Code", "Description", "Budget"],
    ["T01", "L1", "Dig", 14500.0],
    ["T01", "L2", "Cart away", "TBC"],
    ["", "", "Total", 14500.0],
]
GETS = ["index", "all_csv", "workbook", "document", "one_csv", "sample"]
MAY = {
    "lead": set(GETS),
    "owner": set(GETS) - {"document"},
    "bookkeeper": set(GETS) - {"document"},
    "viewer": {"index", "sample"},
    "outsider": set(),
}


def address(project: Project, name: str, **more: Any) -> str:
    extra = {"one_csv": {"name": "line-items"}, "sample": {"kind": "lines"}}.get(name, {})
    return reverse(f"exchange:{name}", kwargs={"slug": project.slug, **extra, **more})


def hand_in(
    client: Client, project: Project, data: bytes, *, kind: str = "lines", name: str = "sheet.xlsx", **more: str
) -> Any:
    return client.post(
        address(project, "index"), {"kind": kind, "file": SimpleUploadedFile(name, data), **more}, follow=True
    )


@pytest.fixture
def batch(project: Project, lead: User) -> ImportBatch:
    hand_in(signed_in(lead), project, workbook(SHEET))
    return ImportBatch.objects.get(project=project)


@pytest.mark.parametrize("who", MAY)
@pytest.mark.parametrize("name", GETS)
def test_who_may_open_what(request: Any, project: Project, who: str, name: str):
    answer = signed_in(request.getfixturevalue(who)).get(address(project, name))
    refused = 404 if who == "outsider" else 403
    assert answer.status_code == (200 if name in MAY[who] else refused)


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer", "outsider"])
@pytest.mark.parametrize("name", ["index", "sheet", "bring_in", "discard", "take_back"])
def test_only_the_lead_brings_sheets_in(request: Any, project: Project, batch: ImportBatch, who: str, name: str):
    more = {} if name == "index" else {"pk": batch.pk}
    answer = signed_in(request.getfixturevalue(who)).post(address(project, name, **more))
    assert answer.status_code == (404 if who == "outsider" else 403)


@pytest.mark.parametrize("name", ["sheet", "bring_in", "discard", "take_back"])
def test_a_sheet_is_reached_through_its_project_only(project: Project, batch: ImportBatch, outsider: User, name: str):
    elsewhere = Project.objects.get(name="Elsewhere")
    assert signed_in(outsider).post(address(elsewhere, name, pk=batch.pk)).status_code == 404


def test_what_was_given_stands_beside_what_was_read(project: Project, lead: User):
    answer = hand_in(signed_in(lead), project, workbook(SHEET))
    page = answer.content.decode()
    assert answer.status_code == 200 and "1 thing to mend before sheet.xlsx can come in." in page
    for text in ("£14,500.00", "<small>14500</small>", "“TBC” is no number.", "D3", "Cart away", "Leave row 4 out"):
        assert text in page
    assert "Bring it in" not in page


def choices(page: str) -> dict[str, Any]:
    """The form of choices as the page filled it in."""
    found: dict[str, Any] = {}
    for name, body in re.findall(r'<select name="(read-[^"]+)".*?>(.*?)</select>', page, re.DOTALL):
        chosen = re.search(r'value="([^"]*)"\s+selected', body)
        found[name] = chosen[1] if chosen else ""
    found["read-heading"] = re.search(r'name="read-heading" value="(\d+)"', page)[1]
    found["shown"] = re.findall(r'name="shown" value="(\d+)"', page)
    found["out"] = re.findall(r'name="out" value="(\d+)" checked', page)
    return found


def test_an_errand_from_the_sheet_to_the_budget_and_back(project: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    page = client.get(address(project, "sheet", pk=batch.pk)).content.decode()
    filled = choices(page)
    assert filled["out"] == ["4"] and filled["read-column_budget"] == "3" and filled["read-heading"] == "1"
    page = client.post(
        address(project, "sheet", pk=batch.pk), filled | {"out": ["3", "4"]}, follow=True
    ).content.decode()
    assert "1 line item of sheet.xlsx is ready to come in, £14,500 in all." in page and "Bring it in" in page
    page = client.post(address(project, "bring_in", pk=batch.pk), follow=True).content.decode()
    assert (
        "Brought in 1 row of line items from sheet.xlsx." in page and address(project, "take_back", pk=batch.pk) in page
    )
    assert LineItem.objects.get(project=project).budget_minor == 1450000
    page = client.post(address(project, "take_back", pk=batch.pk), follow=True).content.decode()
    assert (
        "Took back the import of sheet.xlsx" in page
        and not LineItem.objects.filter(project=project, removed_on=None).exists()
    )


def test_columns_that_were_chosen_are_kept(project: Project, lead: User, batch: ImportBatch):
    client = signed_in(lead)
    filled = choices(client.get(address(project, "sheet", pk=batch.pk)).content.decode())
    page = client.post(
        address(project, "sheet", pk=batch.pk), filled | {"read-column_code": "", "out": ["3", "4"]}, follow=True
    ).content.decode()
    assert "T01-01" in page and "no code; one was made up" in page


@pytest.mark.parametrize(
    "wrong",
    [
        {"read-column_budget": "99"},
        {"read-column_budget": ""},
        {"read-mark": "x"},
        {"read-heading": "-1"},
        {"read-trade": "Z"},
    ],
)
def test_a_choice_that_is_none_is_refused_at_its_field(
    project: Project, lead: User, batch: ImportBatch, wrong: dict[str, str]
):
    client = signed_in(lead)
    filled = choices(client.get(address(project, "sheet", pk=batch.pk)).content.decode())
    answer = client.post(address(project, "sheet", pk=batch.pk), filled | wrong)
    assert answer.status_code == 422 and b"Nothing is saved yet." in answer.content


@pytest.mark.parametrize("outs", [["x"], ["999999999999"], ["-1"], ["77"]])
def test_rows_that_were_not_on_the_page_are_not_left_out(
    project: Project, lead: User, batch: ImportBatch, outs: list[str]
):
    client = signed_in(lead)
    filled = choices(client.get(address(project, "sheet", pk=batch.pk)).content.decode())
    client.post(address(project, "sheet", pk=batch.pk), filled | {"out": outs})
    batch.refresh_from_db()
    assert batch.content["choices"]["out"] == []


def test_a_sheet_with_troubles_is_not_brought_in_by_its_address(project: Project, lead: User, batch: ImportBatch):
    page = signed_in(lead).post(address(project, "bring_in", pk=batch.pk), follow=True).content.decode()
    assert "1 trouble is left" in page and not LineItem.objects.filter(project=project).exists()


def test_a_preview_is_thrown_away(project: Project, lead: User, batch: ImportBatch):
    page = signed_in(lead).post(address(project, "discard", pk=batch.pk), follow=True).content.decode()
    assert "nothing was brought in" in page and not ImportBatch.objects.exists()


def test_a_file_that_cannot_be_read_is_refused_at_its_field(project: Project, lead: User):
    answer = hand_in(signed_in(lead), project, b"%PDF-1.7")
    assert answer.status_code == 422 and "neither a CSV file nor a workbook" in answer.content.decode()
    assert not ImportBatch.objects.exists()


def test_hostile_names_are_shown_as_text(project: Project, lead: User):
    page = hand_in(
        signed_in(lead), project, csv("Trade,Description,Budget", "T01,<script>alert(1)</script>,5"), name="<b>x.csv"
    ).content.decode()
    assert "<script>alert" not in page and "<b>x.csv" not in page and "&lt;script&gt;" in page


@pytest.mark.parametrize("kind", samples.SAMPLES)
def test_a_sample_comes_in_as_it_is(project: Project, lead: User, kind: str):
    client = signed_in(lead)
    for code in ("T01-01", "T02-01") if kind != "lines" else ():
        builders.line(project, code)
    data = client.get(reverse("exchange:sample", kwargs={"slug": project.slug, "kind": kind})).content
    if kind == "lines":
        project.trades.filter(code__in=("T01", "T02")).delete()
    page = hand_in(client, project, data, kind=kind, name="sample.csv").content.decode()
    assert "ready to come in" in page
    client.post(address(project, "bring_in", pk=ImportBatch.objects.get().pk))
    table, count = {"lines": (LineItem, 2), "quotes": (Quote, 1), "invoices": (Invoice, 2)}[kind]
    assert table.objects.filter(project=project).count() == count


def test_who_books_brings_invoices_in_and_takes_them_back(project: Project, bookkeeper: User, viewer: User):
    for code in ("T01-01", "T02-01"):
        builders.line(project, code)
    client, data = signed_in(bookkeeper), samples.as_csv("invoices")
    assert hand_in(client, project, data, kind="lines", name="sample.csv").status_code == 403
    assert hand_in(signed_in(viewer), project, data, kind="invoices", name="sample.csv").status_code == 403
    page = hand_in(client, project, data, kind="invoices", name="sample.csv").content.decode()
    assert "2 invoices of sample.csv are ready to come in" in page
    batch = ImportBatch.objects.get()
    client.post(address(project, "bring_in", pk=batch.pk))
    assert Invoice.objects.filter(project=project).count() == 2
    assert signed_in(viewer).post(address(project, "take_back", pk=batch.pk)).status_code == 403
    client.post(address(project, "take_back", pk=batch.pk))
    assert set(Invoice.objects.values_list("state", flat=True)) == {"refused"}


def test_who_books_does_not_touch_the_leads_sheets(batch: ImportBatch, bookkeeper: User):
    client = signed_in(bookkeeper)
    for name in ("sheet", "bring_in", "discard", "take_back"):
        assert client.post(address(batch.project, name, pk=batch.pk)).status_code == 403


def test_a_large_sheet_is_shown_page_by_page(project: Project, lead: User):
    rows = [["T01", f"L{number}", f"Work {number}", 5.0] for number in range(250)]
    client = signed_in(lead)
    hand_in(client, project, workbook([SHEET[0], *rows]))
    here = address(project, "sheet", pk=ImportBatch.objects.get().pk)
    first, last = client.get(here).content.decode(), client.get(here, {"from": "200"}).content.decode()
    assert "Work 99<" in first and "Work 100<" not in first and "Work 249<" in last and "from=100" in first
    assert "No such row." in client.get(here, {"rows": "troubled"}).content.decode()


def test_questions_to_the_database_do_not_grow_with_the_sheet(
    project: Project, lead: User, django_assert_max_num_queries: Any
):
    client = signed_in(lead)
    for number, size in enumerate((3, 300)):
        hand_in(client, project, workbook([SHEET[0], *(["T01", f"L{n}", f"Work {n}", 5.0] for n in range(size))]))
        with django_assert_max_num_queries(12):
            client.get(address(project, "sheet", pk=ImportBatch.objects.order_by("pk")[number].pk))


def test_the_workbook_opens_in_another_library(project: Project, lead: User):
    builders.line(project, "L1", description="=1+1")
    book = openpyxl.load_workbook(io.BytesIO(signed_in(lead).get(address(project, "workbook")).content))
    row = dict(zip(*[[cell.value for cell in cells] for cells in book["line-items"].iter_rows()], strict=True))
    assert (row["code"], row["budget"], row["description"]) == ("L1", 10000, "=1+1")
    assert book["line-items"]["D2"].data_type == "s"
