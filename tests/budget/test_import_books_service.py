"""A practitioner's own sheet brought in and taken back: whole or not at all, and every figure traced to its cell."""

import csv
import io
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from budget.calc.sheets.book import Book
from budget.calc.sheets.grid import Grid
from budget.calc.sheets.preview import Choices
from budget.models import ImportBatch, LineItem, Movement, OriginalQuote, Quote, QuoteItem, SheetRow, Trade, Vendor
from budget.selectors import imports as seen_by
from budget.services import agreements, imports, ledger, lines
from projects.faults import Refused
from projects.models import Project, Role, TrailEntry, User
from projects.services import rates
from reports.exchange import dumping, loading
from tests import builders
from tests.builders import NOW, TODAY

DEMO = Path(__file__).resolve().parents[2] / "reports" / "demo" / "skerrywick.json"
MESSY = json.loads(DEMO.read_text("utf-8"))["messy_sheet_example"]
ROWS: list[list[Any]] = list(csv.reader(io.StringIO(MESSY["text"])))
ANSWERS = {
    "vendor:3": "=Aridlow", "vendor:3:tank": "=Brunnhalde Becken", "vendor:4": "=Norrowby", "rate:EUR": "=0.86", "rate:USD": "=0.79",
}  # fmt: skip


def start(project: Project, rows: list[list[Any]] = ROWS) -> ImportBatch:
    by = builders.lead_of(project)
    return imports.start(
        project, "workbook", Grid(rows), file_name="budget-v7.csv", sha256="0" * 64, about={}, by=by, now=NOW
    )


def seen(batch: ImportBatch) -> Book:
    return seen_by.preview(batch, today=TODAY)


def answer(batch: ImportBatch, **more: str) -> None:
    """Answer what has an answer of its own, and leave everything else as it is suggested."""
    for _round in range(2):  # a rate is asked once its amount is known
        suggested = {question.key: question.default for question in seen(batch).questions if question.default}
        batch = imports.choose(batch, Choices(answers=suggested | ANSWERS | more))


def bring_in(project: Project, rows: list[list[Any]] = ROWS, **more: str) -> ImportBatch:
    batch = start(project, rows)
    answer(batch, **more)
    batch.refresh_from_db()
    imports.bring_in(batch, by=builders.lead_of(project), now=NOW, today=TODAY)
    return ImportBatch.objects.get(pk=batch.pk)


def take_back(batch: ImportBatch) -> int:
    return imports.take_back(batch, by=builders.lead_of(batch.project), now=NOW, today=TODAY)


@pytest.fixture
def bare(project: Project) -> Project:
    """A project without the trades that a new one starts with."""
    Trade.objects.filter(project=project).delete()
    return project


@pytest.fixture
def brought(bare: Project) -> ImportBatch:
    return bring_in(bare)


def line_at(batch: ImportBatch, row: int) -> LineItem:
    return SheetRow.objects.select_related("line__trade").get(batch=batch, row=row).line


def test_the_messy_sheet_comes_in_with_its_budgets(bare: Project, brought: ImportBatch):
    rows = LineItem.objects.filter(project=bare)
    assert rows.count() == MESSY["expected"]["data_rows"] == brought.row_count
    assert sum(line.budget_minor for line in rows) == MESSY["expected"]["sum_of_budget_without_duplicate"] * 100
    assert [line_at(brought, row).trade.name for row in (5, 10, 13)] == ["Groundworks", "CONCRETE", "Tank"]
    assert ledger.unreconciled(bare) == []


def test_every_price_is_a_quote_of_its_own_in_its_own_currency(bare: Project, brought: ImportBatch):
    shell = Quote.objects.get(import_batch=brought, items__line=line_at(brought, 12), currency="EUR")
    assert (shell.vendor.name, shell.rate, shell.items.get().amount_quoted_minor) == (
        "Brunnhalde Becken",
        Decimal("0.86"),
        15840000,
    )
    panels = Quote.objects.get(import_batch=brought, items__line=line_at(brought, 13), currency="USD")
    assert (panels.rate, panels.lines.get().levelled_minor) == (Decimal("0.79"), 11800000 * 79 // 100)
    assert str(panels.quoted_on) == "2027-01-29" and "$118,000" in panels.note
    assert (
        Quote.objects.filter(import_batch=brought).count()
        == QuoteItem.objects.filter(quote__import_batch=brought).count()
        == 15
    )
    assert sorted(Vendor.objects.values_list("name", flat=True)) == ["Aridlow", "Brunnhalde Becken", "Norrowby"]


def test_the_likely_finals_follow_the_quotes(bare: Project, brought: ImportBatch):
    slab = line_at(brought, 9)
    assert (slab.likely_minor, slab.original_minor, slab.state) == (5720000, 5720000, "quoted")
    credit = line_at(brought, 11)
    assert (credit.budget_minor, credit.likely_minor, credit.state) == (0, 0, "unquoted")
    assert {row.cause for row in Movement.objects.filter(project=bare)} == {"quoted"}


def test_what_was_read_is_traced_to_the_words_of_its_cell(brought: ImportBatch):
    kept = SheetRow.objects.get(batch=brought, row=6)
    assert ["Budget", "18.9k", 1890000, "GBP"] in kept.cells
    assert ["Paid to date", "22,550", 2255000, "GBP"] in kept.cells and [
        "Notes",
        "incl extra (timber)",
        None,
        "",
    ] in kept.cells
    shown = seen_by.sheet_rows(kept.line)[0]
    assert (shown.row, shown.file_name) == (6, "budget-v7.csv")
    assert [(cell.given, cell.read_as) for cell in shown.cells if cell.heading == "Budget"] == [("18.9k", "£18,900.00")]


def test_what_was_paid_is_kept_as_text_and_counts_nowhere(brought: ImportBatch):
    assert {line.invoiced_minor for line in LineItem.objects.filter(import_batch=brought)} == {0}
    assert ["Paid to date", "600-", -60000, "GBP"] in SheetRow.objects.get(batch=brought, row=11).cells


def test_all_of_it_is_taken_back(bare: Project, brought: ImportBatch):
    assert take_back(brought) == 9
    assert not LineItem.objects.filter(project=bare, removed_on=None).exists()
    assert set(Quote.objects.filter(project=bare).values_list("state", flat=True)) == {"withdrawn"}
    assert ledger.unreconciled(bare) == []
    newest = {row.line_id: row.quote_id for row in OriginalQuote.objects.order_by("pk")}
    assert set(newest.values()) == {None}
    said = [row.summary for row in TrailEntry.objects.filter(project=bare, subject="import").order_by("pk")]
    assert said[-1] == "Took back the import of budget-v7.csv: 9 lines with their quotes"


def test_it_may_come_in_again_after_it_was_taken_back(bare: Project, brought: ImportBatch):
    take_back(brought)
    again = bring_in(bare)
    assert again.row_count == 9 and ledger.unreconciled(bare) == []


def test_nothing_is_taken_back_once_something_rests_on_it(bare: Project, owner: User, brought: ImportBatch):
    line = line_at(brought, 14)
    lines.estimate(line, amount_minor=1, basis="guess", by=None, now=NOW, on=TODAY, today=TODAY)
    with pytest.raises(Refused, match="rests on it since"):
        take_back(brought)
    assert set(Quote.objects.filter(project=bare).values_list("state", flat=True)) == {"open"}
    made = agreements.accept_quote(Quote.objects.get(items__line=line), by=owner, role=Role.OWNER, now=NOW, today=TODAY)
    with pytest.raises(Refused, match="accepted"):
        take_back(brought)
    assert made.pk and LineItem.objects.filter(project=bare, removed_on=None).count() == 9


@pytest.mark.parametrize(
    "key", ["vendor:3", "vendor:4", "date", "credit:11", "currency:12:2", "twin:15", "percent:16", "rate:USD"]
)
def test_nothing_comes_in_while_a_question_is_open(bare: Project, key: str):
    batch = start(bare)
    answer(batch)
    batch.refresh_from_db()
    choices = seen_by.choices_of(batch)
    imports.choose(batch, Choices(answers={name: value for name, value in choices.answers.items() if name != key}))
    batch.refresh_from_db()
    with pytest.raises(Refused, match="1 question is open"):
        imports.bring_in(batch, by=builders.lead_of(bare), now=NOW, today=TODAY)
    assert not any(model.objects.exists() for model in (LineItem, Quote, Vendor, SheetRow, Trade))


def test_the_projects_own_rates_are_used_where_it_has_them(bare: Project):
    rates.set_rate(
        bare, currency="USD", rate=Decimal("0.8"), rated_on=TODAY, by=builders.lead_of(bare), now=NOW, today=TODAY
    )
    batch = bring_in(bare)
    assert {quote.rate for quote in Quote.objects.filter(import_batch=batch, currency="USD")} == {Decimal("0.8")}


def test_a_percentage_that_is_answered_becomes_a_contingency(bare: Project):
    line = line_at(bring_in(bare, **{"percent:16": "=40,000"}), 16)
    assert (line.kind, line.budget_minor) == ("contingency", 4000000)


def test_lines_join_the_trades_and_codes_that_are_there(project: Project):
    builders.line(project, "T01-01", trade_code="T01")
    batch = bring_in(project)
    codes = set(LineItem.objects.filter(import_batch=batch).values_list("code", flat=True))
    assert len(codes) == 9 and "T01-01" not in codes


def test_a_project_with_such_a_sheet_moves_as_a_document(bare: Project, brought: ImportBatch):
    data = dumping.as_bytes(bare)
    again = loading.load(data, slug="again")
    assert SheetRow.objects.filter(line__project=again).count() == 9
    assert dumping.as_bytes(again).replace(b'"again"', b'"%s"' % bare.slug.encode()) == data


def test_a_preview_asks_the_same_number_of_questions_whatever_its_size(bare: Project, django_assert_num_queries: Any):
    small, large = start(bare), start(bare, [ROWS[2], *(["C", f"Work {n}", "5", "4", "", "", ""] for n in range(400))])
    for batch in (small, large):
        with django_assert_num_queries(4):
            seen(batch)


def test_an_unknown_kind_is_refused(bare: Project):
    with pytest.raises(Refused, match="a budget with its quotes"):
        imports.start(bare, "plans", Grid(ROWS), file_name="x", sha256="", about={}, by=builders.lead_of(bare), now=NOW)
