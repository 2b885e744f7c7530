"""What exchange rates make of an agreement: a table worked by hand, properties, and a brute force in fractions."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc.currencies import Billed, Foreign, exposure_minor, movement_minor, unbilled_minor

#: The tank shell of the demo: invented, and worked by hand in docs/adr/0121.
SHELL = Foreign(
    "EUR",
    15_520_000,
    Decimal("0.86"),
    Decimal("0.874"),
    (Billed(4_656_000, 4_013_472), Billed(4_656_000, 4_055_376)),
)
RATES = st.decimals(Decimal("0.001"), Decimal(1000), places=4)
PARTS = st.lists(st.builds(Billed, st.integers(0, 10**8), st.integers(0, 10**10)), max_size=5)


def test_the_worked_table() -> None:
    assert 4_013_472 - 4_656_000 * Fraction(86, 100) == 93_12
    assert 4_055_376 - 4_656_000 * Fraction(86, 100) == 512_16
    assert unbilled_minor(SHELL) == 62_080_00
    assert movement_minor(SHELL, currency="GBP") == 93_12 + 512_16 + 869_12
    assert exposure_minor([SHELL], currency="GBP", swing_percent=Decimal(5)) == 2_712_90


def test_nothing_moves_while_the_rates_are_the_same() -> None:
    still = Foreign("EUR", 100_000, Decimal("0.86"), Decimal("0.86"), (Billed(50_000, 43_000),))
    assert movement_minor(still, currency="GBP") == 0


def test_what_is_billed_beyond_the_agreement_leaves_nothing_unbilled() -> None:
    over = Foreign("EUR", 100_000, Decimal("0.86"), Decimal(2), (Billed(110_000, 94_600),))
    assert (unbilled_minor(over), movement_minor(over, currency="GBP")) == (0, 0)


@pytest.mark.parametrize(("own", "other", "expected"), [("JPY", "EUR", 1_000), ("KWD", "JPY", 1_000_000)])
def test_currencies_of_other_digits(own: str, other: str, expected: int) -> None:
    """100.00 EUR from 150 to 160 yen is 1,000 yen; 1,000 yen from 0.002 to 1.002 dinars is 1,000.000 dinars."""
    agreed, rates = (
        (10_000, (Decimal(150), Decimal(160))) if other == "EUR" else (1_000, (Decimal("0.002"), Decimal("1.002")))
    )
    assert movement_minor(Foreign(other, agreed, *rates), currency=own) == expected


@given(st.integers(0, 10**9), RATES, RATES, PARTS)
def test_the_movement_is_the_cost_at_the_rates_of_the_day_less_the_cost_as_agreed(
    agreed: int, rate: Decimal, today: Decimal, billed: list[Billed]
) -> None:
    """Brute force over fractions: within half a cent for every part that is rounded."""
    one = Foreign("EUR", agreed, rate, today, tuple(billed))
    rest = max(0, agreed - sum(part.quoted_minor for part in billed))
    exact = sum(part.cost_minor - part.quoted_minor * Fraction(rate) for part in billed)
    exact += rest * (Fraction(today) - Fraction(rate))
    assert abs(movement_minor(one, currency="GBP") - exact) <= Fraction(len(billed) + 2, 2)


@given(st.integers(0, 10**9), RATES, RATES)
def test_a_dearer_currency_never_makes_the_rest_cheaper(agreed: int, rate: Decimal, today: Decimal) -> None:
    moved = movement_minor(Foreign("EUR", agreed, rate, today), currency="GBP")
    assert moved >= 0 if today >= rate else moved <= 0


@given(st.integers(0, 10**9), RATES, st.decimals(0, 50, places=1))
def test_the_exposure_is_never_below_zero_and_adds_up_over_agreements(
    agreed: int, rate: Decimal, swing: Decimal
) -> None:
    one = Foreign("EUR", agreed, rate, rate)
    single = exposure_minor([one], currency="GBP", swing_percent=swing)
    assert single >= 0 and exposure_minor([one, one], currency="GBP", swing_percent=swing) == 2 * single
