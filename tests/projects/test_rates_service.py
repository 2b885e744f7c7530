"""Exchange rates: written once, the newest stands; against the rules of the house (no outside source)."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects import selectors
from projects.calc.rates import is_unusual
from projects.faults import Refused
from projects.models import ExchangeRate, Project, User
from projects.services import rates
from tests.builders import NOW, TODAY


def set_rate(project: Project, by: User, **changes: Any) -> rates.RateSet:
    given = {"currency": "EUR", "rate": Decimal("0.86"), "rated_on": TODAY} | changes
    return rates.set_rate(project, by=by, now=NOW, today=TODAY, **given)


def test_the_newest_rate_stands(project: Project, lead: User):
    set_rate(project, lead, rate=Decimal("0.90"))
    set_rate(project, lead, rate=Decimal("0.85"), rated_on=TODAY - timedelta(days=30))
    shown = [(row.rate, row.stands) for row in selectors.rates(project)]
    assert shown == [(Decimal("0.90"), True), (Decimal("0.85"), False)]
    assert project.trail.filter(subject="rate").count() == 2


def test_a_rate_is_exact(project: Project, lead: User):
    set_rate(project, lead, rate=Decimal("0.123456789012"))
    assert ExchangeRate.objects.get().rate == Decimal("0.123456789012")


def test_an_odd_rate_is_kept_and_pointed_out(project: Project, lead: User):
    assert not set_rate(project, lead).unusual
    assert set_rate(project, lead, rate=Decimal("1.16")).unusual


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"currency": "XXX"}, "currency"),
        ({"currency": "GBP"}, "currency"),
        ({"rate": Decimal(0)}, "rate"),
        ({"rate": Decimal(-1)}, "rate"),
        ({"rate": Decimal("NaN")}, "rate"),
        ({"rate": Decimal("Infinity")}, "rate"),
        ({"rate": Decimal(10**10)}, "rate"),
        ({"rate": Decimal("0.1234567890123")}, "rate"),
        ({"rated_on": TODAY + timedelta(days=1)}, "rated_on"),
        ({"rated_on": date(1900, 1, 1)}, "rated_on"),
    ],
)
def test_a_slip_is_refused_at_its_field(changes: dict[str, Any], field: str, project: Project, lead: User):
    with pytest.raises(Refused) as fault:
        set_rate(project, lead, **changes)
    assert fault.value.field == field and not ExchangeRate.objects.exists()


POSITIVE = st.decimals("0.000001", "1000000", places=6)


@given(POSITIVE, POSITIVE)
def test_unusual_is_more_than_a_fifth_away(before: Decimal, rate: Decimal):
    """Oracle: the same bound as two comparisons in fractions."""
    low, high = before * 4 / 5, before * 6 / 5
    assert is_unusual(rate, before) == (not low <= rate <= high)


@given(POSITIVE)
def test_without_an_earlier_rate_none_is_unusual(rate: Decimal):
    assert not is_unusual(rate, None)
