"""Stated totals proved, and the row that breaks one named: planted slips are found, whatever the sheet."""

from itertools import combinations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from budget.calc.sheets.proofs import Blame, Counted, Proof, Stated, prove

AMOUNTS = [100, 250, 70, 1230]


def rows(amounts: list[int], *, out: frozenset[int] = frozenset()) -> list[Counted | Stated]:
    return [Counted(number, minor, number not in out) for number, minor in enumerate(amounts, start=2)]


def total(amounts: list[int], stated: int, **more: frozenset[int]) -> Proof:
    return prove(2, "GBP", [*rows(amounts, **more), Stated(99, "TOTAL", "total", stated)])[0]


@pytest.mark.parametrize(
    ("stated", "blames"),
    [
        (1650, ()),
        (1550, (Blame("left out", (2,)),)),
        (1720, (Blame("twice", (4,)),)),
        (420, (Blame("left out", (5,)),)),  # one row comes before a range that ends early
        (350, (Blame("ends early", (3,)),)),
        (1300, (Blame("begins late", (4,)),)),
        (2280, (Blame("slip", (4,)),)),
        (1490, ()),
        (1330, (Blame("left out", (3, 4)),)),
    ],
)
def test_the_worked_slips(stated: int, blames: tuple[Blame, ...]):
    """Worked by hand from 100 + 250 + 70 + 1,230 = 1,650."""
    assert total(AMOUNTS, stated).blames == blames


def test_a_total_that_counts_a_row_left_out_by_an_answer_says_so():
    proof = total([*AMOUNTS, 500], 2150, out=frozenset({6}))
    assert (proof.found, proof.with_asked, proof.blames) == (1650, 2150, (Blame("asked", (6,)),))


def test_a_sub_total_is_of_the_rows_since_the_last_one_and_a_total_of_all():
    sheet = [
        *rows([100, 50]), Stated(4, "Sub-total", "sub-total", 150), Counted(5, 30, True), Stated(6, "Sub-total", "sub-total", 30),
        Stated(7, "Total", "total", 180),
    ]  # fmt: skip
    assert [proof.holds for proof in prove(2, "GBP", sheet)] == [True, True, True]


def test_a_running_sub_total_is_taken_at_its_word():
    sheet = [
        *rows([100, 50]),
        Stated(4, "Sub", "sub-total", 150),
        Counted(5, 30, True),
        Stated(6, "Sub", "sub-total", 180),
    ]
    assert [proof.holds for proof in prove(2, "GBP", sheet)] == [True, True]


def test_a_total_that_counts_its_sub_totals_as_well_says_so():
    sheet = [*rows([1, 7]), Stated(4, "Sub", "sub-total", 8), *[Counted(5, 16, True)], Stated(9, "Total", "total", 32)]
    assert prove(2, "GBP", sheet)[1].blames == (Blame("sub-totals", (4,)),)


@given(st.lists(st.integers(1, 10**9), min_size=1, max_size=40))
def test_the_right_sum_always_holds(amounts: list[int]):
    proof = total(amounts, sum(amounts))
    assert proof.holds and proof.blames == ()


@given(st.lists(st.integers(1, 10**6), min_size=2, max_size=25, unique=True), st.data())
def test_the_one_row_that_a_sum_misses_is_named(amounts: list[int], data: st.DataObject):
    missed = data.draw(st.integers(0, len(amounts) - 1))
    proof = total(amounts, sum(amounts) - amounts[missed])
    assert Blame("left out", (missed + 2,)) in proof.blames


@given(st.lists(st.integers(-1000, 1000), min_size=2, max_size=8), st.integers(-3000, 3000))
def test_an_explanation_by_rows_makes_the_total_right_and_is_found_whenever_there_is_one(
    amounts: list[int], stated: int
):
    """Oracle: every row and every pair of rows tried."""
    assume(stated != sum(amounts))
    proof = total(amounts, stated)
    ways = [
        one
        for size in (1, 2)
        for one in combinations(range(len(amounts)), size)
        if stated == sum(amounts) - sum(amounts[i] for i in one)
    ]
    for blame in proof.blames:
        if blame.kind == "left out":
            assert tuple(row - 2 for row in blame.rows) in ways
    assert proof.blames or not [one for one in ways if all(amounts[i] for i in one)]
