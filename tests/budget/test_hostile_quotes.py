"""Quotes and lines that no form would send, but a script, a slip or a race might: each is refused with a sentence."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from budget.models import LineItem, Quote, QuoteLine
from budget.services import ledger, lines, quotes
from projects.faults import Refused
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY
from units.amounts import LARGEST_MINOR

#: Digits that `Decimal` takes and no column should.
NO_NUMBERS = (Decimal("NaN"), Decimal("sNaN"), Decimal("Infinity"), Decimal("-Infinity"))


def draft(line: LineItem, amount: int | None, **terms: Any) -> quotes.QuoteDraft:
    row = quotes.QuotedLine(line.pk, amount, scope=terms.pop("scope", ()), extras=terms.pop("extras", ()))
    plain = {"vendor": "Aridlow", "currency": "GBP", "quoted_on": TODAY, "lines": (row,)}
    return quotes.QuoteDraft(**plain | terms)


@pytest.fixture
def line(project: Project) -> LineItem:
    return builders.line(project)


@pytest.fixture
def log(project: Project, lead: User) -> Callable[[quotes.QuoteDraft], Quote]:
    return lambda given: quotes.log_quote(project, given, by=lead, now=NOW, today=TODAY)


def refused(field: str, deed: Callable[..., Any], *args: Any, **kwargs: Any) -> None:
    with pytest.raises(Refused) as caught:
        deed(*args, **kwargs)
    assert caught.value.field == field and caught.value.message


@pytest.mark.parametrize(
    "terms",
    [
        {"currency": "USD", "rate": Decimal(999_999)},
        {"currency": "JPY", "rate": Decimal(2)},
        {"tax_percent": Decimal(1)},
        {"freight_quoted_minor": 1},
    ],
)
def test_what_a_rate_or_a_tax_lifts_above_every_build_is_refused(line: LineItem, log: Any, terms: dict) -> None:
    refused("amount", log, draft(line, LARGEST_MINOR, **terms))
    assert Quote.objects.count() == 0


def test_the_largest_amount_itself_is_kept_to_the_cent(line: LineItem, log: Any) -> None:
    log(draft(line, LARGEST_MINOR))
    line.refresh_from_db()
    assert line.likely_minor == LARGEST_MINOR and ledger.unreconciled(line.project) == []


@pytest.mark.parametrize(
    "discount",
    [
        {"discount_quoted_minor": 1_001},
        {"discount_quoted_minor": 600, "discount_percent": Decimal(60)},
        {"discount_quoted_minor": 1, "discount_percent": Decimal(100)},
    ],
)
def test_a_discount_above_what_is_priced_is_refused(line: LineItem, log: Any, discount: dict) -> None:
    refused("discount", log, draft(line, 1_000, **discount))


def test_a_discount_of_all_that_is_priced_is_a_gift(line: LineItem, log: Any) -> None:
    log(draft(line, 1_000, discount_quoted_minor=600, discount_percent=Decimal(40)))
    line.refresh_from_db()
    assert line.likely_minor == 0


def test_freight_on_a_quote_at_no_charge_is_paid(line: LineItem, log: Any) -> None:
    log(draft(line, 0, freight_quoted_minor=500))
    line.refresh_from_db()
    assert line.likely_minor == 500


def test_one_piece_of_the_work_named_twice_is_refused(line: LineItem, log: Any) -> None:
    twice = (quotes.ScopeDraft("Grout", "priced", 5), quotes.ScopeDraft(" grout", "included"))
    refused("scope", log, draft(line, 1_000, scope=twice))


def test_a_vendor_whose_name_grows_when_written_small_is_refused(line: LineItem, log: Any) -> None:
    refused("vendor", log, draft(line, 1_000, vendor="ß" * 160))


@pytest.mark.parametrize("number", [*NO_NUMBERS, Decimal("100.0000001"), Decimal("-0.1")])
def test_a_percentage_outside_its_range_is_refused(line: LineItem, log: Any, number: Decimal) -> None:
    refused("tax_percent", log, draft(line, 1_000, tax_percent=number))


@pytest.mark.parametrize("number", [*NO_NUMBERS, Decimal(0), Decimal("-0"), Decimal(10**6), Decimal("1E+999999999")])
def test_a_rate_that_is_none_is_refused(line: LineItem, log: Any, number: Decimal) -> None:
    refused("rate", log, draft(line, 1_000, currency="USD", rate=number))


def test_a_rate_of_too_many_digits_is_refused(line: LineItem, log: Any) -> None:
    refused("rate", log, draft(line, 1_000, currency="USD", rate=Decimal("0." + "1" * 40)))


@pytest.mark.parametrize(("field", "longest"), [("reference", 60), ("payment_terms", 200), ("delivery_terms", 100)])
def test_words_longer_than_their_column_are_refused(line: LineItem, log: Any, field: str, longest: int) -> None:
    refused(field, log, draft(line, 1_000, **{field: "x" * (longest + 1)}))


def test_a_quote_is_replaced_once(line: LineItem, log: Any) -> None:
    old = log(draft(line, 1_000))
    log(draft(line, 900, replaces_id=old.pk))
    refused("replaces", log, draft(line, 800, replaces_id=old.pk))


def test_a_quote_of_another_project_is_not_replaced(line: LineItem, log: Any, outsider: User) -> None:
    theirs = builders.quote(builders.line(outsider.memberships.get().project), 100)
    refused("replaces", log, draft(line, 800, replaces_id=theirs.pk))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("code", "x" * 21),
        ("description", "y" * 201),
        ("unit", "u" * 21),
        ("kind", "luxury"),
        ("quantity", Decimal("NaN")),
        ("quantity", Decimal("1E+999999999")),
        ("quantity", Decimal(-1)),
    ],
)
def test_a_line_that_does_not_fit_its_columns_is_refused(project: Project, lead: User, field: str, value: Any) -> None:
    builders.trade(project)
    plain = {"trade_code": "T01", "code": "L9", "description": "Slab"}
    refused(field, lines.add_line, project, lines.LineDraft(**plain | {field: value}), by=lead, now=NOW, today=TODAY)


def test_a_trade_that_does_not_fit_its_columns_is_refused(project: Project, lead: User) -> None:
    refused("code", lines.add_trade, project, by=lead, now=NOW, code="T" * 13, name="Steel")
    refused("name", lines.add_trade, project, by=lead, now=NOW, code="T77", name="S" * 121)


def test_nothing_is_reckoned_for_a_line_that_was_taken_off_meanwhile(line: LineItem, lead: User) -> None:
    LineItem.objects.filter(pk=line.pk).update(removed_on=TODAY)
    who = {"by": lead, "now": NOW, "today": TODAY}
    refused("", lines.estimate, line, amount_minor=5, basis="a call", on=TODAY, **who)
    refused("", lines.forecast_own, line, amount_minor=5, reason="a feeling", **who)
    refused("", lines.set_scope, line, [("Grout", None)], **who)


def test_savings_are_not_measured_against_a_quote_that_was_withdrawn_meanwhile(line: LineItem, lead: User) -> None:
    builders.quote(line, 9_000)
    gone = builders.quote(line, 8_000, vendor="Norrowby")
    kept = QuoteLine.objects.get(quote=gone)
    quotes.withdraw_quote(gone, reason="sold out", by=lead, now=NOW, today=TODAY)
    refused("quote", lines.choose_original, kept, reason="lower", by=lead, now=NOW, today=TODAY)


def test_a_quote_dated_ahead_or_long_gone_is_refused(line: LineItem, log: Any) -> None:
    refused("quoted_on", log, draft(line, 1_000, quoted_on=TODAY + timedelta(days=1)))
    refused("quoted_on", log, draft(line, 1_000, quoted_on=TODAY.min))
    refused("valid_until", log, draft(line, 1_000, valid_until=TODAY.max))
