"""Logging quotes, keeping them comparable, and what the likely final makes of them."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from budget.models import LineItem, Movement, Quote, QuoteExtra, QuoteItem, QuoteLine, Vendor
from budget.services import ledger, lines, quotes
from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry, User
from tests import builders
from tests.builders import NOW, TODAY

Standing = QuoteItem.Standing


def fresh(line: LineItem) -> LineItem:
    return LineItem.objects.select_related("project").get(pk=line.pk)


def kept(quote: Quote) -> QuoteLine:
    return QuoteLine.objects.select_related("line__project", "quote__vendor").get(quote=quote)


def as_lead(lead: User) -> dict:
    return {"by": lead, "now": NOW, "today": TODAY}


def test_a_first_quote_moves_the_likely_final_and_becomes_the_original(project: Project) -> None:
    line = builders.line(project, budget=10_000)
    quote = builders.quote(line, 11_500)
    line = fresh(line)
    assert (line.state, line.likely_minor, line.original_minor) == ("quoted", 1_150_000, 1_150_000)
    movement = Movement.objects.get(line=line)
    assert (movement.cause, movement.amount_minor, movement.source_id) == ("quoted", 150_000, quote.pk)


def test_the_middle_quote_counts_and_of_two_the_lower(project: Project) -> None:
    line = builders.line(project)
    for vendor, amount in (("A", 9_000), ("B", 12_000)):
        builders.quote(line, amount, vendor=vendor)
    assert fresh(line).likely_minor == 900_000
    builders.quote(line, 10_500, vendor="C")
    assert fresh(line).likely_minor == 1_050_000


def test_the_original_quote_stays_when_a_cheaper_one_comes(project: Project) -> None:
    line = builders.line(project)
    builders.quote(line, 12_000, vendor="A")
    builders.quote(line, 9_000, vendor="B")
    assert fresh(line).original_minor == 1_200_000


def test_a_preferred_quote_wins_over_the_middle(project: Project, lead: User) -> None:
    line = builders.line(project)
    dear = builders.quote(line, 12_000, vendor="A")
    builders.quote(line, 9_000, vendor="B")
    quotes.prefer(kept(dear), preferred=True, **as_lead(lead))
    assert fresh(line).likely_minor == 1_200_000


def test_gaps_are_plugged_and_the_lowest_as_given_is_not_the_lowest(project: Project, lead: User) -> None:
    """Worked by hand: 9,000 without grout (1,800) against 10,200 with it."""
    line = builders.line(project)
    lines.set_scope(line, [("Grout", 180_000)], **as_lead(lead))
    bare = builders.quote(line, 9_000, vendor="A", scope=(quotes.ScopeDraft("Grout", Standing.OUT),))
    whole = builders.quote(line, 10_200, vendor="B", scope=(quotes.ScopeDraft("Grout", Standing.INCLUDED),))
    assert (kept(bare).levelled_minor, kept(whole).levelled_minor) == (1_080_000, 1_020_000)


def test_a_gap_nobody_prices_leaves_a_quote_incomplete_and_out_of_the_reckoning(project: Project, lead: User) -> None:
    line = builders.line(project, budget=10_000)
    lines.set_scope(line, [("Grout", None)], **as_lead(lead))
    builders.quote(line, 8_000, scope=(quotes.ScopeDraft("Grout", Standing.UNCLEAR),))
    assert (fresh(line).state, fresh(line).likely_minor, fresh(line).original_minor) == ("unquoted", 1_000_000, None)
    lines.set_scope(line, [("Grout", 50_000)], **as_lead(lead))
    assert (fresh(line).state, fresh(line).likely_minor, fresh(line).original_minor) == ("quoted", 850_000, 850_000)


def test_one_quote_over_two_lines_shares_its_freight_to_the_cent(project: Project, lead: User) -> None:
    """100.00 of freight over 2,000 and 1,000: 66.67 and 33.33."""
    first, second = builders.line(project, "L1"), builders.line(project, "L2")
    draft = quotes.QuoteDraft(
        vendor="A", currency="GBP", quoted_on=TODAY, freight_quoted_minor=10_000,
        lines=(quotes.QuotedLine(first.pk, 200_000), quotes.QuotedLine(second.pk, 100_000)),
    )  # fmt: skip
    quotes.log_quote(project, draft, **as_lead(lead))
    assert (fresh(first).likely_minor, fresh(second).likely_minor) == (206_667, 103_333)


def test_a_foreign_quote_keeps_its_currency_and_takes_the_rate(project: Project) -> None:
    line = builders.line(project)
    quote = builders.quote(line, 10_000, currency="EUR", rate=Decimal("0.86"))
    assert (quote.currency, quote.rate, kept(quote).net_minor) == ("EUR", Decimal("0.86"), 860_000)


def test_duty_is_added_after_the_rate_and_is_not_billed_by_the_vendor(project: Project) -> None:
    line = builders.line(project)
    duty = (quotes.ExtraDraft(QuoteExtra.Kind.DUTY, "Duty", 52_000),)
    row = kept(builders.quote(line, 10_000, currency="USD", rate=Decimal("0.8"), extras=duty))
    assert (row.net_minor, row.levelled_minor) == (800_000, 852_000)


def test_tax_inside_the_amount_is_taken_out(project: Project) -> None:
    line = builders.line(project)
    assert kept(builders.quote(line, 12_000, tax_inside_percent=Decimal(20))).net_minor == 1_000_000


def test_one_vendor_however_it_is_spelt(project: Project) -> None:
    line = builders.line(project)
    builders.quote(line, 9_000, vendor="Norrowby  Steel")
    builders.quote(line, 9_100, vendor="norrowby steel")
    assert Vendor.objects.filter(project=project).count() == 1


def test_a_quote_runs_out_on_the_day_after_its_last(project: Project) -> None:
    line = builders.line(project, budget=10_000)
    builders.quote(line, 9_000, valid_until=TODAY)
    ledger.bring_up_to(project, today=TODAY, at=NOW)
    assert fresh(line).likely_minor == 900_000
    ledger.bring_up_to(project, today=TODAY + timedelta(days=1), at=NOW)
    assert (fresh(line).state, fresh(line).likely_minor) == ("unquoted", 1_000_000)


def test_a_renewed_quote_counts_again(project: Project, lead: User) -> None:
    line = builders.line(project, budget=10_000)
    quote = builders.quote(line, 9_000, valid_until=TODAY)
    later = TODAY + timedelta(days=5)
    ledger.bring_up_to(project, today=later, at=NOW)
    quotes.renew_quote(quote, valid_until=later, note="by telephone", by=lead, now=NOW, today=later)
    assert fresh(line).likely_minor == 900_000
    assert quote.renewals.get().was_until == TODAY


def test_a_quote_that_replaces_another_takes_its_preference(project: Project, lead: User) -> None:
    line = builders.line(project)
    old = builders.quote(line, 9_000)
    quotes.prefer(kept(old), preferred=True, **as_lead(lead))
    new = builders.quote(line, 9_400, replaces_id=old.pk)
    old.refresh_from_db()
    assert (old.state, kept(new).preferred, fresh(line).likely_minor) == ("replaced", True, 940_000)


def test_withdrawing_a_quote_moves_the_likely_final_back(project: Project, lead: User) -> None:
    line = builders.line(project, budget=10_000)
    quote = builders.quote(line, 9_000)
    quotes.withdraw_quote(quote, reason="typed on the wrong line", **as_lead(lead))
    assert fresh(line).likely_minor == 1_000_000
    assert [row.amount_minor for row in Movement.objects.filter(line=line).order_by("pk")] == [-100_000, 100_000]


GOOD = quotes.QuoteDraft(vendor="A", currency="GBP", quoted_on=TODAY, lines=())
BAD = [
    ("vendor", {"vendor": " "}),
    ("vendor", {"vendor": "x" * 161}),
    ("currency", {"currency": "GBQ"}),
    ("currency", {"currency": "£"}),
    ("rate", {"currency": "PLN"}),
    ("rate", {"currency": "EUR", "rate": Decimal(-1)}),
    ("quoted_on", {"quoted_on": TODAY + timedelta(days=1)}),
    ("quoted_on", {"quoted_on": date(1066, 10, 14)}),
    ("valid_until", {"valid_until": TODAY - timedelta(days=1)}),
    ("valid_until", {"valid_until": date(9999, 1, 1)}),
    ("discount", {"discount_quoted_minor": -1}),
    ("freight", {"freight_quoted_minor": 10**15}),
    ("tax_percent", {"tax_percent": Decimal(101)}),
    ("lines", {"lines": ()}),
    ("lines", {"lines": (quotes.QuotedLine(10**9, 5),)}),
]


@pytest.mark.parametrize(("field", "change"), BAD)
def test_a_bad_quote_is_refused_at_its_field_and_changes_nothing(
    project: Project, lead: User, field: str, change: dict
) -> None:
    line = builders.line(project)
    draft = replace(GOOD, lines=(quotes.QuotedLine(line.pk, 100),)) if "lines" not in change else GOOD
    before = TrailEntry.objects.count()
    with pytest.raises(Refused) as said:
        quotes.log_quote(project, replace(draft, **change), **as_lead(lead))
    assert said.value.field == field and said.value.message
    assert (Quote.objects.count(), Vendor.objects.count(), TrailEntry.objects.count()) == (0, 0, before)


@pytest.mark.parametrize("amount", [-1, 10**14, None])
def test_a_negative_absurd_or_missing_amount_is_refused(project: Project, lead: User, amount: int | None) -> None:
    line = builders.line(project)
    with pytest.raises(Refused) as said:
        quotes.log_quote(project, replace(GOOD, lines=(quotes.QuotedLine(line.pk, amount),)), **as_lead(lead))
    assert said.value.field == "amount"


def test_a_line_of_another_project_cannot_be_quoted(project: Project, lead: User, outsider: User) -> None:
    theirs = builders.line(Project.objects.exclude(pk=project.pk).get())
    with pytest.raises(Refused):
        quotes.log_quote(project, replace(GOOD, lines=(quotes.QuotedLine(theirs.pk, 100),)), **as_lead(lead))


def test_an_entry_that_somebody_priced_stays_on_the_scope_list(project: Project, lead: User) -> None:
    line = builders.line(project)
    builders.quote(line, 9_000, scope=(quotes.ScopeDraft("Grout", Standing.PRICED, 100),))
    with pytest.raises(Refused, match="Grout"):
        lines.set_scope(line, [("Bolts", None)], **as_lead(lead))


def test_the_second_to_save_a_line_is_told_and_overwrites_nothing(project: Project, lead: User) -> None:
    line = builders.line(project)
    edit = {"unit": "m", "quantity": Decimal("2.5"), "plug_rule": "median", "version": line.version} | as_lead(lead)
    lines.edit_line(line, description="Mine", **edit)
    with pytest.raises(Stale) as said:
        lines.edit_line(line, description="Theirs", **edit)
    assert said.value.theirs["description"] == fresh(line).description == "Mine"


def test_work_added_since_is_a_movement_of_scope_and_leaves_the_first_budget(project: Project) -> None:
    line = builders.line(project, budget=0, added_minor=320_000)
    assert (fresh(line).budget_minor, fresh(line).likely_minor) == (0, 320_000)
    assert Movement.objects.get(line=line).cause == "scope"


def test_an_own_forecast_stands_over_quotes_until_it_is_lifted(project: Project, lead: User) -> None:
    line = builders.line(project)
    builders.quote(line, 9_000)
    lines.forecast_own(line, amount_minor=950_000, reason="steel is rising", **as_lead(lead))
    assert (fresh(line).state, fresh(line).likely_minor) == ("own forecast", 950_000)
    lines.forecast_own(line, amount_minor=None, reason="quoted anew", **as_lead(lead))
    assert fresh(line).likely_minor == 900_000
    assert [m.cause for m in Movement.objects.filter(line=line).order_by("pk")][1:] == ["re-forecast", "re-forecast"]
