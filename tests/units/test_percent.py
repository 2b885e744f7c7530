from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.worked_tables import table
from units import percent


@pytest.mark.parametrize("row", table("rounding.md", "Percentages"), ids=lambda row: row["written"])
def test_percentages_as_worked_by_hand(row):
    assert percent.fraction(row["written"]) == Decimal(row["fraction"])


@given(st.integers(-(10**6), 10**6), st.integers(0, 999))
def test_a_percentage_is_read_exactly(whole, thousandths):
    sign = -1 if whole < 0 else 1
    assert Fraction(percent.fraction(f"{whole}.{thousandths:03}%")) == Fraction(
        whole * 1000 + sign * thousandths, 100_000
    )


@pytest.mark.parametrize("text", ["", "%", "5", "5%%", "5 5%", "1e2%", "NaN%", "٥%", "5,5%", "0x5%", "--5%", "5  %"])
def test_what_is_no_percentage_is_refused(text):
    with pytest.raises(percent.NotAPercentage):
        percent.fraction(text)
