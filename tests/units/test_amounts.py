"""Reading amounts as people write them.

The table is by hand, from common practice (no source); the property and the oracle are independent of the reader.
"""

import re
from decimal import Decimal

import pytest
from babel import Locale
from babel.numbers import format_currency, format_decimal
from hypothesis import given
from hypothesis import strategies as st

from units import amounts, money

AMOUNTS = st.integers(-amounts.LARGEST_MINOR, amounts.LARGEST_MINOR)
CODES = st.sampled_from(sorted(money.CURRENCIES))


READ = [
    ("12400", 1240000),
    ("12,400", 1240000),
    ("£12,400.00", 1240000),
    ("£ 12,400.5", 1240050),
    ("12 400", 1240000),
    ("12\u00a0400.00", 1240000),
    ("12\u202f400", 1240000),
    ("12'400.00", 1240000),
    ("GBP 12,400.00", 1240000),
    ("12400 gbp", 1240000),
    ("+5", 500),
    ("-5", -500),
    ("\u22125.00", -500),
    ("£-5", -500),
    ("-£5", -500),
    ("5.00-", -500),
    ("(5.00)", -500),
    ("(£1,234.56)", -123456),
    ("0", 0),
    ("0.05", 5),
    ("  7  ", 700),
]


@pytest.mark.parametrize(("text", "minor"), READ)
def test_what_can_be_read_in_one_way_is_read(text: str, minor: int):
    assert amounts.parse_amount(text, currency="GBP") == minor


REFUSED = [
    ("", "empty"),
    ("   ", "empty"),
    ("abc", "not a number"),
    ("NaN", "not a number"),
    ("Infinity", "not a number"),
    ("1e5", "not a number"),
    ("0x10", "not a number"),
    ("5 %", "not a number"),
    ("--5", "not a number"),
    ("(-5)-", "not a number"),
    ("12.-", "not a number"),
    ("£5£", "not a number"),
    ("=1+1", "not a number"),
    ("\u0661\u0662", "not a number"),
    ("1" * 61, "not a number"),
    ("18.9k", "shortened"),
    ("2m", "shortened"),
    ("€500", "other currency"),
    ("USD 500", "other currency"),
    ("1,23", "other mark"),
    ("1,23,456", "grouping"),
    ("12,400,00", "grouping"),
    ("1 2 3", "grouping"),
    ("0,123", "grouping"),
    ("1,234 567", "grouping"),
    ("1.234,56", "other mark"),
    ("1.234", "decimals"),
    ("1.000", "decimals"),
    ("12.345", "decimals"),
    ("99999999999999", "too large"),
]


@pytest.mark.parametrize(("text", "kind"), REFUSED)
def test_what_could_be_meant_in_two_ways_is_refused(text: str, kind: str):
    with pytest.raises(amounts.NotAnAmount) as fault:
        amounts.parse_amount(text, currency="GBP")
    assert fault.value.kind == kind


def test_the_mark_of_the_place_decides():
    assert amounts.parse_amount("1.234", currency="EUR", decimal_mark=",") == 123400
    assert amounts.parse_amount("1,234", currency="KWD") == 1234000
    assert amounts.parse_amount("1.234", currency="KWD") == 1234


def test_a_currency_without_cents_takes_none():
    assert amounts.parse_amount("¥1,200", currency="JPY") == 1200
    with pytest.raises(amounts.NotAnAmount, match="decimals"):
        amounts.parse_amount("1200.50", currency="JPY")


def test_grouping_by_two_is_read_where_it_is_the_custom():
    assert amounts.parse_amount("₹12,34,567.50", currency="INR") == 123456750


@given(AMOUNTS, CODES, st.sampled_from([".", ","]))
def test_what_stands_in_an_entry_reads_back(minor: int, currency: str, mark: str):
    text = amounts.for_entry(minor, currency=currency, decimal_mark=mark)
    assert amounts.parse_amount(text, currency=currency, decimal_mark=mark) == minor


@given(AMOUNTS, st.sampled_from(["en_GB", "de_DE", "fr_FR", "de_CH", "sv_SE", "en_ZA"]), CODES)
def test_what_babel_writes_is_read(minor: int, place: str, currency: str):
    """Oracle: Babel writes by the Unicode CLDR, unaware of our reader."""
    amount = Decimal(minor).scaleb(-money.digits(currency))
    text = format_decimal(amount, format="#,##0." + "0" * max(money.digits(currency), 1), locale=place)
    mark = Locale.parse(place).number_symbols["latn"]["decimal"]
    assert amounts.parse_amount(f"{currency} {text}", currency=currency, decimal_mark=mark) == minor


@given(AMOUNTS)
def test_pounds_and_dollars_as_babel_writes_them(minor: int):
    """Oracle: Babel, with the sign of the currency."""
    for currency, place in (("GBP", "en_GB"), ("USD", "en_US"), ("INR", "en_IN")):
        text = format_currency(Decimal(minor).scaleb(-2), currency, locale=place)
        assert amounts.parse_amount(text, currency=currency) == minor


@given(st.text(max_size=70))
def test_any_text_is_read_or_refused_with_a_kind(text: str):
    try:
        minor = amounts.parse_amount(text, currency="GBP")
    except amounts.NotAnAmount as fault:
        assert fault.kind
    else:
        assert abs(minor) <= amounts.LARGEST_MINOR and re.search("[0-9]", text)
