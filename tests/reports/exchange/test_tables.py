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
from budget.services import changes, payments, retention, stages
from projects.models import Project, Role, User
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


def test_every_column_goes_out_or_stays_for_a_reason():
    for model in tables.exported():
        left_out = tables.COLUMNS_LEFT_OUT.get(dumping.table_name(model), {})
        own = {f.name for f in model._meta.concrete_fields if not f.primary_key and f.related_model is not Project}
        out = {source.path.partition("__")[0] for source in tables._sources(model)}
        out |= {f.name for f in model._meta.concrete_fields if f.attname in out}
        assert own - out == set(left_out) & own and set(left_out) <= own, model


def test_no_heading_stands_twice(project: Project):
    for table in tables.every(project):
        headings = [column.heading for column in table.columns]
        assert len(set(headings)) == len(headings), (table.name, headings)


#: Columns with the number of a row all the same, and why.
NUMBERED = {
    "reverses id": "an earlier row of the same table, found there by its number",
    "follows id": "an earlier row of the same table, found there by its number",
    "subject id": "rows of many tables; the summary beside it says which in words",
    "source id": "rows of many tables; the note beside it says which in words",
    "up to id": "how far the ledger went; movements are found by their number",
}


def test_rows_are_called_by_name_and_not_by_number(project: Project):
    found = {column.heading for table in tables.every(project) for column in table.columns}
    assert {heading for heading in found if heading.endswith(" id")} == set(NUMBERED)


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


@pytest.fixture
def abroad(project: Project, lead: User) -> LineItem:
    """Let in yen, with a tenth held and two stages; billed and paid in part, some retention released. 1 JPY is 0.0053 GBP."""
    line = builders.line(project, "L9", budget=2_000)
    yen = {"currency": "JPY", "rate": Decimal("0.0053")}
    agreement = builders.let(line, 3_000, vendor="Kurobe", retention=10, **yen)  # builders give hundreds: 300,000 yen
    rows = [
        stages.StageDraft("deposit", "With the order", share_percent=Decimal(30)),
        stages.StageDraft("final", "At the end", amount_quoted_minor=210_000),
    ]
    stages.set_payment_stages(agreement, rows, by=lead, now=builders.NOW, today=builders.TODAY)
    invoice = builders.approved(line, 1_000, number="KB-1", vendor="Kurobe", retention=100, **yen)
    who = {"by": lead, "now": builders.NOW, "today": builders.TODAY}
    payments.pay(invoice, amount_quoted_minor=45_000, rate=Decimal("0.0055"), paid_on=builders.TODAY, **who)
    retention.release(agreement, amount_quoted_minor=4_000, released_on=builders.TODAY, **who)
    return line


#: What a bookkeeper has to find, table by table: the vendor and the paper by name, each amount in its own currency.
FOUND = {
    "invoices": {
        "vendor": "Kurobe", "number": "KB-1", "currency": "JPY", "payable in currency": "90000", "paid in currency": "45000",
        "entered by": "lead", "flagged": "no",
    },
    "invoice-lines": {
        "invoice vendor": "Kurobe", "invoice": "KB-1", "line": "L9", "currency": "JPY", "net in currency": "100000",
        "retention in currency": "10000", "net": "530.00", "cost": "530.00", "retention": "53.00",
    },
    "payments": {
        "invoice vendor": "Kurobe", "invoice": "KB-1", "currency": "JPY", "amount in currency": "45000", "rate": "0.0055",
        "amount": "247.50", "exchange difference": "9.00", "paid on": "2027-01-29",
    },
    "agreement-lines": {
        "agreement vendor": "Kurobe", "agreement date": "2027-01-29", "line": "L9", "currency": "JPY",
        "amount in currency": "300000", "amount": "1590.00",
    },
    "agreements": {"vendor": "Kurobe", "quote vendor": "Kurobe", "quote date": "2027-01-29", "retention percent": "10"},
    "payment-stages": {
        "agreement vendor": "Kurobe", "name": "With the order", "currency": "JPY", "share percent": "30", "amount in currency": "",
    },
    "retention-releases": {
        "agreement vendor": "Kurobe", "currency": "JPY", "amount in currency": "4000", "amount": "21.20",
    },
    "invoice-steps": {"invoice": "KB-1", "verb": "entered", "judgement": "pay", "taken by name": "Lee Lead"},
    "quote-items": {"quote vendor": "Kurobe", "currency": "JPY", "amount quoted": "300000"},
}  # fmt: skip


@pytest.mark.parametrize("name", FOUND)
def test_a_bookkeeper_finds_names_and_the_right_currency(project: Project, abroad: LineItem, name: str):
    """Worked by hand: 100,000 yen at 0.0053 is 530.00; 45,000 paid at 0.0055 are 247.50, 9.00 more than at the invoice's."""
    found = one(project, name)
    assert {heading: found.get(heading) for heading in FOUND[name]} == FOUND[name]


def test_a_later_stage_has_its_amount_in_the_agreements_currency(project: Project, abroad: LineItem):
    second = rows(writing.as_csv(tables.table(project, "payment-stages")))[1]
    assert (second["amount in currency"], second["share percent"]) == ("210000", "")


def test_the_other_new_tables_call_rows_by_name(project: Project, line: LineItem, lead: User):
    pot = builders.aside(project, amount=1_000)
    builders.let(line, 9_000)
    change = builders.change(line, 500, paid_from="contingency")
    who = {"by": lead, "now": builders.NOW, "today": builders.TODAY}
    changes.agree(change, note="yes", role=Role.OWNER, **who)
    builders.risk(project)
    builders.billed(project)
    drawn, step = one(project, "transfers"), one(project, "change-steps")
    assert (drawn["from line"], drawn["to line"], drawn["amount"], drawn["change"]) == (pot.code, "L1", "500.00", "C01")
    assert (drawn["approved by name"], drawn["need"], step["change"]) == ("Lee Lead", "unforeseen", "C01")
    assert (one(project, "risks")["cost"], one(project, "risks")["chance"]) == ("24000.00", "0.04")
    bank, word = one(project, "vendor-banks"), one(project, "vendor-bank-confirmations")
    assert (bank["vendor"], word["bank vendor"], word["bank"]) == ("Brisewell", "Brisewell", bank["bank shown"])


def test_a_verdict_is_told_in_words_and_no_fingerprint_goes_out(project: Project, line: LineItem):
    builders.let(line, 9_000)
    builders.invoice(line, 9_900, bank="GB33 BUKB 2020 1555")
    step, found = one(project, "invoice-steps"), one(project, "invoices")
    assert step["judgement"].startswith("query: ") and "over the agreement" in step["judgement"]
    assert "bank print" not in found and found["bank shown"].endswith("1555")


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
