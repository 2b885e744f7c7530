"""Agreements at dates and by ways that do not hold."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from budget.models import Agreement
from budget.services import agreements, ledger, quotes
from decisions.services import records
from projects.faults import Refused
from projects.models import Project, Role, User
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building


@pytest.mark.parametrize("on", [TODAY + timedelta(days=1), TODAY - timedelta(days=1), date.min, date.max])
def test_an_agreement_lies_between_the_quote_and_today(project: Project, lead: User, on: date) -> None:
    quote = builders.quote(builders.line(project), 9_000, valid_until=None)
    with pytest.raises(Refused) as caught:
        agreements.accept_quote(quote, by=lead, role=Role.LEAD, now=NOW, today=TODAY, agreed_on=on)
    assert caught.value.field == "agreed_on" and Agreement.objects.count() == 0


@pytest.mark.parametrize("percent", [Decimal("NaN"), Decimal("100.0001"), Decimal(-1)])
def test_a_retention_is_a_percentage(project: Project, lead: User, percent: Decimal) -> None:
    quote = builders.quote(builders.line(project), 9_000)
    terms = agreements.Terms(retention_percent=percent)
    with pytest.raises(Refused) as caught:
        agreements.accept_quote(quote, by=lead, role=Role.LEAD, now=NOW, today=TODAY, terms=terms)
    assert caught.value.field == "retention_percent"


def test_what_a_decision_accepted_is_taken_back_by_reopening_it_alone(project: Project, lead: User) -> None:
    decision = building.tank(project)
    building.record(decision, "B")
    who = {"by": lead, "now": NOW, "today": TODAY}
    with pytest.raises(Refused, match=f"Decision {decision.code} accepted this quote"):
        agreements.reverse_agreement(Agreement.objects.get(), reason="too dear", **who)
    records.reopen(decision, reason="too dear", **who)
    assert ledger.unreconciled(project) == [] and Agreement.objects.filter(reversal=None).count() == 0


def test_the_rest_of_a_quote_accepted_in_part_is_not_accepted_beside_it(project: Project, lead: User) -> None:
    first, second = builders.line(project, "L0101"), builders.line(project, "L0102")
    rows = (quotes.QuotedLine(first.pk, 100_000), quotes.QuotedLine(second.pk, 200_000))
    draft = quotes.QuoteDraft("Aridlow", "GBP", TODAY, rows)
    quote = quotes.log_quote(project, draft, by=lead, now=NOW, today=TODAY)
    who = {"by": lead, "role": Role.LEAD, "now": NOW, "today": TODAY}
    agreements.accept_quote(quote, terms=agreements.Terms(only=frozenset({first.pk})), **who)
    with pytest.raises(Refused, match="accepted; only an open quote"):
        agreements.accept_quote(quote, terms=agreements.Terms(only=frozenset({second.pk})), **who)
    assert ledger.unreconciled(project) == []


def test_a_withdrawn_quote_is_not_accepted(project: Project, lead: User) -> None:
    quote = builders.quote(builders.line(project), 9_000)
    quotes.withdraw_quote(quote, reason="sold out", by=lead, now=NOW, today=TODAY)
    with pytest.raises(Refused, match="withdrawn; only an open quote"):
        agreements.accept_quote(quote, by=lead, role=Role.LEAD, now=NOW, today=TODAY)
