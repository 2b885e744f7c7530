"""The live workbook as another library reads it, without any calculation."""

import io
import re
import zipfile
from typing import Any

import openpyxl
import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from budget.models import Cause, Change, Invoice, LineItem, Movement, Payment, Vendor
from budget.selectors import overview, retained
from decisions.selectors import savings
from decisions.selectors.book_entries import LABELS
from projects import trail
from projects.models import Project, User
from reports.selectors import workbook as rows
from reports.sheets.workbook import cells, looks, plan, whole
from tests import builders
from tests.builders import NOW, TODAY, signed_in
from tests.reports.sheets import busy

SHEETS = [
    "Summary", "Lines", "Movements", "Changes", "Budget moved", "Invoices", "Invoice lines", "Payments", "Retention", "Savings",
    "Checks",
]  # fmt: skip


def read(project: Project, *, values: bool = True) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(whole.as_workbook(project, on=TODAY)), data_only=values)


def table(sheet: Any, heading_row: int = 4) -> list[dict[str, Any]]:
    """The rows of a table up to its totals, by heading."""
    heads, *found = [[cell.value for cell in row] for row in sheet.iter_rows(min_row=heading_row)]
    return [dict(zip(heads, row, strict=True)) for row in found if isinstance(row[0], int)]


# --- What is in it --------------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_an_empty_project_has_every_sheet_and_agrees(lead: User):
    book = read(builders.project(lead))
    assert book.sheetnames == SHEETS and book["Checks"]["A4"].value == "Every sum agrees."
    assert book["Lines"]["B5"].value == "No line yet." and book["Invoices"]["B5"].value == "No invoice yet."


@pytest.mark.django_db
def test_the_figures_are_those_of_the_pages(lead: User):
    project = busy.build(lead)
    book, seen = read(project), overview.overview(project)
    shown = {row[1].value: [cell.value for cell in row] for row in book["Summary"].iter_rows()}
    assert shown["All trades"][5:13] == pytest.approx(
        [
            minor / 100
            for minor in (
                seen.total.budget, seen.total.original, seen.total.agreed, seen.total.changes, seen.total.invoiced,
                seen.total.likely, seen.total.over_budget, seen.total.against_original,
            )
        ]
    )  # fmt: skip
    assert shown["Likely final"][6] == seen.bridge[-1].running / 100
    assert shown["Left"][5] == seen.contingency.left / 100
    assert shown["Retention held"][5] == sum(row.held_minor for row in retained.by_agreement(project)) / 100
    assert shown["Net of all that counts"][5] == savings.book(project).net_minor / 100


@pytest.mark.django_db
def test_every_row_of_the_tables_is_there(lead: User):
    project = busy.build(lead)
    book = read(project)
    counts = {
        "Lines": LineItem.objects.filter(project=project), "Movements": Movement.objects.filter(project=project),
        "Changes": project.changes, "Budget moved": project.transfers, "Invoices": project.invoices,
        "Payments": Payment.objects.filter(invoice__project=project),
    }  # fmt: skip
    assert {name: len(table(book[name])) for name in counts} == {name: found.count() for name, found in counts.items()}


@pytest.mark.django_db
def test_invoices_keep_their_currency_and_say_what_is_open(lead: User):
    found = {row["Invoice"]: row for row in table(read(busy.build(lead))["Invoices"])}
    maker = Invoice.objects.get(number="M1")
    assert (found["M1"]["Currency"], found["M1"]["Falls to be paid"]) == ("EUR", maker.payable_quoted_minor / 100)
    assert found["M1"]["Open"] == pytest.approx((maker.payable_quoted_minor - maker.paid_quoted_minor) / 100)
    assert found["Q1"]["Counts"] == "no" and found["Q1"]["Open"] == 0 and found["007"]["Open"] == 0


@pytest.mark.django_db
def test_lines_that_were_taken_off_do_not_count(lead: User):
    project = builders.project(lead)
    builders.line(project, "L1", budget=100)
    gone = builders.line(project, "L2", budget=900)
    LineItem.objects.filter(pk=gone.pk).update(removed_on=TODAY)
    book = read(project)
    assert [(row["Code"], row["Counts as"]) for row in table(book["Lines"])] == [("L1", "work"), ("L2", "taken off")]
    assert book["Checks"]["A4"].value == "Every sum agrees." and book["Checks"]["C7"].value == 100


@pytest.mark.django_db
@pytest.mark.parametrize("figure", ["likely_minor", "agreed_minor", "currency_minor"])
def test_a_figure_that_its_rows_do_not_bear_out_is_told(lead: User, figure: str):
    project = busy.build(lead)
    line = LineItem.objects.get(project=project, code="007")
    LineItem.objects.filter(pk=line.pk).update(**{figure: getattr(line, figure) + 1})
    sheet = read(project)["Checks"]
    said = {row[1].value for row in sheet.iter_rows() if row[5].value == "differs"}
    wrong = figure == "agreed_minor"
    # What was agreed rests on no other sheet, so the lines and the total of Money move together.
    assert (sheet["A4"].value == "Every sum agrees.") == wrong and bool(said) != wrong


# --- How it is written ----------------------------------------------------------------------------------------------


@pytest.mark.django_db
def test_no_text_is_a_formula(lead: User):
    project = busy.build(lead)
    book = read(project, values=False)
    lines, bills = table(book["Lines"]), table(book["Invoices"])
    assert {row["Code"] for row in lines} >= {"=1+1", "007", "L*"}
    assert busy.HOSTILE in {row["Vendor"] for row in bills}
    for sheet, letter in (("Lines", "B"), ("Invoices", "C"), ("Payments", "K")):
        kinds = {cell.data_type for cell in book[sheet][letter][4:] if cell.value}
        assert kinds == {"s"}, sheet


@pytest.mark.django_db
@pytest.mark.parametrize("text", ["=1+1", "a\x07b", "a\rb\nc", "<&>\"'", "_x0041_", "\U0001f600", " space ", "￾?"])
def test_texts_come_back_as_they_were(lead: User, text: str):
    project = builders.project(lead)
    line = builders.line(project, "L1")
    LineItem.objects.filter(pk=line.pk).update(description=text)
    assert table(read(project)["Lines"])[0]["What"].replace("_x000D_", "\r") == openpyxl_reads(text)


def openpyxl_reads(text: str) -> str:
    """That library leaves marks for odd characters as they are written."""
    return text.replace("\x07", "_x0007_").replace("_x0041_", "_x005F_x0041_").replace("￾", "_xFFFE_")


@pytest.mark.django_db
def test_amounts_are_numbers_in_the_format_of_their_currency(lead: User):
    book = read(busy.build(lead, currency="KWD"))
    lines, bills = book["Lines"], book["Invoices"]
    money = next(cell for cell in lines[5] if cell.column_letter == "I")
    assert isinstance(money.value, int | float) and "0.000" in money.number_format and "KWD" in money.number_format
    foreign = next(row for row in bills.iter_rows(min_row=5) if row[1].value == "M1")
    assert "€" in foreign[10].number_format and "0.00;" in foreign[10].number_format
    assert book["Movements"]["B5"].is_date


@pytest.mark.django_db
def test_panes_stay_and_pages_print_with_their_headings(lead: User):
    book = read(busy.build(lead))
    for sheet in (book[name] for name in SHEETS[1:-1]):
        assert sheet.freeze_panes and sheet.print_title_rows == "$4:$4", sheet.title
        assert sheet.page_setup.orientation == "landscape" and sheet.page_setup.fitToHeight == 0
        assert sheet.auto_filter.ref


@pytest.mark.django_db
def test_every_formula_bears_its_value_and_names_what_exists(lead: User):
    data = whole.as_workbook(busy.build(lead), on=TODAY)
    names = set(openpyxl.load_workbook(io.BytesIO(data)).defined_names)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        parts = [archive.read(name).decode() for name in archive.namelist() if name.startswith("xl/worksheets/sheet")]
    formulas = [found for part in parts for found in re.findall(r"<f>(.*?)</f>(<v>)?", part)]
    used = {
        name for said, _value in formulas for name in re.findall(r"\b[a-z]+_[a-z_]+\b", re.sub('"[^"]*"', "", said))
    }
    assert formulas and all(value for _said, value in formulas) and used <= names and used


@pytest.mark.django_db
def test_the_same_project_gives_the_same_bytes(lead: User):
    project = busy.build(lead)
    assert whole.as_workbook(project, on=TODAY) == whole.as_workbook(project, on=TODAY)


@pytest.mark.django_db
def test_it_is_read_anew_when_somebody_writes_meanwhile(lead: User, monkeypatch: pytest.MonkeyPatch):
    project, times = builders.project(lead), []
    written = whole._written

    def disturbed(*args: Any) -> bytes:
        times.append(1)
        if len(times) == 1:
            trail.note(project, by=lead, at=NOW, verb="added", subject="line", subject_id=1, summary="something")
        return written(*args)

    monkeypatch.setattr(whole, "_written", disturbed)
    whole.as_workbook(project, on=TODAY)
    assert len(times) == 2


@pytest.mark.django_db
def test_questions_to_the_database_do_not_grow(lead: User, django_assert_max_num_queries: Any):
    project = busy.build(lead)
    line = LineItem.objects.get(project=project, code="007")
    for number in range(5):
        builders.approved(line, 10 + number, number=f"N{number}", vendor=f"Vendor {number}")
        builders.line(project, f"N{number}")
    with django_assert_max_num_queries(52):
        whole.as_workbook(project, on=TODAY)


@pytest.mark.django_db
def test_another_project_is_not_in_it(lead: User):
    busy.build(lead)
    other = builders.project(lead, name="Elsewhere")
    book = read(other)
    assert Vendor.objects.exists() and not table(book["Invoices"]) and not table(book["Movements"])
    assert list(rows.invoices(other)) == []


# --- The pieces -----------------------------------------------------------------------------------------------------


@given(st.integers(-(10**15), 10**15), st.integers(0, 4))
def test_a_decimal_reads_back_exactly(minor: int, digits: int):
    from decimal import Decimal

    assert Decimal(cells.decimal(minor, digits)).scaleb(digits) == minor


@given(st.integers(0, 16_383))
def test_letters_are_those_of_another_library(column: int):
    """Source: openpyxl as an independent oracle."""
    assert cells.letters(column) == openpyxl.utils.get_column_letter(column + 1)


@given(st.dates())
def test_days_are_those_of_another_library(on: Any):
    """Source: openpyxl as an independent oracle, from 1 March 1900 on, where spreadsheets agree."""
    from datetime import date

    if on > date(1900, 3, 1):
        assert cells.day_number(on) == openpyxl.utils.datetime.to_excel(on)


@given(st.text())
def test_a_text_is_whole_xml(text: str):
    from xml.etree import ElementTree

    node = ElementTree.fromstring(cells.words("A1", 1, text + "."))  # noqa: S314 - our own
    assert node[0][0].text


@pytest.mark.parametrize(
    ("currency", "locale", "code"),
    [
        ("EUR", "de-DE", '#,##0.00[$\u00a0€];"−"#,##0.00[$\u00a0€]'),
        ("USD", "en-US", '[$$]#,##0.00;"−"[$$]#,##0.00'),
        ("KWD", "en-GB", '[$KWD\u00a0]#,##0.000;"−"[$KWD\u00a0]#,##0.000'),
    ],
)
def test_the_sign_stands_where_the_locale_puts_it(currency: str, locale: str, code: str):
    """Source: Unicode CLDR; the codes from memory."""
    assert looks.amount_format(currency, locale) == code


@pytest.mark.parametrize("words", [Cause, Change.State, LABELS, plan.counts_words(), plan.savings_words()])
def test_words_that_formulas_compare_with_are_taken_as_they_are(words: Any):
    """A spreadsheet reads * ? ~ as patterns and a leading < > = as a comparison, and takes no note of capitals."""
    told = [str(word) for word in (words.values() if isinstance(words, dict) else words.labels)]
    assert not [word for word in told if re.search(r"[*?~]|^[<>=]", word)]
    assert len({word.casefold() for word in told}) == len(told)


# --- Who may have it ------------------------------------------------------------------------------------------------


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("who", "status"), [("lead", 200), ("owner", 200), ("bookkeeper", 200), ("viewer", 403), ("outsider", 404)]
)
def test_who_may_take_it_along(request: Any, project: Project, who: str, status: int):
    answer = signed_in(request.getfixturevalue(who)).get(reverse("exchange:live", kwargs={"slug": project.slug}))
    assert answer.status_code == status
    if status == 200:
        assert answer["Content-Disposition"] == f'attachment; filename="{project.slug}-money-2027-01-29.xlsx"'
        assert answer["Cache-Control"] == "private, no-store" and answer.content.startswith(b"PK")


@pytest.mark.django_db
@pytest.mark.parametrize(("who", "offered"), [("lead", True), ("owner", True), ("bookkeeper", True), ("viewer", False)])
def test_the_button_is_there_for_those_who_may(request: Any, project: Project, who: str, offered: bool):
    builders.line(project, "L1")
    client, href = signed_in(request.getfixturevalue(who)), reverse("exchange:live", kwargs={"slug": project.slug})
    for page in ("money/", "project/exchange/"):
        assert (f'href="{href}"' in client.get(f"/p/{project.slug}/{page}").content.decode()) == offered, page


def test_the_address_takes_no_form(project: Project, lead: User):
    assert signed_in(lead).post(reverse("exchange:live", kwargs={"slug": project.slug})).status_code == 405
