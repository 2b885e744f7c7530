from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc import retention
from budget.calc.retention import Earned, Kept, SharesNotWhole, Stage, TooMuchReleased
from tests.reference_values import reference
from tests.worked_tables import minor, table

DAYS = st.dates(date(2020, 1, 1), date(2040, 12, 31))
AMOUNTS = st.integers(0, 10**12)


def stages(*shares):
    return [Stage(str(place), Decimal(share)) for place, share in enumerate(shares)]


@pytest.mark.parametrize("row", table("retention.md", "Releases"), ids=lambda row: row["case"])
def test_releases_as_worked_by_hand(row):
    plan = retention.release_plan(
        minor(row["held"]), stages(*row["shares"].split("; ")), released_minor=minor(row["released"])
    )
    assert [due.amount_minor for due in plan] == [minor(cell) for cell in row["due at each stage"].split("; ")]


@pytest.mark.parametrize("row", table("retention.md", "Payments"), ids=lambda row: row["month"])
def test_payments_as_worked_by_hand(row):
    earned = [Earned("work", minor(row["work"]), Decimal(10)), Earned("stored", minor(row["stored"]), Decimal(5))]
    found = retention.payment_due(
        earned,
        previously_paid_minor=minor(row["paid before"]),
        withheld_minor=minor(row["withheld"]),
        contract_minor=100_000,
    )
    expected = tuple(minor(row[name]) for name in ("retained", "due", "balance"))
    assert (found.retained_minor, found.due_minor, found.balance_minor) == expected


def test_a_single_payment_of_the_reference():
    """Source: named in tests/reference/payments.json, pay-ret-01 (common practice, no source)."""
    case = reference("payments", "pay-ret-01")
    given_, expected = case["inputs"], case["expected"]
    found = retention.payment_due(
        [Earned("work", given_["earned_to_date"], Decimal(given_["retainage_pct"]))],
        previously_paid_minor=given_["previous_payments"],
        contract_minor=given_["contract"],
    )
    assert (found.retained_minor, found.due_minor) == (expected["retained"], expected["due"])
    assert found.balance_minor == expected["balance_to_finish_incl_retainage"]


def test_two_rates_of_the_reference():
    """Source: named in tests/reference/payments.json, pay-ret-03 (common practice, no source)."""
    case = reference("payments", "pay-ret-03")
    given_ = case["inputs"]
    rows = [
        Earned(kind, given_[kind], Decimal(str(given_[rate])) * 100)
        for kind, rate in (("work", "r_work"), ("stored", "r_stored"))
    ]
    found = retention.payment_due(rows, previously_paid_minor=given_["previous_paid"])
    assert {"retained": found.retained_minor, "due": found.due_minor} == case["expected"]


def test_the_guidance_on_the_greatest_share_is_that_of_the_reference():
    """Source: FAR 32.103, read; tests/reference/payments.json, pay-far-01."""
    assert reference("payments", "pay-far-01")["expected"]["max_retainage_pct"] == retention.GUIDANCE_GREATEST_PERCENT


def test_a_term_that_ends_on_a_saturday_of_the_reference():
    """Source: named in tests/reference/payments.json, pay-due-01; the roll forward from memory."""
    case = reference("payments", "pay-due-01")
    closed = frozenset(map(date.fromisoformat, case["inputs"]["holidays"]))
    received = date.fromisoformat(case["inputs"]["received"])
    found = retention.due_on(received, days=case["inputs"]["days"], closed=closed)
    assert found.isoformat() == case["expected"]["payable"]
    assert (received + timedelta(days=case["inputs"]["days"])).isoformat() == case["expected"]["nominal"]


@pytest.mark.parametrize("basis", [360, 365])
def test_interest_of_the_reference(basis):
    """Source: named in tests/reference/payments.json, pay-int-01; from memory of 5 CFR 1315."""
    case = reference("payments", "pay-int-01")
    given_ = case["inputs"]
    found = retention.late_interest(given_["P"] * 100, Decimal(str(given_["rate"])), days=given_["days"], basis=basis)
    assert abs(found / 100 - case["expected"][f"interest_{basis}"]) <= case["tolerance"]["abs"]


def test_a_year_has_365_days_unless_360_were_agreed():
    assert retention.late_interest(36_500, Decimal("0.1"), days=1) == 10
    assert retention.late_interest(36_500, Decimal("0.1"), days=365) == 3_650


def test_damages_of_the_reference():
    """Source: named in tests/reference/payments.json, pay-ld-01; from memory of the idea of FAR 52.211-12."""
    case = reference("payments", "pay-ld-01")
    rate, days, cap = (case["inputs"][key] for key in ("rate_per_day", "late_days", "cap"))
    assert retention.delay_damages(rate, days=days) == case["expected"]["uncapped"]
    assert retention.delay_damages(rate, days=days, cap_minor=cap) == case["expected"]["capped"]


def test_an_early_finish_earns_no_damages():
    assert retention.delay_damages(450, days=-3) == 0


def test_more_than_was_held_is_never_released():
    with pytest.raises(TooMuchReleased):
        retention.held([Kept(100), Kept(50, 51)])
    with pytest.raises(TooMuchReleased):
        retention.release_plan(100, stages(50, 50), released_minor=101)


@pytest.mark.parametrize("shares", [(50, 49), (150, -50), (), ("33.3", "33.3", "33.3")])
def test_shares_that_make_no_whole_are_refused(shares):
    with pytest.raises(SharesNotWhole):
        retention.release_plan(100, stages(*shares))


def test_a_stage_without_a_date_is_not_due():
    assert retention.releasable(100, retention.usual_stages(None), released_minor=0, on=date(2099, 1, 1)) == 0


@pytest.mark.parametrize(
    ("on", "expected"), [("2027-05-27", 0), ("2027-05-28", 20), ("2028-05-27", 20), ("2028-05-28", 70)]
)
def test_each_half_is_due_on_its_day(on, expected):
    """Half of 100 with 30 released: 20 at completion, 50 more a year later. Common practice, no source."""
    usual = retention.usual_stages(date(2027, 5, 28))
    assert retention.releasable(100, usual, released_minor=30, on=date.fromisoformat(on)) == expected


SHARES = st.lists(st.integers(0, 1000), min_size=1, max_size=5).map(
    lambda cuts: [b - a for a, b in zip([0, *sorted(cuts)], [*sorted(cuts), 1000], strict=True)]
)


@given(AMOUNTS, SHARES, st.data())
def test_a_plan_adds_up_and_each_part_is_within_a_minor_unit(held, tenths, data):
    """Brute force: the exact share up to each stage, less what was released, within a minor unit for each stage."""
    released = data.draw(st.integers(0, held))
    shares = [Decimal(tenth) / 10 for tenth in tenths]
    plan = retention.release_plan(held, stages(*shares), released_minor=released)
    assert sum(due.amount_minor for due in plan) == held - released
    for place, _ in enumerate(plan, start=1):
        due_by_then = sum(due.amount_minor for due in plan[:place])
        exact = max(Fraction(0), Fraction(sum(tenths[:place]), 1000) * held - released)
        assert due_by_then >= 0 and abs(due_by_then - exact) < place + 1


@given(st.lists(st.tuples(AMOUNTS, st.integers(0, 100)), min_size=1, max_size=6))
def test_paying_month_by_month_comes_to_the_last_sum(months):
    """Whatever the months claim, what was paid in all is what the last month has earned less what is held of it."""
    paid = 0
    for amount, percent in months:
        paid += retention.payment_due([Earned("w", amount, Decimal(percent))], previously_paid_minor=paid).due_minor
    amount, percent = months[-1]
    assert abs(paid - Fraction(amount * (100 - percent), 100)) <= Fraction(1, 2)


@given(DAYS, st.integers(0, 90), st.frozensets(DAYS, max_size=5))
def test_due_dates_agree_with_numpy(received, days, closed):
    expected = np.busday_offset(received + timedelta(days=days), 0, roll="forward", holidays=sorted(closed))
    assert retention.due_on(received, days=days, closed=closed) == expected.astype(date)


@given(DAYS, st.integers(0, 60))
def test_months_agree_with_pandas(day, months):
    assert retention.months_after(day, months) == (pd.Timestamp(day) + pd.DateOffset(months=months)).date()


@given(AMOUNTS, st.integers(0, 5000), st.integers(0, 400), st.sampled_from([360, 365]))
def test_interest_is_within_half_a_minor_unit_of_the_exact_sum(principal, hundredths, days, basis):
    rate = Decimal(hundredths) / 10_000
    exact = Fraction(principal * hundredths * days, 10_000 * basis)
    assert abs(retention.late_interest(principal, rate, days=days, basis=basis) - exact) <= Fraction(1, 2)
