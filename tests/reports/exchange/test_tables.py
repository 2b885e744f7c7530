"""Every table goes out, and nothing in it is run by the spreadsheet that opens it."""

import csv
import io
import zipfile
from decimal import Decimal
from typing import Any

import openpyxl
import pytest
from django.apps import apps
from hypothesis import given
from hypothesis import strategies as st

from budget.models import LineItem, Quote
from projects.models import Project, User
from reports.exchange import belonging, dumping, tables
from reports.sheets import writing
from tests import builders

#: What is in the database and no part of a project, each with a reason. Whatever else is new has to go out.
NOT_OF_A_PROJECT = {"projects.user": "people are named by their user names; passwords stay where they are"}


def ours() -> set[str]:
    return {
        dumping.table_name(m)
        for m in apps.get_models()
        if m._meta.app_label in belonging.APPS and not m._meta.auto_created
    }


def test_every_table_goes_out_or_stays_for_a_reason():
    out = {dumping.table_name(model) for model in tables.exported()}
    assert out | set(tables.LEFT_OUT) | set(NOT_OF_A_PROJECT) == ours() and not out & set(tables.LEFT_OUT)


def test_every_column_goes_out_or_stays_for_a_reason(project: Project):
    for model in tables.exported():
        table = tables.table(project, tables.name_of(model))
        left_out = tables.COLUMNS_LEFT_OUT.get(dumping.table_name(model), {})
        own = [f for f in model._meta.concrete_fields if f.name not in left_out and f.related_model is not Project]
        many = [f for f in model._meta.many_to_many if dumping.is_plain(f)]
        assert len(table.columns) == len(own) + len(many), table.name


def test_tables_have_names_of_their_own_that_fit_a_sheet():
    names = [name[: writing._SHEET_NAME] for name in tables.names()]
    assert len(set(names)) == len(names) and all(name.replace("-", "").isalpha() for name in names)


@pytest.fixture
def line(project: Project) -> LineItem:
    return builders.line(project, "L1", budget=14_500, description="Dig")


def rows(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8-sig"), newline="")))


def one(project: Project, name: str) -> dict[str, str]:
    return rows(writing.as_csv(tables.table(project, name)))[0]


def test_amounts_have_the_digits_of_their_currency(project: Project, line: LineItem):
    builders.quote(line, 150, currency="JPY", rate=Decimal("0.0053"))  # builders give hundreds of the smallest unit
    assert one(project, "line-items")["budget"] == "14500.00"
    assert one(project, "quote-items")["amount quoted"] == "15000" and one(project, "quotes")["rate"] == "0.0053"
    assert one(project, "quote-lines")["levelled"] == "79.50"


def test_rows_are_named_and_dates_are_plain(project: Project, line: LineItem):
    builders.quote(line, 150)
    found = one(project, "quotes")
    assert (found["vendor"], found["quoted on"], found["logged by"], found["state"]) == (
        "Aridlow",
        "2027-01-29",
        "lead",
        "open",
    )
    assert found["logged at"] == "2027-01-29T10:00:00+00:00" and one(project, "line-items")["trade"] == "T01"


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1"])
def test_a_text_that_would_be_run_bears_an_apostrophe(project: Project, text: str):
    line = builders.line(project, "L1")
    LineItem.objects.filter(pk=line.pk).update(description=text)
    assert one(project, "line-items")["description"] == f"'{text}"


@given(st.text(max_size=30))
def test_no_text_begins_in_a_way_that_is_run(text: str):
    assert not writing.harmless(text).startswith(("=", "+", "-", "@", "\t", "\r"))


def test_amounts_below_zero_stay_numbers(project: Project, line: LineItem):
    builders.quote(line, 14_000)
    assert one(project, "movements")["amount"] == "-500.00"


def test_the_zip_holds_every_table_and_is_the_same_each_time(project: Project, line: LineItem):
    data = writing.as_zip(tables.every(project))
    assert data == writing.as_zip(tables.every(project))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert sorted(archive.namelist()) == sorted(f"{name}.csv" for name in tables.names())
        assert rows(archive.read("line-items.csv"))[0]["code"] == "L1"


def test_a_workbook_has_numbers_texts_and_dates(project: Project, line: LineItem):
    LineItem.objects.filter(pk=line.pk).update(description="=1+1", unit="http://x.example", code="007")
    builders.quote(line, 14_000)
    book = openpyxl.load_workbook(io.BytesIO(writing.as_workbook(tables.every(project))))
    assert len(book.sheetnames) == len(tables.names())
    sheet = book["line-items"]
    by_name = {cell.value: sheet.cell(2, cell.column) for cell in sheet[1]}
    assert [by_name[name].data_type for name in ("description", "unit", "code", "budget")] == ["s", "s", "s", "n"]
    assert by_name["budget"].value == 14500 and by_name["code"].value == "007"
    quoted = book["quotes"]
    assert quoted.cell(2, [cell.value for cell in quoted[1]].index("quoted on") + 1).value.date() == builders.TODAY


def test_a_text_that_no_cell_holds_is_cut_in_the_workbook_only(project: Project, line: LineItem):
    from projects.models import TrailEntry

    long = "x" * 40_000
    entry = TrailEntry.objects.filter(project=project)[0]
    TrailEntry(
        project=project, at=entry.at, by_name="x", verb="x", subject="x", summary="s", details={"x": long}
    ).save()
    book = openpyxl.load_workbook(io.BytesIO(writing.as_workbook([tables.table(project, "trail-entries")])))
    texts = [str(cell.value) for row in book.active.iter_rows() for cell in row]
    assert max(map(len, texts)) == 32_767 and long in writing.as_csv(tables.table(project, "trail-entries")).decode()


def test_another_projects_rows_stay_out(project: Project, line: LineItem, outsider: User):
    theirs = builders.line(Project.objects.get(name="Elsewhere"), "SECRET")
    builders.quote(theirs, 5, vendor="Secret vendor")
    for table in tables.every(project):
        assert "SECRET" not in str(table.rows) and "Secret vendor" not in str(table.rows), table.name


def test_secrets_stay_out(project: Project, lead: User, owner: User):
    from projects.models import Invitation

    hashes = list(Invitation.objects.values_list("secret_hash", flat=True))
    data = writing.as_zip(tables.every(project))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        everything = b"".join(archive.read(name) for name in archive.namelist()).decode()
    assert hashes and lead.password and not any(secret in everything for secret in [*hashes, lead.password])


def test_questions_to_the_database_do_not_grow_with_the_project(project: Project, django_assert_num_queries: Any):
    def ask() -> None:
        list(tables.every(project))

    many = sum(len([f for f in model._meta.many_to_many if dumping.is_plain(f)]) for model in tables.exported())
    for count in (1, 20):
        for number in range(count):
            builders.quote(builders.line(project, f"L{count}{number}"), 10)
        with django_assert_num_queries(len(tables.exported()) + many):
            ask()
    assert Quote.objects.filter(project=project).count() == 21
