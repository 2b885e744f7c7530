"""Entering invoices: what is kept, what is refused, and the verdict that follows."""

from datetime import timedelta
from decimal import Decimal

import pytest

from budget.models import Cause, Change, Invoice, InvoiceStep, LineItem, Movement
from budget.selectors import verdicts
from budget.services import invoices, progress
from budget.services.invoices import InvoicedLine
from projects.faults import Refused, Stale
from projects.models import ApprovalLimit, Project, Role, TrailEntry, User
from tests.builders import NOW, TODAY, approved, invoice, let, line


def codes(entered: Invoice) -> list[str]:
    found = verdicts.judgement(entered.project, fresh(entered), today=TODAY)
    return [reason.code for reason in found.reasons]


def first_verdict(entered: Invoice) -> str:
    return entered.steps.get(verb=InvoiceStep.Verb.ENTERED).judgement["verdict"]


def fresh(entered: Invoice) -> Invoice:
    return Invoice.objects.select_related("vendor", "project").get(pk=entered.pk)


def agreed_change(work: LineItem, amount: int, *, code: str = "C01", state: str = Change.State.AGREED) -> Change:
    """A change as another service leaves it."""
    return Change.objects.create(
        project=work.project, line=work, code=code, title="Two more days", reason=Change.Reason.UNFORESEEN,
        paid_from=Change.Source.CONTINGENCY, state=state, amount_minor=amount * 100, chance=Decimal(1), raised_on=TODAY,
        raised_at=NOW,
    )  # fmt: skip


@pytest.fixture
def work(project: Project) -> LineItem:
    """A line let to Aridlow for £9,000 with 5 % held back."""
    made = line(project)
    let(made, 9_000, retention=5)
    return LineItem.objects.get(pk=made.pk)


class TestEntering:
    def test_what_fits_is_to_be_paid_and_counts(self, work: LineItem):
        entered = invoice(work, 4_000, tax=760, retention=200, tax_percent=Decimal(20))
        work.refresh_from_db()
        assert (first_verdict(entered), entered.state, codes(entered)) == ("pay", "waiting", [])
        assert (entered.payable_quoted_minor, work.invoiced_minor, work.retention_minor) == (456_000, 400_000, 20_000)
        assert work.state == "invoiced"

    def test_it_leaves_a_trail(self, work: LineItem, lead: User):
        entered = invoice(work, 4_000, retention=200)
        row = TrailEntry.objects.get(subject="invoice", subject_id=entered.pk)
        assert (row.verb, row.by, row.summary) == ("entered", lead, "Entered AR-1 of Aridlow")

    def test_tax_that_is_not_got_back_is_part_of_the_cost(self, work: LineItem):
        Project.objects.filter(pk=work.project_id).update(tax_recovered=False)
        invoice(work, 4_000, tax=760, retention=200)
        work.refresh_from_db()
        assert work.invoiced_minor == 476_000

    def test_an_invoice_beyond_the_agreement_does_not_count_until_it_is_approved(self, work: LineItem, owner: User):
        entered = invoice(work, 9_260, retention=463)
        work.refresh_from_db()
        assert (entered.state, work.invoiced_minor, work.likely_minor) == ("queried", 0, 900_000)
        invoices.approve(fresh(entered), by=owner, role=Role.OWNER, note="storm", now=NOW, today=TODAY)
        work.refresh_from_db()
        assert (work.invoiced_minor, work.likely_minor) == (926_000, 926_000)
        moved = Movement.objects.get(source="invoice", source_id=entered.pk)
        assert (moved.cause, moved.amount_minor) == (Cause.INVOICED, 26_000)

    def test_it_falls_due_by_the_terms_of_the_quote(self, project: Project):
        made = line(project)
        let(made, 9_000, payment_terms="30 days from invoice")
        assert invoice(made, 1_000).due_on == TODAY + timedelta(days=30)

    def test_another_currency_is_taken_at_the_rate_given(self, project: Project):
        made = line(project)
        let(made, 10_000, currency="EUR", rate=Decimal("0.86"))
        entered = invoice(made, 3_000, currency="EUR", rate=Decimal("0.871"))
        made.refresh_from_db()
        assert (codes(entered), made.invoiced_minor) == ([], 261_300)
        assert made.currency_minor == 3_300 and made.likely_minor == 860_000 + 3_300


class TestRefused:
    @pytest.mark.parametrize("number", ["AR-1", "ar 1", " AR/01 "])
    def test_a_number_of_the_same_vendor(self, work: LineItem, number: str):
        invoice(work, 1_000, retention=50)
        with pytest.raises(Refused, match="AR-1 already, dated Fri 29 Jan 2027") as told:
            invoice(work, 2_000, number=number, retention=100)
        assert told.value.field == "number" and Invoice.objects.count() == 1

    def test_a_number_is_free_again_once_the_invoice_is_refused(self, work: LineItem, owner: User):
        first = invoice(work, 1_000, retention=50)
        invoices.refuse(first, "not ours", by=owner, now=NOW, today=TODAY)
        again = invoice(work, 1_000, retention=50)
        assert (first_verdict(again), Invoice.objects.count()) == ("pay", 2)
        with pytest.raises(Refused, match="already"):
            invoices.take_up(fresh(first), "ours after all", by=owner, now=NOW, today=TODAY)

    @pytest.mark.parametrize(
        ("told", "field"),
        [
            ({"vendor": "  "}, "vendor"),
            ({"vendor": "x" * 10_000_000}, "vendor"),
            ({"number": " "}, "number"),
            ({"number": "9" * 10_000}, "number"),
            ({"currency": "XXZ"}, "currency"),
            ({"kind": "gift"}, "kind"),
            ({"kind": "credit"}, "kind"),
            ({"invoiced_on": TODAY + timedelta(days=40)}, "invoiced_on"),
            ({"received_on": TODAY + timedelta(days=1)}, "received_on"),
            ({"due_on": TODAY - timedelta(days=1)}, "due_on"),
            ({"tax_percent": Decimal("NaN")}, "tax_percent"),
            ({"tax_percent": Decimal(101)}, "tax_percent"),
            ({"currency": "EUR"}, "rate"),
            ({"currency": "EUR", "rate": Decimal("Infinity")}, "rate"),
            ({"lines": ()}, "lines"),
            ({"lines": (InvoicedLine(999_999, 100),)}, "lines"),
            ({"tax": 10**12}, "tax"),
            ({"retention": 1_001}, "retention"),
            ({"retention": -1}, "retention"),
            ({"credits_id": 999_999}, "credits"),
            ({"bank": "none"}, "bank"),
            ({"note": "x" * 2_001}, "note"),
        ],
    )  # fmt: skip
    def test_what_cannot_be_meant(self, work: LineItem, told: dict, field: str):
        with pytest.raises(Refused) as refused:
            invoice(work, 1_000, **told)
        assert (refused.value.field, Invoice.objects.count()) == (field, 0)

    def test_a_line_of_another_project(self, work: LineItem, outsider: User):
        theirs = line(Project.objects.get(name="Elsewhere"))
        with pytest.raises(Refused, match="belong"):
            invoice(work, 1_000, lines=(InvoicedLine(theirs.pk, 100_000),))

    def test_a_change_of_another_line(self, work: LineItem):
        other = agreed_change(line(work.project, "L0102"), 500)
        with pytest.raises(Refused, match="another line"):
            invoice(work, 500, change=other)

    def test_a_line_that_stands_twice(self, work: LineItem):
        with pytest.raises(Refused, match="twice"):
            invoice(work, 1, lines=(InvoicedLine(work.pk, 100), InvoicedLine(work.pk, 200)))

    def test_a_credit_of_another_vendors_invoice(self, work: LineItem):
        theirs = invoice(work, 1_000, retention=50)
        with pytest.raises(Refused, match="same vendor"):
            invoice(work, -100, number="BR-2", vendor="Brisewell", credits_id=theirs.pk)


class TestVerdicts:
    """Each doubt, end to end: from what was entered to the verdict of the day. Common practice, no source."""

    def test_beyond_the_agreement_with_no_change_named(self, work: LineItem):
        approved(work, 9_000, retention=450)
        later = invoice(work, 260, number="AR-2", retention=13)
        assert codes(later) == ["over the agreement", "no agreed change"]

    def test_an_agreed_change_makes_room(self, work: LineItem):
        change = agreed_change(work, 260)
        approved(work, 9_000, retention=450)
        assert codes(invoice(work, 260, number="AR-2", retention=13, change=change)) == []
        beyond = invoice(work, 1, number="AR-3", lines=(InvoicedLine(work.pk, 100, 0, 5, change.pk),))
        assert codes(beyond) == ["over the agreement", "over the change"]

    def test_a_change_that_is_only_proposed(self, work: LineItem):
        change = agreed_change(work, 940, state=Change.State.PROPOSED)
        assert codes(invoice(work, 940, retention=47, change=change)) == ["no agreed change"]

    def test_a_vendor_with_whom_nothing_is_agreed(self, work: LineItem):
        assert codes(invoice(work, 100, vendor="Brisewell")) == ["no agreement"]

    def test_another_currency_than_agreed(self, work: LineItem):
        assert "another currency" in codes(invoice(work, 100, currency="EUR", rate=Decimal("0.9")))

    def test_a_line_that_is_closed(self, work: LineItem):
        LineItem.objects.filter(pk=work.pk).update(closed_on=TODAY)
        assert codes(invoice(work, 100, retention=5)) == ["closed line"]

    def test_one_that_looks_like_another(self, work: LineItem):
        approved(work, 4_000, number="VM-1187", retention=200, invoiced_on=TODAY - timedelta(days=4))
        second = invoice(work, 4_000, number="VM-1187A", retention=200)
        assert codes(second) == ["duplicate"]

    def test_the_likeness_is_over_once_the_other_is_refused(self, work: LineItem, owner: User):
        first = invoice(work, 4_000, number="VM-1187", retention=200)
        second = invoice(work, 4_000, number="VM-1187A", retention=200)
        invoices.refuse(first, "sent twice", by=owner, now=NOW, today=TODAY)
        assert codes(second) == []

    def test_tax_with_a_misread_digit(self, work: LineItem):
        entered = invoice(work, 2_310, tax=562, retention=0, tax_percent=Decimal(20))
        found = verdicts.judgement(work.project, fresh(entered), today=TODAY)
        told = next(reason.figures for reason in found.reasons if reason.code == "wrong tax")
        assert (told["tax_minor"], told["expected_minor"], told["swapped"]) == (56_200, 46_200, True)

    def test_the_projects_tax_stands_in_where_none_is_stated(self, work: LineItem):
        Project.objects.filter(pk=work.project_id).update(tax_percent=Decimal(20))
        assert codes(invoice(work, 1_000, tax=100, retention=50)) == ["wrong tax"]

    def test_a_credit_puts_the_tax_right(self, work: LineItem):
        first = approved(work, 2_310, tax=562, retention=0, tax_percent=Decimal(20))
        assert "wrong tax" in codes(first)
        lines = (InvoicedLine(work.pk, 0, -10_000),)
        credit = invoice(work, -1, number="AR-1-CN", credits_id=first.pk, tax_percent=Decimal(20), lines=lines)
        assert (codes(credit), codes(first)) == ([], ["retention not held"])

    def test_retention_that_is_not_held(self, work: LineItem):
        entered = invoice(work, 4_000)
        found = verdicts.judgement(work.project, fresh(entered), today=TODAY)
        assert (found.verdict, found.pay_minor, entered.state) == ("part", 380_000, "waiting")

    def test_billed_ahead_of_what_was_seen_done(self, work: LineItem, lead: User):
        progress.note_seen(work, percent=Decimal(30), seen_on=TODAY, by=lead, now=NOW, today=TODAY)
        entered = invoice(work, 4_500, retention=225)
        found = verdicts.judgement(work.project, fresh(entered), today=TODAY)
        assert (found.verdict, found.pay_minor) == ("part", 270_000 - 13_500)

    def test_a_credit_without_an_invoice_before_it(self, work: LineItem):
        assert codes(invoice(work, -100)) == ["credit without an invoice"]

    def test_tax_on_top_of_a_quote_is_not_part_of_what_may_be_billed_net(self, project: Project):
        made = line(project)
        let(made, 1_000, tax_percent=Decimal(20))
        assert codes(invoice(made, 1_000)) == []
        assert codes(invoice(made, 1, number="AR-2")) == ["over the agreement", "no agreed change"]

    def test_a_credit_explains_what_was_billed_beyond(self, work: LineItem):
        first = approved(work, 9_260, retention=463)
        invoice(work, -260, number="AR-1-CN", credits_id=first.pk)
        assert codes(first) == []

    def test_two_rows_of_one_invoice_count_together(self, work: LineItem):
        change = agreed_change(work, 100)
        rows = (InvoicedLine(work.pk, 900_100, 0, 45_005), InvoicedLine(work.pk, 10_000, 0, 500, change.pk))
        assert codes(invoice(work, 1, lines=rows)) == ["over the agreement"]


class TestDeeds:
    def test_an_invoice_that_fits_is_approved_without_a_word(self, work: LineItem, lead: User):
        entered = invoice(work, 4_000, retention=200)
        done = invoices.approve(entered, by=lead, role=Role.LEAD, now=NOW, today=TODAY)
        assert (done.state, done.flagged) == ("approved", False)

    def test_one_that_was_queried_needs_a_reason(self, work: LineItem, owner: User):
        entered = invoice(work, 100, retention=5, vendor="Brisewell")
        with pytest.raises(Refused, match="why"):
            invoices.approve(entered, by=owner, role=Role.OWNER, now=NOW, today=TODAY)
        done = invoices.approve(fresh(entered), by=owner, role=Role.OWNER, note="small", now=NOW, today=TODAY)
        assert (done.state, done.flagged) == ("approved", True)

    def test_what_passes_the_agreement_has_to_lie_within_the_limit(self, work: LineItem, lead: User):
        ApprovalLimit.objects.filter(project=work.project, role=Role.LEAD).update(amount_minor=26_000)
        entered = invoice(work, 9_260, retention=463)
        more = invoice(work, 9_261, number="AR-2", retention=463)
        with pytest.raises(Refused, match="role may commit"):
            invoices.approve(more, by=lead, role=Role.LEAD, note="storm", now=NOW, today=TODAY)
        assert invoices.approve(entered, by=lead, role=Role.LEAD, note="storm", now=NOW, today=TODAY).flagged

    @pytest.mark.parametrize("role", [Role.BOOKKEEPER, Role.VIEWER])
    def test_others_do_not_approve(self, work: LineItem, bookkeeper: User, role: str):
        with pytest.raises(Refused, match="lead or an owner"):
            invoices.approve(invoice(work, 1), by=bookkeeper, role=role, note="why", now=NOW, today=TODAY)

    def test_a_page_that_is_out_of_date_is_told_so(self, work: LineItem, lead: User):
        entered = invoice(work, 4_000, retention=200)
        invoices.query(fresh(entered), "which day?", by=lead, now=NOW, today=TODAY)
        with pytest.raises(Stale):
            invoices.approve(entered, by=lead, role=Role.LEAD, note="why", now=NOW, today=TODAY, version=1)

    def test_a_query_takes_it_out_and_taking_it_up_puts_it_back(self, work: LineItem, lead: User):
        entered = invoice(work, 4_000, retention=200)
        invoices.query(entered, "which day?", by=lead, now=NOW, today=TODAY)
        work.refresh_from_db()
        assert (work.invoiced_minor, fresh(entered).state) == (0, "queried")
        invoices.take_up(fresh(entered), "told us", by=lead, now=NOW, today=TODAY)
        work.refresh_from_db()
        assert (work.invoiced_minor, fresh(entered).state) == (400_000, "waiting")
        assert [step.verb for step in entered.steps.order_by("pk")] == ["entered", "queried", "reopened"]

    def test_every_deed_asks_for_a_reason(self, work: LineItem, lead: User):
        entered = approved(work, 4_000, retention=200)
        for deed in (invoices.query, invoices.refuse, invoices.take_up, invoices.explain):
            with pytest.raises(Refused, match="Say"):
                deed(fresh(entered), " ", by=lead, now=NOW, today=TODAY)

    def test_a_word_settles_tax_but_not_what_is_beyond(self, work: LineItem, lead: User):
        tax = approved(work, 1_000, tax=250, retention=50, tax_percent=Decimal(20))
        assert not invoices.explain(tax, "credit promised", by=lead, now=NOW, today=TODAY).flagged
        beyond = approved(work, 9_000, number="AR-2", retention=450)
        with pytest.raises(Refused, match="credit note"):
            invoices.explain(beyond, "fine", by=lead, now=NOW, today=TODAY)
