"""A quantity at a rate. Our rule (ADR 0101): rounded once, half away from zero; the oracle is the decimal module."""

from decimal import ROUND_HALF_UP, Decimal

from hypothesis import given
from hypothesis import strategies as st

from decisions.calc.estimates import extended

FIGURE = st.decimals(min_value=0, max_value=100_000, places=4)


def test_by_hand():
    assert extended(Decimal("12.5"), Decimal("3.333"), currency="GBP") == 4166  # 41.6625
    assert extended(Decimal("3"), Decimal("2.5"), currency="JPY") == 8  # 7.5 yen
    assert extended(Decimal("0.5"), Decimal("0.001"), currency="KWD") == 1  # half a fils


@given(FIGURE, FIGURE)
def test_it_agrees_with_the_decimal_module(quantity: Decimal, rate: Decimal):
    cents = (quantity * rate).quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert extended(quantity, rate, currency="GBP") == int(cents * 100)


@given(FIGURE, FIGURE)
def test_the_order_does_not_matter(quantity: Decimal, rate: Decimal):
    assert extended(quantity, rate, currency="EUR") == extended(rate, quantity, currency="EUR")
