"""A reading against a limit as people write it: a hint where the two disagree. Our rule, docs/adr/0404; values by hand."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc.limits import outside

READ = [
    ("0.1 bar or less", "0.1 bar", False),
    ("0.1 bar or less", "0.11 bar", True),
    ("1.5 N/mm2 or more", "1.4 N/mm2", True),
    ("40 mm +/-5", "35 mm", False),
    ("40 mm ±5", "34 to 44 mm", True),
    ("+/-3 mm from grid", "worst 2 mm", False),
    ("+/-3 mm", "-4 mm", True),
    ("+0 / -20 mm", "-8 mm", False),
    ("+0 / -20 mm", "\u221225 mm", True),
    ("+0 / -20 mm", "2 mm", True),
    ("1 in 60 or steeper", "1 in 52 least", False),
    ("1 in 60 or steeper", "1 in 80", True),
    ("18 to 22 C", "17 C", True),
    ("no fall over 0.1 bar", "0.05 bar", False),
    ("85% or less", "86,5 %", True),
    ("0.05 ohm or less", "0.02", False),
]


@pytest.mark.parametrize(("limit", "reading", "out"), READ)
def test_what_can_be_read_is_held_against_the_limit(limit: str, reading: str, out: bool):
    assert outside(limit, reading) is out


LEFT = [
    ("as drawing", "40 mm"),
    ("6.0 bar", "5.9 bar"),
    ("40 N/mm2", "38 N/mm2"),
    ("0.1 bar or less", "0.2 psi"),
    ("0.1 bar or less", "passed"),
    ("2 mm or less", "5 of 7 mm"),
    ("2 mm or less", ""),
    ("85% or less for screed, 75% or less for epoxy", "80%"),
    ("1 in 60 or steeper", "steep enough"),
]


@pytest.mark.parametrize(("limit", "reading"), LEFT)
def test_what_cannot_be_read_in_one_way_is_left_to_the_person(limit: str, reading: str):
    assert outside(limit, reading) is None


@settings(max_examples=100)
@given(st.integers(-500, 500), st.integers(0, 50), st.integers(-600, 600))
def test_a_tolerance_is_the_distance_from_its_middle(middle: int, either: int, value: int):
    assert outside(f"{middle} mm +/-{either}", f"{value} mm") is (abs(value - middle) > either)


@settings(max_examples=60)
@given(st.text(max_size=40), st.text(max_size=40))
def test_any_words_give_an_answer_and_no_fault(limit: str, reading: str):
    assert outside(limit, reading) in {True, False, None}
