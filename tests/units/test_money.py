from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from babel.core import get_global
from babel.numbers import get_currency_precision, get_territory_currencies, list_currencies
from hypothesis import given
from hypothesis import strategies as st

from tests.worked_tables import table
from units import money

#: Currencies for which the locale data rounds further than ISO 4217 does, because small coins are out of use there.
CUSTOMARILY_WITHOUT_DIGITS = {"AFN", "ALL", "IQD", "IRR", "KPW", "LAK", "LBP", "MGA", "MMK", "RSD", "SOS", "SYP", "YER"}


@pytest.mark.parametrize("row", table("rounding.md", "Rounding"), ids=lambda row: row["exact"])
def test_rounding_as_worked_by_hand(row):
    assert money.round_minor(Decimal(row["exact"])) == int(row["rounded"])


@given(st.decimals(min_value=-(10**15), max_value=10**15, places=6))
def test_rounding_agrees_with_the_standard_decimal_library(exact):
    assert money.round_minor(exact) == int(exact.quantize(Decimal(1), rounding=ROUND_HALF_UP))


@given(st.fractions())
def test_rounding_is_at_most_half_off_and_symmetric(exact):
    assert abs(money.round_minor(exact) - exact) <= Fraction(1, 2)
    assert money.round_minor(-exact) == -money.round_minor(exact)


def test_every_known_currency_is_in_the_locale_data():
    """Source: Unicode CLDR by way of Babel."""
    assert set(money.CURRENCIES) <= set(list_currencies())


def test_every_legal_tender_of_today_is_known():
    """Source: CLDR, which still lists the lev; Bulgaria gave it up for the euro on 2026-01-01 (from memory)."""
    tender = {
        code
        for land in get_global("territory_currencies")
        for code in get_territory_currencies(land, date(2026, 11, 25))
    }
    assert tender - set(money.CURRENCIES) == {"BGN"}


def test_digits_are_those_of_the_locale_data_but_for_worn_out_coins():
    """Source: CLDR; ISO 4217 from memory where the two differ."""
    differ = {code for code, digits in money.CURRENCIES.items() if digits != get_currency_precision(code)}
    assert differ == CUSTOMARILY_WITHOUT_DIGITS


@pytest.mark.parametrize("code", ["", "gbp", "XXX", "XAU", "EURO", None, 7])
def test_an_unknown_currency_is_refused(code):
    with pytest.raises(money.UnknownCurrency):
        money.digits(code)


@given(st.integers(-(10**18), 10**18), st.sampled_from(sorted(money.CURRENCIES)))
def test_text_and_minor_units_are_each_others_inverse(minor, currency):
    assert money.to_minor(Decimal(money.as_text(minor, currency=currency)), currency=currency) == minor


@pytest.mark.parametrize(
    ("amount", "currency"), [("0.001", "GBP"), ("0.5", "JPY"), ("1.0005", "KWD"), ("NaN", "GBP"), ("Infinity", "GBP")]
)
def test_an_amount_that_is_no_whole_minor_unit_is_refused(amount, currency):
    with pytest.raises(money.NotWholeMinor):
        money.to_minor(Decimal(amount), currency=currency)


@given(
    st.integers(-(10**15), 10**15),
    st.decimals(min_value="0.0001", max_value=10000, places=6),
    st.sampled_from(["GBP", "JPY", "KWD"]),
    st.sampled_from(["GBP", "JPY", "KWD"]),
)
def test_conversion_agrees_with_major_units_worked_in_decimals(minor, rate, source, target):
    major = Decimal(minor).scaleb(-money.digits(source)) * rate
    expected = major.scaleb(money.digits(target)).quantize(Decimal(1), rounding=ROUND_HALF_UP)
    assert money.convert(minor, from_currency=source, to_currency=target, rate=rate) == int(expected)


def test_money_of_two_currencies_is_never_mixed():
    pounds, euros = money.Money(100, "GBP"), money.Money(100, "EUR")
    for mix in (lambda: pounds + euros, lambda: pounds - euros, lambda: pounds < euros, lambda: pounds >= euros):
        with pytest.raises(money.CurrenciesDiffer):
            mix()


@given(st.integers(), st.integers())
def test_money_adds_and_compares_like_its_minor_units(one, other):
    a, b = money.Money(one, "GBP"), money.Money(other, "GBP")
    assert ((a + b).minor, (a - b).minor, (-a).minor) == (one + other, one - other, -one)
    assert (a < b, a <= b, a > b, a >= b) == (one < other, one <= other, one > other, one >= other)


def test_money_is_written_with_its_currency():
    assert str(money.Money(-5, "KWD")) == "-0.005 KWD"
