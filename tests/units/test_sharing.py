from fractions import Fraction
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.worked_tables import numbers, table
from units.money import round_minor
from units.sharing import NothingToShareOver, round_together, share_out

weights_of = st.lists(st.integers(0, 10**6), min_size=1, max_size=8).filter(any)


@pytest.mark.parametrize(
    "row", table("rounding.md", "Sharing out"), ids=lambda row: f"{row['total']} over {row['weights']}"
)
def test_sharing_as_worked_by_hand(row):
    assert list(share_out(int(row["total"]), numbers(row["weights"]))) == numbers(row["parts"])


def test_spare_cent_goes_to_the_earlier_line():
    assert share_out(1, [1, 1]) == (1, 0)


@given(st.integers(-(10**9), 10**9), weights_of)
def test_parts_add_up_and_none_is_a_whole_cent_off(total, weights):
    parts = share_out(total, weights)
    assert sum(parts) == total
    assert all(
        abs(part - Fraction(total * weight, sum(weights))) < 1 for part, weight in zip(parts, weights, strict=True)
    )


@given(st.integers(-(10**9), 10**9), weights_of)
def test_a_credit_undoes_the_charge(total, weights):
    assert share_out(-total, weights) == tuple(-part for part in share_out(total, weights))


@given(st.integers(0, 12), st.lists(st.integers(0, 5), min_size=1, max_size=3).filter(any))
def test_no_other_split_is_closer_to_the_exact_one(total, weights):
    """Oracle: every split into whole parts is tried; largest remainder is the one of least squared distance."""

    def off(parts):
        return sum(
            (part - Fraction(total * weight, sum(weights))) ** 2 for part, weight in zip(parts, weights, strict=True)
        )

    splits = [parts for parts in product(range(total + 1), repeat=len(weights)) if sum(parts) == total]
    assert off(share_out(total, weights)) == min(map(off, splits))


@pytest.mark.parametrize("weights", [[], [0], [0, 0]])
def test_nothing_to_share_over_is_refused(weights):
    with pytest.raises(NothingToShareOver):
        share_out(100, weights)


def test_a_negative_weight_is_refused():
    with pytest.raises(ValueError, match="below zero"):
        share_out(100, [2, -1])


@given(st.lists(st.integers(-(10**5), 10**5), max_size=7), st.integers(1, 60))
def test_amounts_rounded_together_add_up_to_their_rounded_sum(tops, bottom):
    rounded = round_together(tops, bottom)
    assert sum(rounded) == round_minor(Fraction(sum(tops), bottom))
    assert all(abs(whole - Fraction(top, bottom)) < 1 for whole, top in zip(rounded, tops, strict=True))


@given(st.lists(st.integers(-20, 20), min_size=1, max_size=4), st.integers(1, 7))
def test_no_other_rounding_together_is_closer(tops, bottom):
    """Oracle: every way to go up or down is tried."""
    exact = [Fraction(top, bottom) for top in tops]

    def off(rounded):
        return sum((whole - part) ** 2 for whole, part in zip(rounded, exact, strict=True))

    near = [(part.__floor__(), part.__ceil__()) for part in exact]
    ways = [way for way in product(*near) if sum(way) == round_minor(sum(exact))]
    assert off(round_together(tops, bottom)) == min(map(off, ways))


def test_a_negative_sum_is_rounded_as_its_opposite():
    assert round_together([-1, -1, -1], 3) == (-1, 0, 0)
