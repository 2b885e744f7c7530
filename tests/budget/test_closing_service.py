"""Closing a line and opening it again: the final account, and what keeps a line from it. Sums are worked by hand."""

from datetime import timedelta

import pytest

from budget.models import Change, Invoice, InvoiceLine, LineItem, Movement, Vendor
from budget.selectors import closing as reads
from budget.services import agreements, closing, ledger, lines
from projects.faults import Refused, Stale
from projects.models import Project, Role, TrailEntry, User
from tests import builders
from tests.budget import reserving
from tests.budget.reserving import change, close, fresh, let, likely, who, whole
from tests.builders import NOW, TODAY


@pytest.fixture
def project(lead: User) -> Project:
    return reserving.build(lead)


def bill(line: LineItem, amount: int, *, state: str = Invoice.State.APPROVED, number: str = "1") -> Invoice:
    """An invoice as it stands; the service of invoices has its own tests."""
    vendor, _made = Vendor.objects.get_or_create(project=line.project, name=f"Vendor {line.code}")
    made = Invoice.objects.create(
        project=line.project, vendor=vendor, number=number, number_key=number, currency="GBP", rate=1, invoiced_on=TODAY,
        received_on=TODAY, state=state, entered_at=NOW,
    )  # fmt: skip
    minor = amount * 100
    InvoiceLine.objects.create(invoice=made, line=line, net_quoted_minor=minor, net_minor=minor, cost_minor=minor)
    ledger.settle(line.project, [line.pk], ledger.Deed(None, NOW, TODAY, "invoiced"))
    return made


def test_a_closed_line_has_cost_what_was_invoiced(project: Project, lead: User):
    """9,000 agreed, 8,600 billed: closing takes 400 off the likely final, with the cause invoices."""
    line = let(project)
    bill(line, 8_600)
    closed = close(line, lead)
    assert (closed.state, closed.closed_on, closed.likely_minor) == ("closed", TODAY, 860_000) and whole(project)
    last = Movement.objects.filter(line=line).latest("pk")
    assert (last.cause, last.amount_minor, last.source, last.source_id) == ("invoiced", -40_000, "line", line.pk)


def test_a_line_billed_in_full_closes_without_a_word(project: Project, lead: User):
    line = let(project)
    bill(line, 9_000)
    close(line, lead, note="")
    assert TrailEntry.objects.get(verb="closed").summary == "Closed L0101 Work L0101 at £9,000"


def test_what_was_never_billed_needs_a_word(project: Project, lead: User):
    line = let(project)
    bill(line, 8_600)
    with pytest.raises(Refused, match="not going to be billed") as fault:
        close(line, lead, note=" ")
    assert fault.value.field == "note" and fresh(line).closed_on is None


def test_the_account_tells_what_is_unbilled(project: Project):
    line = let(project)
    bill(line, 8_600)
    account = reads.account(project, fresh(line))
    assert (account.invoiced, account.unbilled, account.ready) == (860_000, 40_000, True)


@pytest.mark.parametrize("state", [Invoice.State.WAITING, Invoice.State.QUERIED])
def test_an_invoice_without_an_answer_keeps_it_open_and_is_named(project: Project, lead: User, state: str):
    line = let(project)
    bill(line, 8_600, state=state, number="A-17")
    with pytest.raises(Refused, match="still wait for an answer: Vendor L0101 A-17"):
        close(line, lead)


def test_a_refused_invoice_does_not_keep_it_open(project: Project, lead: User):
    line = let(project)
    bill(line, 8_600, state=Invoice.State.REFUSED)
    assert close(line, lead).likely_minor == 0


def test_a_proposed_change_keeps_it_open_and_is_named(project: Project, lead: User):
    line = let(project)
    change(line, 100, state=Change.State.PROPOSED)
    with pytest.raises(Refused, match="still proposed: C01 Timber in the dig"):
        close(line, lead)


def test_an_invoice_on_another_line_is_none_of_its_business(project: Project, lead: User):
    bill(let(project, "L0102"), 100, state=Invoice.State.QUERIED)
    close(let(project), lead)


def test_a_second_closing_is_refused(project: Project, lead: User):
    line = let(project)
    close(line, lead)
    with pytest.raises(Refused, match="closed already"):
        close(line, lead)


def test_money_set_aside_is_not_closed(project: Project, lead: User):
    with pytest.raises(Refused, match="not closed; move what is left"):
        close(reserving.pot(project), lead)


def test_tomorrow_is_no_day_to_close_on(project: Project, lead: User):
    with pytest.raises(Refused, match="out of range"):
        close(let(project), lead, on=TODAY + timedelta(days=1))


def test_somebody_elses_edit_is_seen_first(project: Project, lead: User):
    line = let(project)
    facts = {"description": "Dig", "unit": "", "quantity": None, "plug_rule": "median"}
    lines.edit_line(line, version=line.version, **facts, **who(lead))
    with pytest.raises(Stale):
        close(line, lead, version=line.version)


def test_a_line_that_was_taken_off_is_not_closed(project: Project, lead: User):
    line = builders.line(project)
    lines.take_off(project, [line], deed=ledger.Deed(lead, NOW, TODAY, "scope"))
    with pytest.raises(Refused, match="taken off the budget"):
        close(line, lead)


def test_an_own_forecast_does_not_outlive_the_final_account(project: Project, lead: User):
    line = let(project)
    lines.forecast_own(line, amount_minor=1, reason="felt", **who(lead))
    bill(line, 9_000)
    assert close(line, lead).likely_minor == 900_000


def test_nothing_further_is_let_on_a_closed_line(project: Project, lead: User):
    line = close(builders.line(project), lead)
    with pytest.raises(Refused, match="is closed; open it again"):
        agreements.accept_quote(builders.quote(line, 500), role=Role.OWNER, **who(lead))


def reopen(line: LineItem, by: User, reason: str = "a late bill") -> LineItem:
    return closing.reopen_line(line, reason=reason, **who(by))


def test_a_line_opened_again_stands_as_before(project: Project, lead: User):
    line = let(project)
    bill(line, 8_600)
    close(line, lead)
    reopened = reopen(line, lead)
    assert (reopened.state, reopened.closed_on, likely(line)) == ("invoiced", None, 9_000) and whole(project)
    assert sum(Movement.objects.filter(line=line, cause="invoiced").values_list("amount_minor", flat=True)) == 0


def test_an_open_line_is_not_opened_and_a_closed_one_not_without_a_reason(project: Project, lead: User):
    line = let(project)
    with pytest.raises(Refused, match="is open"):
        reopen(line, lead)
    close(line, lead)
    with pytest.raises(Refused, match="Say why"):
        reopen(line, lead, reason="")
