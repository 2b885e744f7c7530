"""What pages are told of invoices: the queue, the flags, one invoice, and the sentence for the vendor."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from budget.calc import verdicts as rules
from budget.calc.verdicts import Judgement, Reason
from budget.models import Change, Invoice, LineItem
from budget.selectors import invoices as reads
from budget.services import invoices, payments, progress
from budget.services.invoices import InvoicedLine
from budget.wording_invoices import Voice, reasons
from budget.wording_to_vendors import to_vendor
from projects.models import Project, User
from reports.exchange import proving
from tests.builders import NOW, TODAY, approved, invoice, let, line

VOICE = Voice("SP-0431", "GBP", "en-GB")
PAID = Voice("SP-0431", "GBP", "en-GB", paid=True)


@pytest.fixture
def work(project: Project) -> LineItem:
    made = line(project)
    let(made, 9_000, retention=5)
    return LineItem.objects.get(pk=made.pk)


def queued(project: Project) -> list[str]:
    return [row.invoice.number for row in reads.queue(project, TODAY)]


def flagged(project: Project) -> list[str]:
    return [row.invoice.number for row in reads.flags(project, TODAY)]


def pay(entered: Invoice, amount: int | None = None) -> None:
    payments.pay(entered, amount_quoted_minor=amount, paid_on=TODAY, by=None, now=NOW, today=TODAY)


def fresh(entered: Invoice) -> Invoice:
    return Invoice.objects.select_related("vendor", "project").get(pk=entered.pk)


class TestQueue:
    def test_the_worst_comes_first_and_what_is_paid_or_refused_is_gone(self, work: LineItem, lead: User):
        pay(approved(work, 100, number="paid", retention=5))
        refused = invoice(work, 110, number="refused", retention=6)
        invoices.refuse(refused, "not ours", by=lead, now=NOW, today=TODAY)
        approved(work, 120, number="approved", retention=6)
        invoice(work, 130, number="fits", lines=(InvoicedLine(work.pk, 13_000, 0, 650),))
        invoice(work, 140, number="part")
        invoice(work, 150, number="asks", vendor="Brisewell")
        assert queued(work.project) == ["asks", "part", "fits", "approved"]

    def test_it_tells_what_may_be_paid_in_all(self, work: LineItem):
        pay(approved(work, 4_000, number="one", retention=200), 100_000)
        invoice(work, 1_000, number="two", retention=50)
        invoice(work, 100, number="three", vendor="Brisewell")
        told = reads.totals(work.project, reads.queue(work.project, TODAY))
        assert (told.approved_minor, told.waiting_minor, told.queried_minor) == (280_000, 95_000, 10_000)

    @pytest.mark.parametrize("read", [reads.queue, reads.flags])
    def test_questions_to_the_database_do_not_grow(self, work: LineItem, read):
        def asked() -> int:
            with CaptureQueriesContext(connection) as questions:
                read(work.project, TODAY)
            return len(questions)

        def one_more(place: int) -> None:
            other = line(work.project, f"L02{place:02}")
            let(other, 1_000, vendor=f"Vendor {place}")
            approved(other, 1_100, number=f"V-{place}", vendor=f"Vendor {place}", bank=f"GB00 0000 00{place:02}")
            invoice(other, 100, number=f"W-{place}", vendor=f"Vendor {place}")

        one_more(0)
        first = asked()
        for place in range(1, 6):
            one_more(place)
        assert asked() == first <= 15


class TestFlags:
    """What was let through stays in sight until it is explained: rule 9 of the money rules."""

    def test_beyond_the_agreement_until_a_change_is_agreed(self, work: LineItem):
        approved(work, 9_260, retention=463)
        assert flagged(work.project) == ["AR-1"]
        Change.objects.create(
            project=work.project, line=work, code="C01", title="Storm", reason=Change.Reason.UNFORESEEN,
            paid_from=Change.Source.LINE, state=Change.State.AGREED, amount_minor=26_000, chance=Decimal(1), raised_on=TODAY,
            raised_at=NOW,
        )  # fmt: skip
        assert flagged(work.project) == []

    def test_beyond_the_agreement_until_a_credit_comes(self, work: LineItem):
        first = approved(work, 9_260, retention=463)
        invoice(work, -260, number="AR-1-CN", credits_id=first.pk)
        assert flagged(work.project) == []

    def test_tax_until_a_word_is_said(self, work: LineItem, lead: User):
        entered = approved(work, 1_000, tax=250, retention=50, tax_percent=Decimal(20))
        assert flagged(work.project) == ["AR-1"]
        invoices.explain(entered, "credit promised", by=lead, now=NOW, today=TODAY)
        assert flagged(work.project) == []

    def test_ahead_of_the_work_although_it_was_approved_before_anybody_looked(self, work: LineItem, lead: User):
        approved(work, 2_000, number="first", retention=100)
        pay(approved(work, 2_500, number="second", retention=125))
        assert flagged(work.project) == []
        progress.note_seen(work, percent=Decimal(30), seen_on=TODAY, by=lead, now=NOW, today=TODAY)
        assert flagged(work.project) == ["second"]

    def test_a_likeness_that_was_approved_is_settled(self, work: LineItem):
        approved(work, 1_000, number="V-1", retention=50)
        approved(work, 1_000, number="V-1A", retention=50)
        assert flagged(work.project) == []


class TestOneInvoice:
    def test_each_line_stands_against_its_price(self, work: LineItem):
        approved(work, 4_000, retention=200)
        second = invoice(work, 3_000, number="AR-2", retention=150)
        page = reads.invoice_page(work.project, second.pk, today=TODAY)
        (told,) = page.lines
        assert (told.facts.agreed_minor, told.facts.invoiced_before_minor, told.left_minor) == (
            900_000,
            400_000,
            200_000,
        )

    def test_a_line_with_no_agreement_has_nothing_left(self, work: LineItem):
        other = invoice(work, 100, vendor="Brisewell")
        assert reads.invoice_page(work.project, other.pk, today=TODAY).lines[0].left_minor is None

    def test_questions_to_the_database_do_not_grow_with_its_lines(self, project: Project):
        def asked(count: int) -> int:
            made = [line(project, f"L{count}{place:02}") for place in range(count)]
            rows = tuple(InvoicedLine(one.pk, 10_000) for one in made)
            entered = invoice(made[0], 1, number=f"N-{count}", lines=rows, bank="GB00 0000 0001")
            with CaptureQueriesContext(connection) as questions:
                reads.invoice_page(project, entered.pk, today=TODAY)
            return len(questions)

        assert asked(1) == asked(8) <= 18


TOLD = {"line": "Pumping", "net_minor": 26_000, "agreed_minor": 520_000, "changes_minor": 0, "before_minor": 520_000}
OVER = Reason(rules.OVER_AGREEMENT, "query", {**TOLD, "by_minor": 30_000, "own_minor": 26_000})
NONE = Reason(
    rules.NO_CHANGE, "query", {**TOLD, "by_minor": 26_000, "own_minor": 26_000, "change": None, "status": None}
)
PROPOSED = Reason(rules.NO_CHANGE, "query", {**TOLD, "change": "C12", "status": "proposed", "by_minor": 26_000})
RETENTION = Reason(rules.NO_RETENTION, "part", {"held_minor": 0, "expected_minor": 78_750, "by_minor": 78_750})
AHEAD = Reason(rules.AHEAD, "part", {**TOLD, "claimed_percent": "49.0", "seen_percent": "15", "pay_net_minor": 1})
TAX = Reason(
    rules.WRONG_TAX, "query", {"tax_minor": 56_200, "expected_minor": 46_200, "by_minor": 10_000, "swapped": True}
)


class TestSentences:
    @pytest.mark.parametrize(
        ("found", "said"),
        [
            (
                (OVER, NONE),
                "Please send a credit note for £260: SP-0431 bills that much for Pumping, "
                "and it goes beyond what we agreed and no change was agreed for it.",
            ),
            (
                (PROPOSED,),
                "We cannot pay the £260 for change C12 on SP-0431 yet: it was not agreed in writing; "
                "please wait for our word or send a credit note.",
            ),
            (
                (TAX,),
                "Please send a credit note for £100 of tax: SP-0431 states £562, and by its own rate it is £462.",
            ),
            (
                (RETENTION, AHEAD),
                "We pay part of SP-0431 now: we hold back £787.50 of retention as agreed; "
                "Pumping is billed to 49% and we have seen 15% of it done.",
            ),
            ((), ""),
        ],
    )  # fmt: skip
    def test_one_sentence_asks_for_one_thing(self, found: tuple[Reason, ...], said: str):
        assert to_vendor(Judgement("query", found, 0), VOICE) == said

    def test_what_is_paid_already_is_not_kept_back_any_more(self):
        assert to_vendor(Judgement("part", (RETENTION,), 0), PAID) == (
            "We paid SP-0431 in full: we shall hold back the £787.50 of retention we agreed from your next invoice."
        )

    def test_every_reason_has_words_for_us_and_for_the_vendor(self):
        figures = {
            **TOLD, "by_minor": 1, "own_minor": 1, "number": "SP-0431", "earlier": "SP-0430", "same_amount": True, "days_apart": 1,
            "bank": "changed", "vendor": "x", "currency": "EUR", "agreed": "GBP", "change": "C1", "status": "declined",
            "change_minor": 2, "tax_minor": 1, "expected_minor": 2, "held_minor": 0, "claimed_percent": "50", "seen_percent": "1",
        }  # fmt: skip
        for code in rules.CODES:
            found = Judgement("query", (Reason(code, "query", figures),), 0)
            ours, theirs = reasons(found, VOICE)[0], to_vendor(found, VOICE)
            assert ours.endswith(".") and theirs.endswith(".") and theirs.count(". ") == 0, code

    def test_the_number_of_another_vendor_is_never_named(self, work: LineItem):
        approved(work, 1_000, number="AR-7", retention=50)
        other = invoice(work, 1_000, number="AR-7A", vendor="Brisewell")
        told = reads.invoice_page(work.project, other.pk, today=TODAY).seen.sentence
        assert "Aridlow" not in told and "duplicate" not in told


def test_a_day_before_nobody_had_looked(work: LineItem, lead: User):
    progress.note_seen(work, percent=Decimal(10), seen_on=TODAY, by=lead, now=NOW, today=TODAY)
    approved(work, 4_000, retention=200)
    yesterday: date = TODAY - timedelta(days=1)
    assert [row.invoice.number for row in reads.flags(work.project, TODAY)] == ["AR-1"]
    assert [row.reasons for row in reads.queue(work.project, yesterday)] == [()]


class TestKeptFigures:
    def test_they_come_to_what_their_rows_say(self, work: LineItem, lead: User):
        first = approved(work, 4_000, tax=760, retention=200, tax_percent=Decimal(20))
        pay(first, 100_000)
        pay(first)
        approved(work, -260, number="AR-1-CN", credits_id=first.pk)
        assert reads.unbalanced(work.project) == []

    @pytest.mark.parametrize(("column", "name"), [("payable_quoted_minor", "payable"), ("paid_quoted_minor", "paid")])
    def test_a_figure_that_was_tampered_with_is_found(self, work: LineItem, column: str, name: str):
        first = approved(work, 4_000, retention=200)
        pay(first)
        Invoice.objects.update(**{column: 1})
        assert reads.unbalanced(work.project) == [(first, name, 1, 380_000)]
        said = proving.faults(work.project)
        assert [words for words in said if "by its sources 3800.00" in words]
