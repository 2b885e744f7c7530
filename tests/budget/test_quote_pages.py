"""Logging a quote and what follows: accepted, preferred, renewed, withdrawn, taken back."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from budget.models import Agreement, LineItem, OriginalQuote, Quote, QuoteExtra, QuoteItem, QuoteLine
from budget.selectors import overview
from budget.services import ledger, lines, slips
from projects.faults import Refused
from projects.models import Attachment, ExchangeRate, Project, User
from tests import builders
from tests.builders import NOW, TODAY, signed_in


def address(name: str, project: Project, *args: int) -> str:
    return reverse(f"budget:{name}", args=[project.slug, *args])


def counts(prefix: str, total: int) -> dict[str, str]:
    return {f"{prefix}-TOTAL_FORMS": str(total), f"{prefix}-INITIAL_FORMS": "0"}


def typed(line: LineItem, amount: str = "9,500", **more: Any) -> dict[str, Any]:
    """What somebody types to log a quote on one line; keyword names with `__` are fields of that line's row."""
    head = {
        "vendor": "Aridlow", "quoted_on": TODAY.isoformat(), "validity": "30", "lead_unit": "7", "basis": "firm", "currency": "GBP",
    }  # fmt: skip
    row = {"lines-0-line": f"{line.code} · {line.description}", "lines-0-amount": amount}
    rows = counts("lines", 1) | counts("lines-0-scope", 0) | counts("lines-0-extras", 0)
    named = {
        f"lines-0-{name[2:].replace('__', '-')}" if name.startswith("__") else name: value
        for name, value in more.items()
    }
    return head | rows | row | named


@pytest.fixture
def line(project: Project) -> LineItem:
    return builders.line(project, budget=10_000)


@pytest.fixture
def client(lead: User) -> Client:
    return signed_in(lead)


def log(client: Client, project: Project, data: dict[str, Any]) -> Any:
    return client.post(address("log_quote", project), data, follow=True)


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_a_quote_is_logged_and_the_page_says_what_it_moved(client: Client, project: Project, line: LineItem):
    answer = log(client, project, typed(line))
    quote = Quote.objects.get()
    assert (quote.valid_until, quote.lines.get().levelled_minor) == (TODAY + timedelta(days=30), 9_500_00)
    assert "moved from £10,000 to £9,500." in words(answer)
    assert reverse("budget:undo_quote", args=[project.slug, quote.pk]) in words(answer)


def test_the_form_starts_with_the_line_and_its_scope_list(client: Client, project: Project, line: LineItem, lead: User):
    lines.set_scope(line, [("Pump hire", None)], by=lead, now=NOW, today=TODAY)
    page = words(client.get(address("log_quote", project) + f"?line={line.pk}"))
    assert 'value="L0101 · Work L0101"' in page and "Pump hire" in page


def test_pieces_extras_and_a_foreign_rate_are_kept_as_given(client: Client, project: Project, line: LineItem):
    data = typed(
        line, "1,000.50", currency="USD", rate="0.79", lead="16", freight="100",
        **counts("lines-0-scope", 3), **counts("lines-0-extras", 1),
        **{
            "lines-0-scope-0-name": "Works check", "lines-0-scope-0-standing": "out",
            "lines-0-scope-1-name": "Bonding kit", "lines-0-scope-1-amount": "50",
            "lines-0-scope-2-name": "Spares", "lines-0-rest_in": "on",
            "lines-0-extras-0-kind": "duty", "lines-0-extras-0-name": "Duty", "lines-0-extras-0-amount": "65.30",
        },
    )  # fmt: skip
    log(client, project, data)
    quote = Quote.objects.get()
    said = dict(QuoteItem.objects.exclude(scope_item=None).values_list("scope_item__name", "standing"))
    assert said == {"Works check": "out", "Bonding kit": "priced", "Spares": "included"}
    assert (quote.rate, quote.lead_days, quote.freight_quoted_minor) == (Decimal("0.79"), 112, 100_00)
    assert QuoteItem.objects.get(scope_item=None).amount_quoted_minor == 1_000_50
    assert (QuoteExtra.objects.get().amount_minor, QuoteExtra.objects.get().kind) == (65_30, "duty")


def test_the_budget_rate_counts_when_none_is_given(client: Client, project: Project, line: LineItem, lead: User):
    ExchangeRate.objects.create(project=project, currency="EUR", rate=Decimal("0.86"), rated_on=TODAY, entered_at=NOW)
    log(client, project, typed(line, "100", currency="EUR"))
    assert QuoteLine.objects.get().levelled_minor == 86_00


def test_a_refusal_keeps_everything_typed(client: Client, project: Project, line: LineItem):
    answer = log(client, project, typed(line, "9.5k", vendor="Aridlow & Sons", note="by phone"))
    page = words(answer)
    assert answer.status_code == 422 and not Quote.objects.exists()
    assert 'value="9.5k"' in page and "Aridlow &amp; Sons" in page and "by phone" in page
    assert "Write the amount out in full" in page


def test_a_photograph_survives_a_refusal(client: Client, project: Project, line: LineItem):
    answer = log(client, project, typed(line, "", files=builders.upload("site.png", builders.PNG)))
    kept = Attachment.objects.get()
    assert answer.status_code == 422 and f'name="kept" value="{kept.pk}"' in words(answer)
    log(client, project, typed(line, kept=str(kept.pk)))
    assert Quote.objects.get().attachments.get().attachment == kept


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"vendor": " "}, "This field is required"),
        ({"lines-0-line": "Roof of the moon"}, "No line is called that"),
        ({"lines-0-line": ""}, "Choose the line that this amount is for"),
        ({"lines-0-amount": ""}, "Give the amount quoted"),
        ({"currency": "XXX"}, "Select a valid choice"),
        ({"currency": "USD"}, "Give the rate"),
        ({"validity": "date"}, "Give the date, or choose how long it holds"),
        ({"quoted_on": "2027-02-01"}, "out of range"),
        ({"validity": "date", "valid_until": "2027-01-01"}, "runs out before its own date"),
        ({"lines-TOTAL_FORMS": "x"}, "ManagementForm"),
    ],
)
def test_bad_entries_are_named_and_change_nothing(
    change: dict[str, str], fault: str, client: Client, project: Project, line: LineItem
):
    answer = log(client, project, typed(line) | change)
    assert answer.status_code == 422 and fault in words(answer)
    assert not Quote.objects.exists() and ledger.unreconciled(project) == []


def test_the_same_quote_twice_is_asked_about(client: Client, project: Project, line: LineItem):
    log(client, project, typed(line))
    assert "is logged already" in words(log(client, project, typed(line)))
    assert Quote.objects.count() == 1
    log(client, project, typed(line, again="on"))
    assert Quote.objects.count() == 2


def test_a_further_line_is_offered_without_judging(client: Client, project: Project, line: LineItem):
    page = words(log(client, project, typed(line, "nonsense", more_rows="lines")))
    assert "lines-1-line" in page and 'value="nonsense"' in page and "Nothing is saved yet" not in page


def test_a_look_brings_the_scope_list_of_a_typed_line(client: Client, project: Project, line: LineItem, lead: User):
    lines.set_scope(line, [("Pump hire", None)], by=lead, now=NOW, today=TODAY)
    page = words(log(client, project, typed(line, look="1")))
    assert "Pump hire" in page and not Quote.objects.exists()


def test_the_scope_part_is_fetched_for_a_line_just_named(client: Client, project: Project, line: LineItem, lead: User):
    lines.set_scope(line, [("Pump hire", None)], by=lead, now=NOW, today=TODAY)
    part = client.get(address("scope_part", project), {"prefix": "lines-3", "lines-3-line": "l0101"})
    assert "Pump hire" in words(part) and 'name="lines-3-scope-0-standing"' in words(part)
    assert client.get(address("scope_part", project), {"prefix": "<b>"}).status_code == 404


def test_an_expired_or_far_too_low_quote_is_logged_with_a_warning(client: Client, project: Project, line: LineItem):
    for vendor, amount in (("One", 10_000), ("Two", 10_100)):
        builders.quote(line, amount, vendor=vendor)
    page = words(
        log(client, project, typed(line, "4,000", validity="date", valid_until="2027-01-28", quoted_on="2027-01-01"))
    )
    assert "has run out already" in page and "ask, do not award" in page


def test_undo_takes_the_quote_and_its_yardstick_back(client: Client, project: Project, line: LineItem):
    log(client, project, typed(line))
    before = overview.overview(project).bridge
    client.post(address("undo_quote", project, Quote.objects.get().pk))
    line.refresh_from_db()
    assert (line.likely_minor, line.original_minor, line.state) == (10_000_00, None, "unquoted")
    assert Quote.objects.get().state == Quote.State.WITHDRAWN and before and overview.overview(project).bridge == ()
    assert ledger.unreconciled(project) == []


def test_after_an_undo_the_first_complete_quote_left_is_the_yardstick(project: Project, line: LineItem, lead: User):
    slip, right = builders.quote(line, 1), builders.quote(line, 9_000, vendor="Other")
    slips.take_back_log(slip, by=lead, now=NOW, today=TODAY)
    line.refresh_from_db()
    assert line.original_minor == 9_000_00 and OriginalQuote.objects.order_by("pk").last().quote == right


def test_a_quote_that_replaced_another_cannot_be_undone(project: Project, line: LineItem, lead: User):
    first = builders.quote(line, 9_000)
    second = builders.quote(line, 8_000, replaces_id=first.pk)
    with pytest.raises(Refused):
        slips.take_back_log(second, by=lead, now=NOW, today=TODAY)


def test_preferring_and_no_longer(client: Client, project: Project, line: LineItem):
    dear = builders.quote(line, 12_000)
    builders.quote(line, 9_000, vendor="Other")
    url = address("prefer", project, dear.pk, line.pk)
    client.post(url, {"preferred": "yes"})
    line.refresh_from_db()
    assert line.likely_minor == 12_000_00
    client.post(url, {"preferred": "no"})
    line.refresh_from_db()
    assert line.likely_minor == 9_000_00


def acceptance(line: LineItem, **more: str) -> dict[str, str]:
    row = {"lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "1", "lines-0-line_id": str(line.pk), "lines-0-taken": "on"}
    return row | {"agreed_on": TODAY.isoformat()} | more


def test_the_lead_accepts_within_the_limit(client: Client, project: Project, line: LineItem):
    quote = builders.quote(line, 9_000)
    data = acceptance(line, **{"lines-0-amount": "8,800", "retention_percent": "3"})
    answer = client.post(address("accept", project, quote.pk), data, follow=True)
    line.refresh_from_db()
    assert (line.agreed_minor, line.state) == (8_800_00, "agreed")
    assert Agreement.objects.get().retention_percent == 3 and "moved from £9,000 to £8,800" in words(answer)


def test_above_the_limit_the_lead_is_told_whom_to_ask(client: Client, project: Project, line: LineItem):
    quote = builders.quote(line, 26_000)
    assert "this is above what you may commit" in words(client.get(address("accept", project, quote.pk)))
    answer = client.post(address("accept", project, quote.pk), acceptance(line))
    assert answer.status_code == 422 and "ask an owner to accept it" in words(answer)
    assert not Agreement.objects.exists()


def test_an_owner_accepts_what_the_lead_prefers_and_nothing_else(
    client: Client, owner: User, project: Project, line: LineItem
):
    quote = builders.quote(line, 26_000)
    theirs = signed_in(owner)
    assert theirs.post(address("accept", project, quote.pk), acceptance(line)).status_code == 403
    client.post(address("prefer", project, quote.pk, line.pk), {"preferred": "yes"})
    assert theirs.post(address("accept", project, quote.pk), acceptance(line)).status_code == 302
    assert Agreement.objects.get().recorded_by == owner


def test_an_owner_cannot_slip_in_a_line_that_is_not_preferred(
    owner: User, client: Client, project: Project, line: LineItem
):
    other = builders.line(project, "L0102")
    quote = builders.quote(line, 1_000)
    client.post(address("prefer", project, quote.pk, line.pk), {"preferred": "yes"})
    answer = signed_in(owner).post(address("accept", project, quote.pk), acceptance(other))
    assert answer.status_code == 422 and not Agreement.objects.exists()


def test_nothing_ticked_is_refused(client: Client, project: Project, line: LineItem):
    quote = builders.quote(line, 9_000)
    data = acceptance(line)
    del data["lines-0-taken"]
    assert "Choose at least one line" in words(client.post(address("accept", project, quote.pk), data))


def test_an_acceptance_is_taken_back_with_a_reason(client: Client, project: Project, line: LineItem):
    quote = builders.quote(line, 9_000)
    client.post(address("accept", project, quote.pk), acceptance(line))
    url = address("take_back", project, Agreement.objects.get().pk)
    assert client.post(url, {"reason": ""}).status_code == 422
    client.post(url, {"reason": "they cannot come"})
    line.refresh_from_db()
    assert (line.agreed_minor, line.state) == (None, "quoted")


def test_renewing_and_withdrawing(client: Client, project: Project, line: LineItem):
    quote = builders.quote(line, 9_000)
    client.post(address("renew", project, quote.pk), {"valid_until": "2027-06-30", "note": "by phone"})
    quote.refresh_from_db()
    assert quote.valid_until.isoformat() == "2027-06-30"
    client.post(address("withdraw", project, quote.pk), {"reason": "gave up"})
    quote.refresh_from_db()
    assert quote.state == Quote.State.WITHDRAWN


def test_the_photograph_is_shown_on_the_quotes_page(client: Client, project: Project, line: LineItem):
    kept = builders.attachment(project, "site.png", builders.PNG)
    quote = builders.quote(line, 9_000, attachments=(kept.pk,))
    page = words(client.get(address("quote", project, quote.pk)))
    assert reverse("projects:file", args=[project.slug, kept.pk]) in page


def test_accepting_one_line_of_a_quote_leaves_the_others_without_it(client: Client, project: Project, line: LineItem):
    other = builders.line(project, "L0102", budget=5_000)
    log(client, project, typed(line) | counts("lines", 2) | counts("lines-1-scope", 0) | counts("lines-1-extras", 0) | {
        "lines-1-line": "L0102", "lines-1-amount": "4,000",
    })  # fmt: skip
    other.refresh_from_db()
    assert other.likely_minor == 4_000_00
    client.post(address("accept", project, Quote.objects.get().pk), acceptance(line))
    other.refresh_from_db()
    assert (other.likely_minor, other.state) == (5_000_00, "unquoted") and ledger.unreconciled(project) == []
    client.post(address("take_back", project, Agreement.objects.get().pk), {"reason": "both or none"})
    other.refresh_from_db()
    assert (other.likely_minor, other.state) == (4_000_00, "quoted")
