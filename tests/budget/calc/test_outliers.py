"""A quote far below the middle is named; the bound itself is not."""

from fractions import Fraction
from statistics import median

from hypothesis import given
from hypothesis import strategies as st

from budget.calc import outliers

AMOUNTS = st.dictionaries(st.text("abcdef", min_size=1, max_size=2), st.integers(0, 10**12), max_size=7)


@given(AMOUNTS.filter(lambda amounts: len(amounts) % 2 and len(amounts) > 2))
def test_it_agrees_with_the_standard_librarys_median(amounts: dict[str, int]):
    bound = Fraction(85, 100) * median(amounts.values())
    assert outliers.far_below(amounts) == {key for key, amount in amounts.items() if amount < bound}


@given(AMOUNTS)
def test_at_least_half_of_the_quotes_are_never_named(amounts: dict[str, int]):
    assert 2 * len(outliers.far_below(amounts)) <= len(amounts)


def test_two_quotes_have_no_middle_to_be_under():
    assert outliers.far_below({"a": 1, "b": 10_000}) == frozenset()
