"""A sheet of invoices: read by doubt, brought in whole, and taken back whole."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from budget.calc.sheets.grid import Grid
from budget.models import Change, ImportBatch, Invoice, LineItem, Movement
from budget.selectors import imports as seen_by
from budget.services import imports, invoices, ledger
from projects.faults import Refused
from projects.models import Project, Role, User
from tests import builders
from tests.builders import NOW, TODAY, let, line

HEADINGS = ["Vendor", "Invoice no", "Date", "Line", "Net", "VAT", "Retention", "Change", "Due date"]
FIRST = ["Aridlow", "AR-1", "2027-01-15", "L0101", "4,000.00", "760", "200", "", "2027-02-14"]
BEYOND = ["Aridlow", "AR-2", "2027-01-20", "L0101", "9260", "", "", "", ""]


@pytest.fixture
def work(project: Project) -> LineItem:
    Project.objects.filter(pk=project.pk).update(tax_percent=Decimal(20))
    project.refresh_from_db()
    made = line(project)
    let(made, 9_000, retention=5)
    return LineItem.objects.get(pk=made.pk)


def start(project: Project, *rows: list[Any]) -> ImportBatch:
    grid = Grid(tuple(tuple(row) for row in [HEADINGS, *rows]))
    return imports.start(
        project, "invoices", grid, file_name="bills.csv", sha256="0" * 64, about={}, by=builders.lead_of(project), now=NOW
    )  # fmt: skip


def bring_in(project: Project, *rows: list[Any]) -> ImportBatch:
    batch = start(project, *rows)
    imports.bring_in(batch, by=builders.lead_of(project), now=NOW, today=TODAY)
    batch.refresh_from_db()
    return batch


def take_back(batch: ImportBatch) -> int:
    return imports.take_back(batch, by=builders.lead_of(batch.project), now=NOW, today=TODAY)


def troubles(project: Project, *rows: list[Any]) -> list[str]:
    return [trouble.kind for trouble in seen_by.preview(start(project, *rows), today=TODAY).troubles if trouble.stops]


def changed(row: list[Any], **cells: Any) -> list[Any]:
    places = dict(zip(("vendor", "number", "on", "line", "net", "tax", "held", "change", "due"), range(9), strict=True))
    return [cells.get(name, row[place]) for name, place in places.items()]


def test_an_invoice_of_a_sheet_is_the_one_somebody_would_have_entered(work: LineItem):
    batch = bring_in(work.project, FIRST)
    found = Invoice.objects.get()
    row = found.lines.get()
    assert (str(found), found.invoiced_on, found.due_on) == ("Aridlow AR-1", date(2027, 1, 15), date(2027, 2, 14))
    assert (row.net_quoted_minor, row.tax_quoted_minor, row.retention_quoted_minor) == (400_000, 76_000, 20_000)
    assert (found.state, found.import_batch, found.steps.get().judgement["verdict"]) == ("waiting", batch, "pay")


def test_empty_tax_and_retention_are_as_agreed_and_one_beyond_waits_for_an_answer(work: LineItem):
    bring_in(work.project, BEYOND)
    found = Invoice.objects.get()
    row = found.lines.get()
    assert (row.retention_quoted_minor, row.tax_quoted_minor) == (46_300, 175_940)
    work.refresh_from_db()
    assert (found.state, work.invoiced_minor) == ("queried", 0)


def test_the_likely_finals_follow_once_for_all(work: LineItem):
    other = line(work.project, "L0102")
    bring_in(work.project, FIRST, changed(FIRST, number="AR-5", line="L0102", net="11,000", vendor="Brisewell"))
    for made in (work, other):
        made.refresh_from_db()
    assert work.invoiced_minor == 400_000 and ledger.unreconciled(work.project) == []
    assert Movement.objects.filter(source="import").count() == 0  # nobody agreed to the second, the first fits


def test_rows_of_one_number_are_one_invoice(work: LineItem):
    other = line(work.project, "L0102")
    let(other, 2_000)
    bring_in(work.project, FIRST, changed(FIRST, number="ar 1", line="L0102", net="100", tax="20", held="0"))
    assert Invoice.objects.get().lines.count() == 2


@pytest.mark.parametrize(
    ("cells", "kind"),
    [
        ({"vendor": ""}, "no vendor"),
        ({"number": ""}, "no number"),
        ({"on": ""}, "no invoice date"),
        ({"on": "2027-01-30"}, "dated ahead"),
        ({"due": "2027-01-01"}, "due before"),
        ({"line": "L9"}, "unknown line"),
        ({"net": ""}, "no amount"),
        ({"net": "-5"}, "negative"),
        ({"net": "NaN"}, "not a number"),
        ({"net": "1.234"}, "two ways"),
        ({"tax": "20%"}, "percent"),
        ({"held": "some"}, "not a number"),
        ({"change": "C77"}, "unknown change"),
        ({"number": "9" * 100}, "too long"),
    ],
)  # fmt: skip
def test_each_slip_is_said_and_nothing_comes_in(work: LineItem, cells: dict[str, Any], kind: str):
    row = changed(FIRST, **cells)
    assert troubles(work.project, row) == [kind]
    with pytest.raises(Refused, match="trouble is left"):
        bring_in(work.project, row)
    assert Invoice.objects.count() == 0


def test_a_change_of_another_line_is_said(work: LineItem):
    other = line(work.project, "L0102")
    Change.objects.create(
        project=work.project, line=other, code="C01", title="Storm", reason="unforeseen", paid_from="line", amount_minor=1,
        chance=Decimal(1), raised_on=TODAY, raised_at=NOW,
    )  # fmt: skip
    assert troubles(work.project, changed(FIRST, change="c01")) == ["change of another line"]
    assert troubles(work.project, changed(FIRST, change="c01", line="L0102")) == []


def test_what_contradicts_itself_or_is_there_already_is_said(work: LineItem):
    assert troubles(work.project, FIRST, FIRST) == ["billed twice"]
    assert troubles(work.project, FIRST, changed(FIRST, due="")) == ["billed twice", "differs in one invoice"]
    bring_in(work.project, FIRST)
    assert troubles(work.project, changed(FIRST, number="AR/1")) == ["entered already"]


def test_it_is_taken_back_whole_and_the_numbers_are_free(work: LineItem):
    batch = bring_in(work.project, FIRST)
    assert take_back(batch) == 1
    work.refresh_from_db()
    assert (Invoice.objects.get().state, work.invoiced_minor) == ("refused", 0)
    assert ledger.unreconciled(work.project) == []
    bring_in(work.project, FIRST)


def test_one_that_somebody_has_approved_holds_the_rest(work: LineItem, owner: User):
    batch = bring_in(work.project, FIRST, changed(FIRST, number="AR-9", net="100", tax="19", held="5"))
    first = Invoice.objects.get(number="AR-1")
    invoices.approve(first, by=owner, role=Role.OWNER, now=NOW, today=TODAY)
    with pytest.raises(Refused, match="something was done about Aridlow AR-1 since"):
        take_back(batch)
    assert not Invoice.objects.filter(state="refused").exists()
