"""Sheets brought in and taken back. A line or quote that came by a sheet is the same as one that was entered by hand."""

from datetime import date
from typing import Any

import pytest

from budget.calc.sheets.grid import Grid
from budget.calc.sheets.preview import Choices
from budget.models import ImportBatch, LineItem, Movement, OriginalQuote, Quote, QuoteItem, QuoteLine, Trade, Vendor
from budget.selectors import imports as seen_by
from budget.services import agreements, imports, ledger, lines, quotes
from decisions.services import drafts
from projects.faults import Refused
from projects.models import Project, Role, TrailEntry, User
from tests import builders
from tests.builders import NOW, TODAY

# fmt: off
LINES = [["Trade code", "Trade name", "Code", "Description", "Kind", "Unit", "Quantity", "First budget"],
         ["X1", "Hall floor", "L1", "Slab", "work", "m3", "38.5", 58700.0],
         ["X2", "Viewing windows", "L2", "Panels", "allowance", "", "", 96500.25]]
QUOTES = [["Vendor", "Line code", "Amount", "Date", "Valid until", "Lead time", "Reference"],
          ["Aridlow", "L1", 57200.0, "2027-01-04", "2027-02-28", "2 weeks", "Q1"],
          ["Aridlow", "L2", 90000.5, "2027-01-04", "2027-02-28", "2 weeks", "Q1"],
          ["Norrowby", "L1", 61900.0, "2027-01-05", "", "", ""]]
# fmt: on


def start(project: Project, kind: str, rows: list[list[Any]]) -> ImportBatch:
    by = builders.lead_of(project)
    return imports.start(
        project, kind, Grid(rows), file_name="C:\\x\\sheet.csv", sha256="0" * 64, about={}, by=by, now=NOW
    )


def bring_in(project: Project, kind: str, rows: list[list[Any]], **choices: Any) -> ImportBatch:
    batch = start(project, kind, rows)
    if choices:
        imports.choose(batch, Choices(**choices))
    imports.bring_in(batch, by=builders.lead_of(project), now=NOW, today=TODAY)
    return ImportBatch.objects.get(pk=batch.pk)


def take_back(batch: ImportBatch) -> int:
    return imports.take_back(batch, by=builders.lead_of(batch.project), now=NOW, today=TODAY)


@pytest.fixture
def with_lines(project: Project) -> ImportBatch:
    return bring_in(project, "lines", LINES)


@pytest.fixture
def with_quotes(project: Project, with_lines: ImportBatch) -> ImportBatch:
    return bring_in(project, "quotes", QUOTES)


def columns(row: Any, *left_out: str) -> dict[str, Any]:
    skip = {"id", "import_batch", *left_out}
    return {field.name: getattr(row, field.attname) for field in row._meta.concrete_fields if field.name not in skip}


def test_a_line_of_a_sheet_is_the_line_one_would_have_entered(project: Project, with_lines: ImportBatch):
    came = LineItem.objects.get(project=project, code="L2")
    draft = lines.LineDraft("X2", "L3", "Panels", 9650025, "allowance", "", None)
    entered = lines.add_line(project, draft, by=builders.lead_of(project), now=NOW, today=TODAY)
    entered.refresh_from_db()
    assert columns(came, "code", "position") == columns(entered, "code", "position")
    assert (came.position, entered.position) == (2, 3)


def test_a_quote_of_a_sheet_is_the_quote_one_would_have_logged(project: Project, lead: User):
    for prefix in ("L", "M"):  # the same two lines twice, one pair for each way
        bring_in(project, "lines", [LINES[0], *([t, n, c.replace("L", prefix), *rest] for t, n, c, *rest in LINES[1:])])
    bring_in(project, "quotes", QUOTES)
    by_hand = {line.code: line.pk for line in LineItem.objects.filter(project=project)}
    terms = {
        "vendor": "Aridlow",
        "currency": "GBP",
        "quoted_on": date(2027, 1, 4),
        "valid_until": date(2027, 2, 28),
        "lead_days": 14,
        "reference": "Q1",
    }
    rows = (quotes.QuotedLine(by_hand["M1"], 5720000), quotes.QuotedLine(by_hand["M2"], 9000050))
    logged = quotes.log_quote(project, quotes.QuoteDraft(**terms, lines=rows), by=lead, now=NOW, today=TODAY)
    came = Quote.objects.get(project=project, vendor=logged.vendor, import_batch__isnull=False)
    logged.refresh_from_db()
    assert columns(came) == columns(logged)
    for model in (QuoteItem, QuoteLine):
        pairs = [
            [columns(row, "quote", "line") for row in model.objects.filter(quote=quote).order_by("pk")]
            for quote in (came, logged)
        ]
        assert pairs[0][1:] == pairs[1][1:]  # the second line has no rival quote in either way


def test_what_is_brought_in_moves_the_likely_finals_and_reconciles(project: Project, with_quotes: ImportBatch):
    by_code = {line.code: line for line in LineItem.objects.filter(project=project)}
    assert (by_code["L1"].likely_minor, by_code["L2"].likely_minor) == (5720000, 9000050)
    assert (by_code["L1"].original_minor, by_code["L2"].original_minor) == (5720000, 9000050)
    assert ledger.unreconciled(project) == []
    assert {m.source for m in Movement.objects.filter(project=project)} == {"import"}


def test_each_step_leaves_a_trail(project: Project, with_lines: ImportBatch):
    take_back(with_lines)
    rows = TrailEntry.objects.filter(project=project, subject="import").order_by("pk")
    assert [(row.verb, row.subject_id) for row in rows] == [("brought in", with_lines.pk), ("took back", with_lines.pk)]
    assert with_lines.file_name == "sheet.csv" and with_lines.row_count == 2


def test_a_sheet_with_a_trouble_brings_nothing_in(project: Project):
    with pytest.raises(Refused, match="1 trouble is left"):
        bring_in(project, "lines", [*LINES, ["X2", "Viewing windows", "L2", "Again", "", "", "", 1.0]])
    assert (
        not LineItem.objects.filter(project=project).exists()
        and not Trade.objects.filter(project=project, code="X1").exists()
    )
    assert (
        bring_in(
            project, "lines", [*LINES, ["X2", "Viewing windows", "L2", "Again", "", "", "", 1.0]], out=frozenset({4})
        ).row_count
        == 2
    )


def test_a_sheet_is_read_anew_when_it_is_brought_in(project: Project):
    batch = start(project, "lines", LINES)
    assert seen_by.preview(batch, today=TODAY).ready
    builders.line(project, "L1")
    with pytest.raises(Refused, match="trouble"):
        imports.bring_in(batch, by=builders.lead_of(project), now=NOW, today=TODAY)


def test_a_sheet_comes_in_once(project: Project, with_lines: ImportBatch):
    by = builders.lead_of(project)
    for again in (
        lambda: imports.bring_in(with_lines, by=by, now=NOW, today=TODAY),
        lambda: imports.choose(with_lines, Choices()),
        lambda: imports.discard(with_lines),
    ):
        with pytest.raises(Refused, match="already"):
            again()
    assert LineItem.objects.filter(project=project).count() == 2


def test_a_preview_may_be_thrown_away(project: Project):
    imports.discard(start(project, "lines", LINES))
    assert not ImportBatch.objects.filter(project=project).exists()


def test_lines_are_taken_back_whole_and_their_codes_are_free(project: Project, with_lines: ImportBatch):
    assert take_back(with_lines) == 2
    assert not LineItem.objects.filter(project=project, removed_on=None).exists() and ledger.unreconciled(project) == []
    assert bring_in(project, "lines", LINES).row_count == 2


def test_quotes_are_taken_back_whole_and_leave_no_original_behind(project: Project, with_quotes: ImportBatch):
    assert take_back(with_quotes) == 2
    for line in LineItem.objects.filter(project=project):
        assert (line.likely_minor, line.original_minor, line.state) == (line.budget_minor, None, "unquoted")
    assert ledger.unreconciled(project) == [] and OriginalQuote.objects.last().quote is None
    with pytest.raises(Refused, match="nothing to take back"):
        take_back(with_quotes)


def test_another_quote_becomes_the_original_when_the_sheet_is_taken_back(project: Project, with_quotes: ImportBatch):
    line = LineItem.objects.get(project=project, code="L1")
    builders.quote(line, 60_000, vendor="Third")
    take_back(with_quotes)
    line.refresh_from_db()
    assert line.original_minor == 6000000


def test_lines_stay_while_quotes_rest_on_them_and_go_when_those_are_gone(project: Project, with_lines: ImportBatch):
    later = bring_in(project, "quotes", QUOTES)
    with pytest.raises(Refused, match="Aridlow"):
        take_back(with_lines)
    take_back(later)
    assert take_back(with_lines) == 2


def rests_an_estimate(line: LineItem) -> None:
    lines.estimate(line, amount_minor=1, basis="guess", by=None, now=NOW, on=TODAY, today=TODAY)


def rests_a_forecast(line: LineItem) -> None:
    lines.forecast_own(line, amount_minor=1, reason="guess", by=None, now=NOW, today=TODAY)


def rests_a_scope_list(line: LineItem) -> None:
    lines.set_scope(line, [("Grout", 1)], by=None, now=NOW, today=TODAY)


def rests_a_decision(line: LineItem) -> None:
    builders.decision(line)


@pytest.mark.parametrize("rest", [rests_an_estimate, rests_a_forecast, rests_a_scope_list, rests_a_decision])
def test_lines_stay_while_anything_rests_on_them(project: Project, with_lines: ImportBatch, rest: Any):
    rest(LineItem.objects.select_related("project").get(project=project, code="L1"))
    with pytest.raises(Refused, match="rests on it since"):
        take_back(with_lines)
    assert LineItem.objects.filter(project=project, removed_on=None).count() == 2


def test_quotes_stay_once_one_is_accepted_until_that_is_taken_back(
    project: Project, owner: User, with_quotes: ImportBatch
):
    quote = Quote.objects.get(project=project, reference="Q1")
    made = agreements.accept_quote(quote, by=owner, role=Role.OWNER, now=NOW, today=TODAY)
    with pytest.raises(Refused, match=r"Aridlow .* \(accepted\)"):
        take_back(with_quotes)
    agreements.reverse_agreement(made, reason="slip", by=owner, now=NOW, today=TODAY)
    assert take_back(with_quotes) == 2


def test_quotes_stay_while_an_option_rests_on_them(project: Project, lead: User, with_quotes: ImportBatch):
    line = LineItem.objects.get(project=project, code="L1")
    decision = builders.decision(line, options=())
    item = drafts.ItemDraft(line.pk, name="as quoted", quote_id=Quote.objects.get(project=project, reference="Q1").pk)
    drafts.add_option(decision, drafts.OptionDraft(name="Aridlow", items=(item,)), by=lead, now=NOW)
    with pytest.raises(Refused, match="cost item"):
        take_back(with_quotes)


def test_one_vendor_written_three_ways_is_one(project: Project, with_lines: ImportBatch):
    names = ("Aridlow Brothers", "ARIDLOW BROTHERS", " aridlow   brothers ")
    rows = [[name, "L1", 5.0, "2027-01-04", "", "", str(number)] for number, name in enumerate(names)]
    bring_in(project, "quotes", [QUOTES[0], *rows])
    assert [vendor.name for vendor in Vendor.objects.filter(project=project)] == ["Aridlow Brothers"]


def test_another_projects_lines_are_not_known(project: Project, outsider: User):
    builders.line(builders.project(outsider, name="Other"), "L1")
    seen = seen_by.preview(start(project, "quotes", QUOTES[:2]), today=TODAY)
    assert {trouble.kind for trouble in seen.troubles} == {"unknown line"}


def test_a_preview_asks_the_same_number_of_questions_whatever_its_size(
    project: Project, django_assert_num_queries: Any
):
    small, large = (
        start(project, "lines", LINES),
        start(project, "lines", [LINES[0], *(["T01", "C", f"L{n}", f"W{n}", "", "", "", 1.0] for n in range(500))]),
    )
    for batch in (small, large):
        with django_assert_num_queries(2):
            seen_by.preview(batch, today=TODAY)
