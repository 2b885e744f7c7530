"""Invoices on their pages: five roles, the look before entering, what is decided, paid and confirmed."""

from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from budget.models import Invoice, LineItem, Payment, Progress, VendorBank
from budget.services import banks
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY, approved, invoice, let, signed_in

CAST = ("lead", "owner", "bookkeeper", "viewer")


def address(name: str, project: Project, *args: int) -> str:
    return reverse(f"budget:{name}", args=[project.slug, *args])


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def work(project: Project) -> LineItem:
    made = builders.line(project, description="Pumping")
    let(made, 9_000, retention=5)
    return LineItem.objects.get(pk=made.pk)


@pytest.fixture
def everybody(lead: User, owner: User, bookkeeper: User, viewer: User, outsider: User) -> dict[str, Client]:
    people = {"lead": lead, "owner": owner, "bookkeeper": bookkeeper, "viewer": viewer, "outsider": outsider}
    return {name: signed_in(user) for name, user in people.items()}


@pytest.fixture
def clerk(bookkeeper: User) -> Client:
    return signed_in(bookkeeper)


@pytest.fixture
def chief(owner: User) -> Client:
    return signed_in(owner)


def typed(**told: Any) -> dict[str, Any]:
    """What a browser sends for an invoice of one line, unless the test says otherwise."""
    rows = told.pop("rows", [{"line": "L0101", "net": "4,000"}])
    data = {
        "vendor": "Aridlow", "number": "AR-7", "kind": "invoice", "invoiced_on": "2027-01-29", "currency": "GBP",
        "tax_percent": "20", "lines-TOTAL_FORMS": str(len(rows)), "lines-INITIAL_FORMS": "0", "enter": "1",
    }  # fmt: skip
    for place, row in enumerate(rows):
        data |= {f"lines-{place}-{name}": value for name, value in row.items()}
    return data | told


class TestWhoMayWhat:
    def test_every_member_reads_and_nobody_else(self, work: LineItem, everybody: dict[str, Client]):
        entered = invoice(work, 9_500)
        places = [address("invoices", work.project), address("past_invoices", work.project)]
        places.append(address("invoice", work.project, entered.pk))
        for name, client in everybody.items():
            codes = {client.get(place).status_code for place in places}
            assert codes == ({404} if name == "outsider" else {200}), name

    @pytest.mark.parametrize(
        ("deed", "who"),
        [
            ("new_invoice", {"lead", "bookkeeper"}),
            ("approve_invoice", {"lead", "owner"}),
            ("query_invoice", {"lead", "owner", "bookkeeper"}),
            ("take_up_invoice", {"lead", "owner", "bookkeeper"}),
            ("refuse_invoice", {"lead", "owner"}),
            ("explain_invoice", {"lead", "owner"}),
            ("pay", {"lead", "bookkeeper"}),
        ],
    )  # fmt: skip
    def test_what_each_role_may_do(self, work: LineItem, everybody: dict[str, Client], deed: str, who: set[str]):
        entered = invoice(work, 4_000, retention=200)
        place = address(deed, work.project, *([] if deed == "new_invoice" else [entered.pk]))
        assert {name for name in CAST if everybody[name].get(place).status_code == 200} == who
        assert {everybody[name].post(place, {}).status_code for name in set(CAST) - who} == {403}
        assert everybody["outsider"].get(place).status_code == 404

    def test_an_approval_is_put_aside_by_who_may_approve(self, work: LineItem, everybody: dict[str, Client]):
        place = address("query_invoice", work.project, approved(work, 4_000, retention=200).pk)
        assert {name for name in CAST if everybody[name].get(place).status_code == 200} == {"lead", "owner"}

    def test_buttons_are_those_that_work(self, work: LineItem, everybody: dict[str, Client]):
        place = address("invoice", work.project, invoice(work, 4_000, retention=200).pk)
        offered = {name: words(everybody[name].get(place)) for name in CAST}
        assert {name for name, page in offered.items() if "Approve for payment" in page} == {"lead", "owner"}
        assert {name for name, page in offered.items() if "Query it" in page} == {"lead", "owner", "bookkeeper"}
        assert "deeds no-print" in offered["viewer"] and "button--main" not in offered["viewer"]


class TestEntering:
    def test_what_is_left_empty_is_filled_in_by_what_was_agreed(self, clerk: Client, work: LineItem):
        clerk.post(address("new_invoice", work.project), typed())
        entered = Invoice.objects.get()
        row = entered.lines.get()
        assert (row.retention_quoted_minor, row.tax_quoted_minor, entered.state) == (20_000, 76_000, "waiting")

    def test_a_look_shows_the_verdict_and_keeps_nothing(self, clerk: Client, work: LineItem):
        answer = clerk.post(address("new_invoice", work.project), typed(look="1"))
        page = words(answer)
        assert answer.status_code == 200 and Invoice.objects.count() == 0
        assert "It fits: it can be approved and paid." in page and "£4,560.00" in page
        assert 'value="200.00"' in page and 'value="760.00"' in page

    def test_a_look_at_one_that_does_not_fit(self, clerk: Client, work: LineItem):
        rows = [{"line": "L0101", "net": "9,260"}]
        page = words(clerk.post(address("new_invoice", work.project), typed(look="1", rows=rows)))
        assert "Ask the vendor before anything is paid." in page
        assert "It takes Pumping £260 over what was agreed. " in page.replace("</p>", " ")

    def test_one_tax_for_several_lines_is_shared_out(self, clerk: Client, work: LineItem):
        other = builders.line(work.project, "L0102")
        let(other, 5_000)
        rows = [{"line": "L0101", "net": "100"}, {"line": "L0102", "net": "200.01"}, {"line": "", "net": ""}]
        clerk.post(address("new_invoice", work.project), typed(rows=rows, tax="59.01"))
        assert list(Invoice.objects.get().lines.values_list("tax_quoted_minor", flat=True).order_by("pk")) == [
            1_900,
            4_001,
        ]

    def test_a_credit_note_is_typed_without_its_minus(self, clerk: Client, work: LineItem):
        first = approved(work, 4_000, retention=200)
        form = words(clerk.get(address("new_invoice", work.project) + f"?credits={first.pk}"))
        assert 'value="AR-1-CN"' in form and f'value="{first.pk}"' in form
        rows = [{"line": "L0101", "net": "260"}]
        clerk.post(address("new_invoice", work.project), typed(kind="credit", credits=first.pk, rows=rows))
        credit = Invoice.objects.get(kind="credit")
        assert (credit.credits, credit.payable_quoted_minor) == (first, -31_200)

    def test_a_credit_of_another_vendors_invoice_is_refused_in_sight(self, clerk: Client, work: LineItem):
        first = approved(work, 4_000, retention=200)
        sent = typed(kind="credit", credits=first.pk, vendor="Brisewell", rows=[{"line": "L0101", "net": "260"}])
        answer = clerk.post(address("new_invoice", work.project), sent)
        assert answer.status_code == 422 and "credits an invoice of the same vendor" in words(answer)

    def test_a_number_that_is_there_is_refused_at_its_field(self, clerk: Client, work: LineItem):
        invoice(work, 1_000, number="AR 7", retention=50)
        answer = clerk.post(address("new_invoice", work.project), typed())
        assert (
            answer.status_code == 422 and "has sent AR 7 already" in words(answer) and 'value="4,000"' in words(answer)
        )

    @pytest.mark.parametrize(
        ("rows", "said"),
        [
            ([{"line": "nowhere", "net": "1"}], "No line is called that"),
            ([{"line": "L0101", "net": ""}], "Give the net amount"),
            ([{"line": "", "net": "5"}], "Choose the line"),
            ([{"line": "L0101", "net": "1", "change": "C99"}], "No change is called that"),
            ([{"line": "L0101", "net": "1e9"}], "not an amount"),
            ([{"line": "L0101", "net": "NaN"}], "not an amount"),
            ([{"line": "L0101", "net": "-5"}], "leave out the minus"),
            ([], "bills at least one line"),
        ],
    )  # fmt: skip
    def test_a_slip_is_said_where_it_is(self, clerk: Client, work: LineItem, rows: list, said: str):
        answer = clerk.post(address("new_invoice", work.project), typed(rows=rows))
        assert answer.status_code == 422 and said in words(answer) and Invoice.objects.count() == 0

    def test_a_further_line_without_script_keeps_what_was_typed(self, clerk: Client, work: LineItem):
        answer = clerk.post(address("new_invoice", work.project), typed(more_rows="lines"))
        assert answer.status_code == 200 and 'name="lines-1-net"' in words(answer) and 'value="4,000"' in words(answer)

    def test_a_photograph_survives_a_refusal(self, clerk: Client, work: LineItem):
        sent = typed(number="") | {"files": builders.upload("bill.png", builders.PNG)}
        page = words(clerk.post(address("new_invoice", work.project), sent))
        kept = work.project.attachments.get()
        assert "bill.png" in page and f'name="kept" value="{kept.pk}"' in page
        clerk.post(address("new_invoice", work.project), typed(kept=kept.pk))
        assert Invoice.objects.get().attachments.get().attachment == kept

    def test_it_can_be_taken_back_at_once_and_later_not(self, clerk: Client, chief: Client, work: LineItem):
        clerk.post(address("new_invoice", work.project), typed())
        first = Invoice.objects.get()
        clerk.post(address("undo_invoice", work.project, first.pk))
        first.refresh_from_db()
        assert first.state == "refused"
        clerk.post(address("new_invoice", work.project), typed())
        second = Invoice.objects.get(state="waiting")
        chief.post(address("approve_invoice", work.project, second.pk), {"version": second.version})
        clerk.post(address("undo_invoice", work.project, second.pk))
        second.refresh_from_db()
        assert second.state == "approved"


class TestDeciding:
    def test_one_that_fits_is_approved_by_one_press(self, chief: Client, work: LineItem):
        entered = invoice(work, 4_000, retention=200)
        chief.post(address("approve_invoice", work.project, entered.pk), {"version": "1"})
        assert Invoice.objects.get().state == "approved"

    def test_one_that_does_not_asks_for_a_reason(self, chief: Client, work: LineItem):
        entered = invoice(work, 9_260, retention=463)
        place = address("approve_invoice", work.project, entered.pk)
        assert chief.post(place, {"note": " ", "version": "1"}).status_code == 422
        chief.post(place, {"note": "a storm", "version": "1"})
        assert Invoice.objects.get().flagged
        assert "Let through, and still to be explained" in words(chief.get(address("invoices", work.project)))

    def test_a_stale_page_is_told_so(self, chief: Client, work: LineItem):
        entered = invoice(work, 4_000, retention=200)
        Invoice.objects.update(version=2)
        answer = chief.post(address("approve_invoice", work.project, entered.pk), {"version": "1"})
        assert answer.status_code == 422 and "worked on this invoice meanwhile" in words(answer)

    @pytest.mark.parametrize(
        ("deed", "state"), [("query_invoice", "queried"), ("refuse_invoice", "refused"), ("take_up_invoice", "waiting")]
    )
    def test_each_deed_takes_a_reason(self, lead: User, work: LineItem, deed: str, state: str):
        entered = approved(work, 4_000, retention=200)
        signed_in(lead).post(address(deed, work.project, entered.pk), {"note": "why not"})
        assert Invoice.objects.get().state == state

    def test_the_page_tells_why_and_what_to_send(self, clerk: Client, work: LineItem):
        entered = invoice(work, 9_260, number="<b>X</b>", retention=463)
        page = words(clerk.get(address("invoice", work.project, entered.pk)))
        assert "It takes Pumping £260 over what was agreed." in page
        assert "Please send a credit note for £260: &lt;b&gt;X&lt;/b&gt; bills that much for Pumping" in page
        assert "<b>X</b>" not in page and "data-copy" in page

    def test_an_invoice_of_another_project_is_not_there(self, chief: Client, work: LineItem, outsider: User):
        theirs = Project.objects.get(name="Elsewhere")
        entered = invoice(builders.line(theirs), 100)
        for deed in ("invoice", "approve_invoice", "query_invoice", "refuse_invoice", "explain_invoice"):
            assert chief.get(address(deed, work.project, entered.pk)).status_code == 404


class TestPaying:
    def test_the_whole_is_offered_and_a_part_can_be_paid(self, clerk: Client, work: LineItem):
        entered = approved(work, 4_000, retention=200)
        place = address("pay", work.project, entered.pk)
        assert 'value="3800.00"' in words(clerk.get(place))
        clerk.post(place, {"amount": "800", "paid_on": "2027-01-29"})
        assert Payment.objects.get().amount_quoted_minor == 80_000
        assert "Paid £800" in words(clerk.get(reverse("projects:trail", args=[work.project.slug])))

    def test_of_a_part_the_part_is_offered_and_why(self, clerk: Client, work: LineItem):
        entered = approved(work, 4_000)
        page = words(clerk.get(address("pay", work.project, entered.pk)))
        assert 'value="3800.00"' in page and "£200 should be held back on it" in page
        clerk.post(address("pay", work.project, entered.pk), {"amount": "3800", "paid_on": "2027-01-29"})
        assert 'value="200.00"' in words(clerk.get(address("pay", work.project, entered.pk)))

    def test_too_much_is_refused_at_its_field(self, clerk: Client, work: LineItem):
        entered = approved(work, 4_000, retention=200)
        answer = clerk.post(address("pay", work.project, entered.pk), {"amount": "3800.01", "paid_on": "2027-01-29"})
        assert answer.status_code == 422 and "At most £3,800 is open on it." in words(answer)

    def test_it_can_be_undone_and_taken_back(self, clerk: Client, work: LineItem):
        entered = approved(work, 4_000, retention=200)
        pay = address("pay", work.project, entered.pk)
        clerk.post(pay, {"amount": "800", "paid_on": "2027-01-29"})
        clerk.post(address("undo_payment", work.project, Payment.objects.get().pk))
        clerk.post(pay, {"amount": "900", "paid_on": "2027-01-29"})
        last = Payment.objects.order_by("pk").last()
        clerk.post(address("take_back_payment", work.project, last.pk), {"reason": "bounced"})
        assert list(Payment.objects.order_by("pk").values_list("amount_quoted_minor", flat=True)) == [
            80_000, -80_000, 90_000, -90_000,
        ]  # fmt: skip
        assert "takes one back" in words(clerk.get(address("invoice", work.project, entered.pk)))

    def test_a_credit_note_is_set_off(self, clerk: Client, work: LineItem):
        first = approved(work, 4_000, retention=200)
        credit = approved(work, -260, number="AR-1-CN", credits_id=first.pk)
        page = words(clerk.get(address("pay", work.project, credit.pk)))
        assert "got back or set off" in page and 'value="260.00"' in page
        clerk.post(address("pay", work.project, credit.pk), {"amount": "260", "paid_on": "2027-01-29"})
        assert Payment.objects.get().amount_quoted_minor == -26_000

    def test_the_rate_is_asked_for_another_currency_alone(self, clerk: Client, work: LineItem):
        abroad = builders.line(work.project, "L0102")
        let(abroad, 10_000, vendor="Becken", currency="EUR", rate=Decimal("0.86"))
        entered = approved(abroad, 3_000, vendor="Becken", currency="EUR", rate=Decimal("0.87"))
        assert "Rate of the day" in words(clerk.get(address("pay", work.project, entered.pk)))
        clerk.post(
            address("pay", work.project, entered.pk), {"amount": "3000", "paid_on": "2027-01-29", "rate": "0.88"}
        )
        assert Payment.objects.get().exchange_minor == 3_000


class TestBankDetails:
    def test_a_second_person_confirms_and_then_it_is_paid(self, clerk: Client, chief: Client, work: LineItem):
        clerk.post(address("new_invoice", work.project), typed(bank="GB33 BUKB 2020 1555 5555 55"))
        entered, kept = Invoice.objects.get(), VendorBank.objects.get()
        assert "Nobody has confirmed" in words(clerk.get(address("invoice", work.project, entered.pk)))
        confirm = address("confirm_bank", work.project, kept.pk)
        assert "somebody else has to confirm" in words(clerk.post(confirm, {"how": "rang"}))
        page = words(chief.get(confirm))
        assert "ending in 5555" in page and "never on one from the invoice" in page
        chief.post(confirm, {"how": "rang 01632 960000"})
        assert "confirmed" in words(clerk.get(address("vendor_bank", work.project, entered.vendor_id)))
        assert "Approve for payment" in words(chief.get(address("invoice", work.project, entered.pk)))

    def test_details_are_noted_apart_from_an_invoice(self, clerk: Client, work: LineItem):
        vendor = work.project.vendors.get()
        place = address("vendor_bank", work.project, vendor.pk)
        assert clerk.post(place, {"bank": "nothing"}).status_code == 422
        clerk.post(place, {"bank": "20-00-00 5555 0000"})
        assert VendorBank.objects.get().bank_shown == "…0000"

    def test_viewers_and_outsiders_are_kept_out(self, work: LineItem, everybody: dict[str, Client], lead: User):
        vendor = work.project.vendors.get()
        kept = banks.note_bank(vendor, "20-00-00 5555 0000", by=lead, now=NOW, today=TODAY)
        for place in (address("vendor_bank", work.project, vendor.pk), address("confirm_bank", work.project, kept.pk)):
            found = {name: client.get(place).status_code for name, client in everybody.items()}
            assert found == {"lead": 200, "owner": 200, "bookkeeper": 200, "viewer": 403, "outsider": 404}


class TestSeenDone:
    def test_a_look_with_a_photograph(self, chief: Client, work: LineItem):
        sent = {
            "percent": "30",
            "seen_on": "2027-01-29",
            "note": "first bay",
            "files": builders.upload("bay.png", builders.PNG),
        }
        chief.post(address("seen", work.project, work.pk), sent)
        row = Progress.objects.get()
        assert (row.seen_percent, row.attachment.name) == (Decimal(30), "bay.png")
        page = words(chief.get(address("line", work.project, work.pk)))
        assert "30% first bay" in page and "Note what is done" in page

    def test_bookkeepers_do_not_say_what_they_have_not_seen(self, clerk: Client, work: LineItem):
        assert clerk.get(address("seen", work.project, work.pk)).status_code == 403

    def test_a_slip_is_said_where_it_is(self, chief: Client, work: LineItem):
        answer = chief.post(address("seen", work.project, work.pk), {"percent": "130", "seen_on": "2027-01-29"})
        assert answer.status_code == 422 and Progress.objects.count() == 0


def test_the_lines_page_shows_what_was_billed(clerk: Client, work: LineItem):
    entered = invoice(work, 4_000, retention=200)
    page = words(clerk.get(address("line", work.project, work.pk)))
    assert address("invoice", work.project, entered.pk) in page and "£4,000.00" in page


def test_all_invoices_can_be_narrowed_to_a_vendor(clerk: Client, work: LineItem):
    invoice(work, 100, number="AR-1")
    invoice(work, 100, number="BR-1", vendor="Brisewell")
    page = words(clerk.get(address("past_invoices", work.project) + "?vendor=bris"))
    assert "BR-1" in page and "AR-1" not in page and "1 invoice of vendors called" in page


def test_the_queue_asks_as_much_of_ten_as_of_one(clerk: Client, work: LineItem):
    def asked() -> int:
        with CaptureQueriesContext(connection) as questions:
            clerk.get(address("invoices", work.project))
        return len(questions)

    invoice(work, 100, number="N-100")
    asked()
    first = asked()
    for place in range(9):
        invoice(work, 200 + place, number=f"N-{200 + place}")
    assert asked() == first
