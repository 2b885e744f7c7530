from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc.claims import ahead, claimed_percent
from tests.budget.calc.billed import STORY, pence

LINES = [line for line in STORY["lines"] if line["progress"]]


def claimed(line):
    return claimed_percent(
        pence(line["invoiced_net"]), pence(line["agreed_in_base_at_budget_rate"]), pence(line["approved_changes"])
    )


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["code"])
def test_claims_of_the_demo_are_those_of_its_story(line):
    """Source: the demo's own figures, worked out apart from this program."""
    assert claimed(line) == Decimal(str(line["progress"]["claimed_percent"]))


@pytest.mark.parametrize("line", LINES, ids=lambda line: line["code"])
def test_lines_ahead_of_what_was_seen_are_those_of_the_story(line):
    """Source: as above."""
    assert ahead(claimed(line), Decimal(line["progress"]["seen_percent"])) is line["progress"]["claimed_ahead_of_seen"]


@pytest.mark.parametrize(
    ("invoiced", "agreed", "changes", "expected"),
    [(0, 100, 0, "0.0"), (1, 2000, 0, "0.1"), (1, 2001, 0, "0.0"), (150, 100, 0, "150.0"), (-1, 2000, 0, "-0.1"),
     (5, 0, 0, "100.0"), (0, 0, 0, "0.0"), (5, 100, -100, "100.0")],
)  # fmt: skip
def test_the_edges_worked_by_hand(invoiced, agreed, changes, expected):
    assert claimed_percent(invoiced, agreed, changes) == Decimal(expected)


@given(st.integers(0, 10**10), st.integers(1, 10**10))
def test_a_claim_agrees_with_the_decimal_library(invoiced, agreed):
    exact = (Decimal(invoiced) * 100 / Decimal(agreed)).quantize(Decimal("0.1"), ROUND_HALF_UP)
    assert abs(claimed_percent(invoiced, agreed, 0) - exact) <= Decimal("0.1")
    if invoiced * 1000 % agreed == 0:
        assert claimed_percent(invoiced, agreed, 0) * agreed == invoiced * 100


@given(st.integers(0, 10**9), st.integers(0, 10**9), st.integers(1, 10**9))
def test_more_billed_is_never_less_claimed(one, more, agreed):
    assert claimed_percent(one, agreed, 0) <= claimed_percent(one + more, agreed, 0)


def test_ten_points_are_not_ahead():
    assert not ahead(Decimal("40.0"), Decimal(30))
    assert ahead(Decimal("40.1"), Decimal(30))
