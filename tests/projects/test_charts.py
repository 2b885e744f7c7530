"""The house style of pictures."""

from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from projects import charts


@dataclass(frozen=True)
class Build:
    currency: str = "GBP"
    locale: str = "en-GB"


BOUNDS = st.integers(min_value=-(10**15), max_value=10**15)


@given(one=BOUNDS, other=BOUNDS, most=st.integers(min_value=1, max_value=8))
def test_ticks_are_round_within_the_bounds_and_few(one: int, other: int, most: int):
    low, high = sorted((one, other))
    ticks = charts.nice_ticks(low, high, most)
    steps = {after - before for before, after in zip(ticks, ticks[1:], strict=False)}
    assert len(ticks) <= most and all(low <= tick <= high for tick in ticks) and len(steps) <= 1
    assert all(str(step).rstrip("0") in {"1", "2", "5"} for step in steps)


@pytest.mark.parametrize(
    ("low", "high", "ticks"), [(0, 100, [0, 50, 100]), (-130, 420, [0, 200, 400]), (5, 5, []), (0, 3, [0, 1, 2, 3])]
)
def test_ticks_by_hand(low: int, high: int, ticks: list[int]):
    assert charts.nice_ticks(low, high) == ticks


def test_an_axis_of_money_writes_its_ticks():
    made = charts.money_axis(0, 6_000_000, Build(), most=4)
    assert made["ticktext"] == ["£0", "£20,000", "£40,000", "£60,000"]


def test_words_of_a_user_cannot_mark_up_a_picture():
    assert charts.text("<b>bold</b> & more") == "&lt;b&gt;bold&lt;/b&gt; &amp; more"


def test_the_layout_takes_what_is_said_over_what_is_usual():
    layout = charts.house_layout(height=300, showlegend=True)
    assert (layout["height"], layout["showlegend"], layout["dragmode"]) == (300, True, False)


def test_narrow_and_table_are_left_out_where_there_are_none():
    assert set(charts.figure([], {})) == {"data", "layout"}
    assert set(charts.figure([], {}, narrow={}, table={})) == {"data", "layout", "narrow", "table"}
