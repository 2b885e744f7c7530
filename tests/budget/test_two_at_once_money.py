"""Two people at the same invoice, change, retention or line at the same moment: nothing is lost, nothing is done twice.

Both have read the row before the gate opens, as two pages have. Whoever is first, the ledger adds up afterwards, every kept
figure is what its sources say, and an invoice is paid what its payments come to.
"""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from budget.models import (
    Agreement,
    Change,
    ChangeStep,
    Invoice,
    InvoiceStep,
    LineItem,
    Movement,
    Payment,
    RetentionRelease,
    Transfer,
)
from budget.services import changes, closing, invoices, payments, rates, retention
from projects.models import ExchangeRate, Project, Role, TrailEntry, User
from tests import builders
from tests.budget import reserving
from tests.budget.reserving import fresh, likely, who
from tests.budget.test_two_at_once import as_when_it_runs, at_once  # noqa: F401  (the first is a fixture for all)
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db(transaction=True)

Deed = Callable[[], Any]


@pytest.fixture
def line(project: Project, lead: User) -> LineItem:
    """Let at 9,000 of a budget of 10,000, with 5 % held."""
    found = builders.line(project)
    builders.let(found, 9_000, retention=5)
    return found


def whole(project: Project) -> bool:
    """Every total is its parts, and every invoice is paid what its payments come to, never beyond what is payable."""
    paid = all(
        invoice.paid_quoted_minor == sum(row.amount_quoted_minor for row in invoice.payments.all())
        and abs(invoice.paid_quoted_minor) <= abs(invoice.payable_quoted_minor)
        for invoice in Invoice.objects.filter(project=project)
    )
    return paid and reserving.whole(project)


def done_to(subject: str) -> list[str]:
    """What the trail says was done, in order."""
    return list(TrailEntry.objects.filter(subject=subject).order_by("pk").values_list("verb", flat=True))


# --- payments -------------------------------------------------------------------------------------------------------


def pay(invoice: Invoice, by: User, major: int | None = None) -> Deed:
    amount = None if major is None else major * 100
    return lambda: payments.pay(invoice, amount_quoted_minor=amount, paid_on=TODAY, **who(by))


def test_an_invoice_is_paid_in_full_once(line: LineItem, lead: User) -> None:
    invoice = builders.approved(line, 4_000, retention=200)
    done, told = at_once(pay(invoice, lead), pay(invoice, lead))
    assert len(done) == 1 and told == ["It is paid in full."]
    assert Payment.objects.get().amount_quoted_minor == 3_800_00 and done_to("payment") == ["paid"]
    assert whole(line.project)


def test_two_parts_are_never_more_than_the_whole(line: LineItem, lead: User) -> None:
    invoice = builders.approved(line, 4_000, retention=200)
    done, told = at_once(pay(invoice, lead, 2_000), pay(invoice, lead, 2_500))
    assert len(done) == 1 and "is open on it" in told[0] and whole(line.project)


def test_two_parts_that_fit_are_both_paid(line: LineItem, lead: User) -> None:
    invoice = builders.approved(line, 4_000, retention=200)
    done, told = at_once(pay(invoice, lead, 1_800), pay(invoice, lead, 2_000))
    invoice.refresh_from_db()
    assert (len(done), told, invoice.paid_quoted_minor, invoice.version) == (2, [], 3_800_00, 4)
    assert whole(line.project)


def test_a_payment_is_taken_back_once(line: LineItem, lead: User) -> None:
    invoice = builders.approved(line, 4_000, retention=200)
    row = pay(invoice, lead)()
    done, told = at_once(*[lambda: payments.take_back(row, "slip", **who(lead))] * 2)
    assert len(done) == 1 and told == ["This payment was taken back already."]
    assert sum(Payment.objects.values_list("amount_quoted_minor", flat=True)) == 0 and whole(line.project)


def test_a_payment_and_a_query_are_one_of_the_two(line: LineItem, lead: User) -> None:
    invoice = builders.approved(line, 4_000, retention=200)
    done, told = at_once(pay(invoice, lead), lambda: invoices.query(invoice, "wrong rate", **who(lead)))
    invoice.refresh_from_db()
    assert len(done) == len(told) == 1
    assert (invoice.state == Invoice.State.QUERIED) == (not Payment.objects.exists()) and whole(line.project)


# --- entering -------------------------------------------------------------------------------------------------------


def enter(line: LineItem, by: User, number: str, net: int = 4_000, **told: Any) -> Deed:
    draft = builders.invoice_draft(line, net, number=number, retention=net // 20, **told)
    return lambda: invoices.enter_invoice(line.project, draft, **who(by))


def test_one_number_is_entered_once_however_it_is_written(line: LineItem, lead: User) -> None:
    done, told = at_once(enter(line, lead, "AR-17"), enter(line, lead, "ar 17"))
    assert len(done) == Invoice.objects.count() == 1 and "has sent" in told[0] and "already" in told[0]
    assert fresh(line).invoiced_minor == 4_000_00 and done_to("invoice") == ["entered"] and whole(line.project)


def test_two_numbers_are_two_invoices_and_one_new_vendor(project: Project, lead: User) -> None:
    work = builders.line(project, "L0202")
    done, told = at_once(*(enter(work, lead, number, vendor="Newcomer") for number in ("N-1", "N-2")))
    assert (len(done), told, Invoice.objects.count()) == (2, [], 2)
    assert project.vendors.filter(name="Newcomer").count() == 1 and whole(project)


def test_a_number_that_is_free_again_is_used_once(line: LineItem, lead: User) -> None:
    """One takes the refused invoice up again while another enters its number anew."""
    refused = invoices.refuse(enter(line, lead, "AR-17")(), "not ours", **who(lead))
    done, told = at_once(
        lambda: invoices.take_up(refused, "ours after all", **who(lead)), enter(line, lead, "AR-17", 3_000)
    )
    counted = Invoice.objects.exclude(state=Invoice.State.REFUSED)
    assert len(done) == 1 and "already" in told[0] and counted.count() == 1 and whole(line.project)


def test_the_second_of_two_invoices_sees_the_first(line: LineItem, lead: User) -> None:
    """Each alone is within the agreement; together they pass it, and whichever came second is asked about."""
    done, told = at_once(enter(line, lead, "AR-1", 6_000), enter(line, lead, "AR-2", 5_000))
    states = sorted(Invoice.objects.values_list("state", flat=True))
    assert (len(done), told, states) == (2, [], ["queried", "waiting"]) and whole(line.project)


def test_a_line_is_closed_or_billed(line: LineItem, lead: User) -> None:
    def shut() -> LineItem:
        return closing.close_line(fresh(line), note="agreed on site", **who(lead))

    done, told = at_once(shut, enter(line, lead, "AR-17"))
    closed, invoice = fresh(line).closed_on is not None, Invoice.objects.get()
    assert (invoice.state, told == []) == (("queried", True) if closed else ("waiting", False))
    assert len(done) + len(told) == 2 and fresh(line).likely_minor == (0 if closed else 9_000_00)
    assert whole(line.project)


def test_a_rate_of_today_and_an_invoice_in_that_currency_both_count(project: Project, lead: User) -> None:
    """10,000 EUR agreed at 0.86, 4,000 billed at 0.88; the rest goes at 0.9: 3,520 and 5,400, in either order."""
    abroad = builders.line(project, "L0303")
    builders.let(abroad, 10_000, currency="EUR", rate=Decimal("0.86"))
    facts = {"currency": "EUR", "rate": Decimal("0.9"), "rated_on": TODAY}
    bill = enter(abroad, lead, "AR-17", currency="EUR", rate=Decimal("0.88"))
    done, told = at_once(lambda: rates.set_today(project, **facts, **who(lead)), bill)
    kept = fresh(abroad)
    assert (len(done), told) == (2, []) and ExchangeRate.objects.filter(purpose="today").count() == 1
    assert (kept.invoiced_minor, kept.likely_minor, kept.currency_minor) == (3_520_00, 8_920_00, 320_00)
    assert whole(project)


# --- deciding -------------------------------------------------------------------------------------------------------


def approve(invoice: Invoice, by: User) -> Deed:
    return lambda: invoices.approve(invoice, role=Role.OWNER, version=invoice.version, **who(by))


def test_an_invoice_is_approved_once(line: LineItem, lead: User) -> None:
    invoice = enter(line, lead, "AR-17")()
    done, told = at_once(*[lambda: invoices.approve(invoice, role=Role.OWNER, **who(lead))] * 2)
    assert len(done) == 1 and told == ["This invoice is approved and cannot be approved."]
    assert done_to("invoice") == ["entered", "approved"] and whole(line.project)


def test_approved_while_somebody_queries_it_is_one_of_the_two(line: LineItem, lead: User) -> None:
    """Whoever comes second has not seen what the first has done, and is asked to look again."""
    invoice = enter(line, lead, "AR-17")()
    ask = lambda: invoices.query(invoice, "which days?", version=invoice.version, **who(lead))  # noqa: E731
    done, told = at_once(approve(invoice, lead), ask)
    state, newest = Invoice.objects.get().state, InvoiceStep.objects.order_by("pk").last()
    assert len(done) == 1 and told == ["Somebody has worked on this invoice meanwhile; look at it again."]
    assert newest and newest.verb == state and fresh(line).invoiced_minor == (4_000_00 if state == "approved" else 0)
    assert whole(line.project)


def test_an_entry_taken_back_while_it_is_approved_is_one_of_the_two(line: LineItem, lead: User) -> None:
    invoice = enter(line, lead, "AR-17")()
    done, told = at_once(approve(invoice, lead), lambda: invoices.take_back_entry(invoice, **who(lead)))
    state = Invoice.objects.get().state
    assert len(done) == len(told) == 1 and state in {"approved", "refused"}
    assert fresh(line).invoiced_minor == (4_000_00 if state == "approved" else 0) and whole(line.project)


# --- changes and retention --------------------------------------------------------------------------------------------


def agree(change: Change, by: User) -> Deed:
    return lambda: changes.agree(change, note="yes", role=Role.OWNER, **who(by))


def test_the_last_of_the_contingency_is_drawn_once(line: LineItem, lead: User) -> None:
    pot = builders.aside(line.project, amount=1_000)
    both = [builders.change(line, 700, title=title, paid_from="contingency") for title in ("Rock", "Water")]
    done, told = at_once(*(agree(change, lead) for change in both))
    assert len(done) == 1 and "Only £300 is left of the contingency" in told[0]
    assert (likely(pot), fresh(pot).moved_minor, Transfer.objects.count()) == (300, -700_00, 1)
    assert sorted(Change.objects.values_list("state", flat=True)) == ["agreed", "proposed"] and whole(line.project)


def test_two_changes_that_the_contingency_holds_are_both_paid(line: LineItem, lead: User) -> None:
    pot = builders.aside(line.project, amount=1_000)
    both = [builders.change(line, 500, title=title, paid_from="contingency") for title in ("Rock", "Water")]
    done, told = at_once(*(agree(change, lead) for change in both))
    assert (len(done), told, likely(pot), likely(line)) == (2, [], 0, 10_000)
    assert Transfer.objects.count() == 2 and fresh(line).changes_minor == 1_000_00 and whole(line.project)


def test_one_change_is_agreed_once_and_drawn_once(line: LineItem, lead: User) -> None:
    pot = builders.aside(line.project, amount=1_000)
    change = builders.change(line, 500, paid_from="contingency")
    done, told = at_once(agree(change, lead), agree(change, lead))
    assert len(done) == 1 and told == ["C01 Rock in the dig is agreed already."]
    assert (likely(pot), likely(line), Transfer.objects.count()) == (500, 9_500, 1)
    assert ChangeStep.objects.filter(verb="agreed").count() == 1 and whole(line.project)


def test_a_change_is_agreed_or_declined(line: LineItem, lead: User) -> None:
    change = builders.change(line, 500)
    done, told = at_once(agree(change, lead), lambda: changes.decline(change, note="no", **who(lead)))
    state = Change.objects.get().state
    assert len(done) == len(told) == 1 and likely(line) == (9_500 if state == "agreed" else 9_000)
    assert whole(line.project)


def test_a_change_is_taken_up_again_or_billed(line: LineItem, lead: User) -> None:
    """An invoice that names the change while it is taken up again is asked about, or holds the change where it is."""
    change = agree(builders.change(line, 500), lead)()
    bill = enter(line, lead, "AR-17", 500, change=change)
    done, told = at_once(bill, lambda: changes.reopen(change, reason="wrong price", **who(lead)))
    invoice, state = Invoice.objects.get(), Change.objects.get().state
    assert (invoice.state, state, len(done)) in {("waiting", "agreed", 1), ("queried", "proposed", 2)}
    assert len(done) + len(told) == 2 and whole(line.project)


def test_one_retention_is_released_once(line: LineItem, lead: User) -> None:
    builders.approved(line, 4_000, retention=200)
    agreement = Agreement.objects.get()

    def release() -> RetentionRelease:
        return retention.release(agreement, amount_quoted_minor=200_00, released_on=TODAY, **who(lead))

    done, told = at_once(release, release)
    assert len(done) == RetentionRelease.objects.count() == 1 and "Nothing is held" in told[0]
    assert Movement.objects.filter(recorded_at__gt=NOW).count() == 0 and likely(line) == 9_000 and whole(line.project)


def test_a_release_is_taken_back_once(line: LineItem, lead: User) -> None:
    builders.approved(line, 4_000, retention=200)
    row = retention.release(Agreement.objects.get(), amount_quoted_minor=200_00, released_on=TODAY, **who(lead))
    tomorrow = who(lead) | {"now": NOW + timedelta(days=1)}
    done, told = at_once(*[lambda: retention.take_back(row, reason="slip", **tomorrow)] * 2)
    assert len(done) == 1 and told == ["This release was taken back already."]
    assert sum(RetentionRelease.objects.values_list("amount_minor", flat=True)) == 0 and whole(line.project)
