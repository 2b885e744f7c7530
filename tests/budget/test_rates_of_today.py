"""Rates of today and the lines let at them; the worked figures are those of ADR 0121."""

from decimal import Decimal

import pytest

from budget.models import LineItem, Movement
from budget.services import agreements, ledger, rates
from projects.faults import Refused
from projects.models import ExchangeRate, Project, Role, User
from projects.services import rates as budget_rates
from tests import builders
from tests.builders import NOW, TODAY


@pytest.fixture
def tank(project: Project, lead: User) -> LineItem:
    """155,200.00 EUR agreed at 0.86 is 133,472.00."""
    line = builders.line(project, budget=130_000)
    quote = builders.quote(line, 155_200, currency="EUR", rate=Decimal("0.86"))
    agreements.accept_quote(quote, by=lead, role=Role.OWNER, now=NOW, today=TODAY)
    return LineItem.objects.get(pk=line.pk)


def set_today(project: Project, by: User, rate: str, currency: str = "EUR") -> budget_rates.RateSet:
    return rates.set_today(
        project, currency=currency, rate=Decimal(rate), rated_on=TODAY, by=by, now=NOW, today=TODAY
    )  # fmt: skip


def test_what_is_not_billed_follows_the_rate_of_today(project: Project, bookkeeper: User, tank: LineItem):
    """Worked by hand: 155,200 × 0.014 = 2,172.80 dearer."""
    set_today(project, bookkeeper, "0.874")
    tank.refresh_from_db()
    assert (tank.likely_minor, tank.currency_minor, tank.agreed_minor) == (135_644_80, 2_172_80, 133_472_00)
    moved = Movement.objects.get(line=tank, cause="currency")
    assert (moved.amount_minor, moved.source, moved.note) == (2_172_80, "rate", "1 EUR = 0.874 GBP")
    assert ledger.unreconciled(project) == []


def test_the_rate_of_the_agreement_again_moves_it_back(project: Project, lead: User, tank: LineItem):
    set_today(project, lead, "0.874")
    set_today(project, lead, "0.86")
    tank.refresh_from_db()
    assert (tank.likely_minor, tank.currency_minor) == (133_472_00, 0)
    assert [row.amount_minor for row in Movement.objects.filter(cause="currency").order_by("pk")] == [
        2_172_80,
        -2_172_80,
    ]


def test_another_currency_and_the_same_rate_move_nothing(project: Project, lead: User, tank: LineItem):
    set_today(project, lead, "0.5", currency="USD")
    set_today(project, lead, "0.86")
    set_today(project, lead, "0.86")
    assert not Movement.objects.filter(cause="currency").exists()


def test_a_budget_rate_moves_no_agreement_and_stands_apart(project: Project, lead: User, tank: LineItem):
    set_today(project, lead, "0.874")
    given = {"currency": "EUR", "rated_on": TODAY, "by": lead, "now": NOW, "today": TODAY}
    budget_rates.set_rate(project, rate=Decimal("0.9"), **given)
    tank.refresh_from_db()
    assert tank.likely_minor == 135_644_80
    purposes = ExchangeRate.objects.filter(project=project).values_list("purpose", "rate")
    assert sorted(purposes) == [("budget", Decimal("0.9")), ("today", Decimal("0.874"))]


def test_a_first_rate_of_today_is_held_beside_the_budget_rate(project: Project, lead: User):
    given = {"currency": "EUR", "rated_on": TODAY, "by": lead, "now": NOW, "today": TODAY}
    budget_rates.set_rate(project, rate=Decimal("0.86"), **given)
    assert set_today(project, lead, "1.16").unusual and not set_today(project, lead, "1.14").unusual


def test_a_line_taken_back_does_not_follow(project: Project, lead: User, tank: LineItem):
    agreement = tank.agreement_lines.get().agreement
    agreements.reverse_agreement(agreement, reason="too dear", by=lead, now=NOW, today=TODAY)
    set_today(project, lead, "0.874")
    tank.refresh_from_db()
    assert tank.currency_minor == 0 and ledger.unreconciled(project) == []


@pytest.mark.parametrize("rate", ["NaN", "-1", "0", "Infinity", "1E+30"])
def test_a_rate_that_is_none_is_refused_and_nothing_moves(rate: str, project: Project, lead: User, tank: LineItem):
    with pytest.raises(Refused) as fault:
        set_today(project, lead, rate)
    assert fault.value.field == "rate"
    assert not ExchangeRate.objects.exists() and not Movement.objects.filter(cause="currency").exists()
