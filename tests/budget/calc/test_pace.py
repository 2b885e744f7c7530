"""The pace of the contingency against the work: by hand, by property, and against plain fractions."""

from decimal import Decimal
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from budget.calc.pace import pace

AMOUNT = st.integers(min_value=0, max_value=10**12)


def of(drawn: int, start: int, invoiced: int, likely: int):
    return pace(drawn_minor=drawn, start_minor=start, invoiced_minor=invoiced, likely_minor=likely)


def test_by_hand():
    """12,680 of 82,000 is 15.46 %, and 120,000 of 480,000 is a quarter."""
    seen = of(1_268_000, 8_200_000, 12_000_000, 48_000_000)
    assert (seen.used, seen.done, seen.faster) == (Decimal("0.155"), Decimal("0.250"), False)


def test_a_pot_that_goes_first_is_faster():
    assert of(60, 100, 50, 100).faster and not of(50, 100, 50, 100).faster


def test_nothing_set_aside_and_no_work_have_no_pace():
    assert of(0, 0, 5, 10) is None and of(5, 10, 0, 0) is None


def test_what_came_back_shows_as_less_than_nothing():
    assert of(-50, 100, 0, 100).used == Decimal("-0.500")


@given(AMOUNT, st.integers(1, 10**12), AMOUNT, st.integers(1, 10**12))
def test_a_share_is_the_fraction_to_half_a_thousandth(drawn: int, start: int, invoiced: int, likely: int):
    seen = of(drawn, start, invoiced, likely)
    for share, part, whole in ((seen.used, drawn, start), (seen.done, invoiced, likely)):
        assert abs(Fraction(share) - Fraction(part, whole)) <= Fraction(1, 2000)


@given(AMOUNT, st.integers(1, 10**12), st.integers(1, 1000))
def test_the_size_of_the_money_does_not_matter(drawn: int, start: int, times: int):
    assert of(drawn, start, 0, 1).used == of(drawn * times, start * times, 0, 1).used
