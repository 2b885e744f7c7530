"""Paying invoices, bank details, and what was seen done."""

from datetime import timedelta
from decimal import Decimal

import pytest

from budget.models import Cause, Invoice, LineItem, Movement, Payment, Progress, VendorBank
from budget.selectors import verdicts
from budget.services import banks, invoices, ledger, payments, progress
from projects.faults import Refused
from projects.models import ExchangeRate, Project, TrailEntry, User
from tests import builders
from tests.builders import NOW, TODAY, approved, invoice, let, line

IBAN = "GB33 BUKB 2020 1555 5555 55"


def pay(entered: Invoice, amount: int | None = None, **told) -> Payment:
    minor = None if amount is None else amount * 100
    told = {"paid_on": TODAY, "by": builders.lead_of(entered.project)} | told
    return payments.pay(entered, amount_quoted_minor=minor, now=NOW, today=TODAY, **told)


def fresh(entered: Invoice) -> Invoice:
    return Invoice.objects.select_related("vendor", "project").get(pk=entered.pk)


@pytest.fixture
def work(project: Project) -> LineItem:
    made = line(project)
    let(made, 9_000, retention=5)
    return LineItem.objects.get(pk=made.pk)


@pytest.fixture
def bill(work: LineItem) -> Invoice:
    """£4,000 with £200 held and £760 of tax: £4,560 to be paid."""
    return approved(work, 4_000, tax=760, retention=200, tax_percent=Decimal(20))


class TestPaying:
    def test_all_that_is_open(self, bill: Invoice):
        row = pay(bill, reference="bank 17")
        assert (row.amount_quoted_minor, fresh(bill).paid_quoted_minor) == (456_000, 456_000)
        told = TrailEntry.objects.get(subject="payment", subject_id=row.pk)
        assert told.summary == "Paid £4,560 on AR-1 of Aridlow"

    def test_a_part_and_then_the_rest(self, bill: Invoice):
        pay(bill, 1_000)
        assert pay(bill).amount_quoted_minor == 356_000

    def test_never_more_than_is_open(self, bill: Invoice):
        pay(bill, 1_000)
        with pytest.raises(Refused, match="At most £3,560"):
            pay(bill, 3_561)
        assert Payment.objects.count() == 1

    @pytest.mark.parametrize("amount", [0, -1, 10**12])
    def test_no_amount_that_cannot_be_meant(self, bill: Invoice, amount: int):
        with pytest.raises(Refused, match="At most"):
            pay(bill, amount)

    def test_not_twice(self, bill: Invoice):
        pay(bill)
        with pytest.raises(Refused, match="in full"):
            pay(bill)

    def test_only_what_is_approved(self, work: LineItem):
        with pytest.raises(Refused, match="this one is waiting"):
            pay(invoice(work, 1_000, retention=50))

    def test_not_tomorrow(self, bill: Invoice):
        with pytest.raises(Refused):
            pay(bill, paid_on=TODAY + timedelta(days=1))

    def test_a_long_reference_is_refused_and_nothing_is_written(self, bill: Invoice):
        with pytest.raises(Refused):
            pay(bill, reference="x" * 10_000_000)
        assert (Payment.objects.count(), fresh(bill).paid_quoted_minor) == (0, 0)

    def test_a_payment_moves_no_likely_final(self, bill: Invoice):
        before = Movement.objects.count()
        pay(bill)
        assert Movement.objects.count() == before

    def test_a_credit_note_is_set_off(self, work: LineItem):
        first = approved(work, 4_000, retention=200)
        credit = approved(work, -600, number="AR-1-CN", credits_id=first.pk)
        assert pay(credit).amount_quoted_minor == -60_000

    def test_what_is_paid_in_part_stays_approved(self, bill: Invoice, lead: User):
        pay(bill, 1_000)
        for deed in (invoices.query, invoices.refuse, invoices.take_up):
            with pytest.raises(Refused, match="was paid"):
                deed(fresh(bill), "why", by=lead, now=NOW, today=TODAY)


class TestAnotherCurrency:
    @pytest.fixture
    def euro(self, project: Project) -> Invoice:
        made = line(project)
        let(made, 10_000, currency="EUR", rate=Decimal("0.86"))
        return approved(made, 3_000, currency="EUR", rate=Decimal("0.87"))

    def test_the_rate_of_the_day_is_a_movement_of_its_own(self, euro: Invoice):
        row = pay(euro, rate=Decimal("0.88"))
        assert (row.amount_minor, row.exchange_minor) == (264_000, 3_000)
        moved = Movement.objects.get(source="payment", source_id=row.pk)
        assert (moved.cause, moved.amount_minor) == (Cause.CURRENCY, 3_000)

    def test_the_parts_of_a_payment_come_to_the_whole(self, euro: Invoice):
        pay(euro, 1_000, rate=Decimal("0.88"))
        pay(euro, rate=Decimal("0.88"))
        made = LineItem.objects.get()
        assert made.invoiced_minor == 264_000 and ledger.unreconciled(made.project) == []

    def test_todays_rate_is_taken_where_none_is_given(self, euro: Invoice):
        ExchangeRate.objects.create(
            project=euro.project, currency="EUR", purpose="today", rate=Decimal("0.9"), rated_on=TODAY, entered_at=NOW
        )
        assert pay(euro).rate == Decimal("0.9")

    def test_the_invoices_rate_before_the_budgets(self, euro: Invoice):
        assert pay(euro).exchange_minor == 0

    @pytest.mark.parametrize("rate", ["NaN", "Infinity", "0", "-1", "1000000"])
    def test_no_rate_that_cannot_be_meant(self, euro: Invoice, rate: str):
        with pytest.raises(Refused, match="rate"):
            pay(euro, rate=Decimal(rate))

    def test_taking_it_back_takes_the_movement_back(self, euro: Invoice, lead: User):
        row = pay(euro, rate=Decimal("0.88"))
        payments.take_back(row, "wrong account", by=lead, now=NOW, today=TODAY)
        made = LineItem.objects.get()
        assert (made.currency_minor, fresh(euro).paid_quoted_minor) == (3_000, 0)
        assert ledger.unreconciled(made.project) == []


class TestTakingBack:
    def test_it_is_open_again(self, bill: Invoice, lead: User):
        row = pay(bill)
        back = payments.take_back(row, "typed twice", by=lead, now=NOW, today=TODAY)
        assert (back.reverses, back.amount_quoted_minor, fresh(bill).paid_quoted_minor) == (row, -456_000, 0)

    def test_not_twice_and_not_the_taking_back(self, bill: Invoice, lead: User):
        row = pay(bill)
        back = payments.take_back(row, "typed twice", by=lead, now=NOW, today=TODAY)
        for one in (row, back):
            with pytest.raises(Refused, match="already"):
                payments.take_back(one, "again", by=lead, now=NOW, today=TODAY)

    def test_a_reason_is_asked_for(self, bill: Invoice, lead: User):
        with pytest.raises(Refused, match="why"):
            payments.take_back(pay(bill), " ", by=lead, now=NOW, today=TODAY)


class TestBankDetails:
    """Two people, and a number known before: common practice against redirected payments, no source."""

    def test_no_more_than_a_fingerprint_is_kept(self, work: LineItem):
        entered = invoice(work, 1_000, retention=50, bank=IBAN)
        kept = VendorBank.objects.get()
        assert (kept.bank_shown, entered.bank_shown) == ("…5555", "…5555")
        assert "20201555" not in str(vars(kept)) + str(vars(entered))

    def test_the_same_details_in_another_spelling_are_the_same(self, work: LineItem):
        first, second = (banks.fingerprint(vendor_of(work), text) for text in (IBAN, IBAN.lower().replace(" ", "-")))
        assert first == second

    def test_first_details_are_asked_about_until_a_second_person_confirms(
        self, work: LineItem, lead: User, owner: User
    ):
        entered = invoice(work, 1_000, retention=50, bank=IBAN)
        assert entered.state == "queried"
        kept = VendorBank.objects.get()
        with pytest.raises(Refused, match="yourself"):
            banks.confirm(kept, "rang 01632 960000", by=lead, now=NOW, today=TODAY)
        banks.confirm(kept, "rang 01632 960000", by=owner, now=NOW, today=TODAY)
        assert verdicts.judgement(work.project, fresh(entered), today=TODAY).verdict == "pay"
        assert invoice(work, 1_000, number="AR-20", retention=50, bank=IBAN).state == "queried"  # as much, the same day
        assert invoice(work, 1_500, number="AR-30", retention=75, bank=IBAN).state == "waiting"

    def test_changed_details_are_not_paid_to_even_when_somebody_approves(self, work: LineItem, owner: User, lead: User):
        banks.confirm(
            banks.note_bank(vendor_of(work), IBAN, by=lead, now=NOW, today=TODAY),
            "rang",
            by=owner,
            now=NOW,
            today=TODAY,
        )
        entered = approved(work, 1_000, retention=50, bank="GB00 CHANGED 0001")
        found = verdicts.judgement(work.project, entered, today=TODAY)
        assert [(row.code, row.figures["bank"]) for row in found.reasons] == [("bank changed", "changed")]
        with pytest.raises(Refused, match="a second person confirms"):
            pay(entered)

    def test_a_word_is_asked_for_and_one_is_enough(self, work: LineItem, lead: User, owner: User):
        kept = banks.note_bank(vendor_of(work), IBAN, by=lead, now=NOW, today=TODAY)
        with pytest.raises(Refused, match="whom you rang"):
            banks.confirm(kept, "", by=owner, now=NOW, today=TODAY)
        banks.confirm(kept, "rang", by=owner, now=NOW, today=TODAY)
        with pytest.raises(Refused, match="already"):
            banks.confirm(kept, "rang", by=owner, now=NOW, today=TODAY)

    @pytest.mark.parametrize("text", ["", "12", "unknown", "x1" * 40])
    def test_what_is_no_account_number(self, work: LineItem, text: str):
        with pytest.raises(Refused):
            banks.note_bank(vendor_of(work), text, by=None, now=NOW, today=TODAY)


def vendor_of(work: LineItem):
    return work.project.vendors.get()


class TestSeenDone:
    def see(self, work: LineItem, percent: str, **told) -> Progress:
        told = {"seen_on": TODAY, "by": None} | told
        return progress.note_seen(work, percent=Decimal(percent), now=NOW, today=TODAY, **told)

    def test_the_newest_look_stands(self, work: LineItem):
        self.see(work, "60")
        self.see(work, "40", seen_on=TODAY - timedelta(days=7))
        assert verdicts.seen_done([work.pk], TODAY) == {work.pk: Decimal(60)}
        assert verdicts.seen_done([work.pk], TODAY - timedelta(days=1)) == {work.pk: Decimal(40)}

    @pytest.mark.parametrize("percent", ["NaN", "-1", "100.1", "Infinity"])
    def test_no_share_that_cannot_be_meant(self, work: LineItem, percent: str):
        with pytest.raises(Refused):
            self.see(work, percent)

    def test_nothing_is_seen_tomorrow_or_on_a_contingency(self, work: LineItem):
        with pytest.raises(Refused):
            self.see(work, "50", seen_on=TODAY + timedelta(days=1))
        with pytest.raises(Refused, match="no work"):
            self.see(line(work.project, "L9901", kind="contingency"), "50")

    def test_a_photograph_of_another_project_is_refused(self, work: LineItem, outsider: User):
        theirs = builders.attachment(Project.objects.get(name="Elsewhere"))
        with pytest.raises(Refused, match="another project"):
            self.see(work, "50", attachment=theirs)
