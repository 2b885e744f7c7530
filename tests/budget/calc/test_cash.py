from collections import Counter
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from itertools import accumulate

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc import cash
from budget.calc.cash import KINDS, Planned, ReleasedTooSoon, Source
from tests.budget.calc.billed import STORY, pence
from tests.reference_values import reference
from tests.worked_tables import minor, table

TODAY, OPENING = date(2027, 1, 22), date(2027, 2, 20)
DAYS = st.dates(date(2026, 1, 1), date(2028, 12, 31))
PLANS = st.lists(
    st.builds(
        Planned, st.text("ab", max_size=2), st.sampled_from(KINDS), st.integers(-(10**9), 10**9), st.none() | DAYS
    ),
    max_size=8,
)


def worked():
    return [
        Planned(row["name"], row["kind"], minor(row["amount"]), date.fromisoformat(row["on"]) if row["on"] else None)
        for row in table("cash.md", "Still to be paid")
    ]


def test_months_as_worked_by_hand():
    found = [
        (m.first.isoformat(), *(m.amounts.get(kind, 0) for kind in KINDS), m.total_minor, m.cumulative_minor)
        for m in cash.by_month(worked(), start=TODAY, end=OPENING)
    ]
    columns = (*KINDS, "total", "so far")
    assert found == [(row["month"], *(minor(row[name]) for name in columns)) for row in table("cash.md", "By month")]


def test_weeks_as_worked_by_hand():
    found = [(w.first.isoformat(), w.total_minor) for w in cash.next_weeks(worked(), today=TODAY, weeks=5)]
    assert found == [(row["week"], minor(row["due"])) for row in table("cash.md", "By week")]


def test_a_week_names_what_falls_due_earliest_first():
    late, early = Planned("b", "stage", 1, date(2027, 1, 24)), Planned("c", "invoice", 2, date(2027, 1, 23))
    assert cash.next_weeks([late, early], today=TODAY, weeks=1)[0].items == (early, late)


def test_months_of_the_reference():
    """Source: named in tests/reference/payments.json, pay-cash-01 (common practice, no source)."""
    case = reference("payments", "pay-cash-01")
    given_, expected = case["inputs"], case["expected"]
    found = cash.outflow(
        given_["earned"],
        retention_percent=Decimal(str(given_["retainage"])) * 100,
        lag_months=given_["lag_months"],
        release_month=given_["release_month_index"],
    )
    assert (list(found), list(accumulate(found))) == (expected["outflow"], expected["cumulative"])
    assert cash.peak_month(found) == expected["peak_month"]


def test_retention_is_not_released_before_the_last_payment():
    with pytest.raises(ReleasedTooSoon):
        cash.outflow([1, 1, 1], retention_percent=Decimal(10), lag_months=1, release_month=2)


def test_nothing_to_pay_has_no_peak():
    assert cash.peak_month([]) is None


def test_the_room_of_the_demo_is_that_of_its_story():
    """Source: the demo's own figures, worked out apart from this program."""
    check = STORY["check_values"]
    sources = [Source(row["source"], pence(row["amount"]), pence(row["received_to_date"])) for row in STORY["funding"]]
    paid = pence(check["invoiced_net_total"])
    found = cash.funds(sources, cost_to_complete_minor=pence(check["forecast_total"]) - paid, paid_minor=paid)
    assert found.room_minor == pence(check["room_left_in_funding_after_forecast"])


def test_a_source_that_gave_more_than_it_promised_leaves_nothing_undrawn():
    found = cash.funds([Source("Shares", 100, 130), Source("Loan", 50, 0)], cost_to_complete_minor=200, paid_minor=30)
    assert (found.undrawn_minor, found.in_hand_minor, found.room_minor) == (50, 100, -50)


def test_an_opening_that_has_passed_is_today():
    months = cash.by_month([Planned("Slab", "rest", 7)], start=TODAY, end=date(2026, 1, 1))
    assert [(month.first, month.total_minor) for month in months] == [(date(2027, 1, 1), 7)]


def test_a_far_day_does_not_fill_the_years_before_it():
    months = cash.by_month([Planned("Held", "retention", 7, date.max)], start=TODAY, end=OPENING)
    assert [month.first.year for month in months] == [2027, 2027, 9999]


@given(PLANS, DAYS, DAYS)
def test_months_lose_and_invent_nothing(planned, start, end):
    months = cash.by_month(planned, start=start, end=end)
    whole = sum(item.amount_minor for item in planned)
    assert sum(month.total_minor for month in months) == months[-1].cumulative_minor == whole
    assert [m.first for m in months] == sorted({m.first for m in months}) and months[0].first == start.replace(day=1)


@given(PLANS, DAYS, DAYS)
def test_months_agree_with_paying_day_by_day(planned, start, end):
    """Brute force: an amount without a day is paid in equal parts on every day."""
    exact = Counter()
    days = [start + timedelta(days=n) for n in range((max(start, end) - start).days + 1)]
    for item in planned:
        on = days[-1] if item.kind == "retention" and item.on is None else item.on
        for day in [max(on, start)] if on else days:
            exact[day.year, day.month] += Fraction(item.amount_minor, 1 if on else len(days))
    for month in cash.by_month(planned, start=start, end=end):
        assert abs(month.total_minor - exact[month.first.year, month.first.month]) <= len(planned)


@given(PLANS, DAYS, st.integers(1, 60))
def test_weeks_hold_all_that_is_due_by_their_end_and_no_more(planned, today, weeks):
    """Brute force over the days of the ISO calendar."""
    found = cash.next_weeks(planned, today=today, weeks=weeks)
    last = found[-1].first + timedelta(days=6)
    assert sum(w.total_minor for w in found) == sum(i.amount_minor for i in planned if i.on and i.on <= last)
    assert found[0].first.isocalendar()[:2] == today.isocalendar()[:2] and len(found) == weeks
    for week in found[1:]:
        assert {item.on.isocalendar()[:2] for item in week.items} <= {week.first.isocalendar()[:2]}


@given(
    st.lists(st.integers(0, 10**9), min_size=1, max_size=12), st.integers(0, 100), st.integers(0, 3), st.integers(0, 6)
)
def test_what_goes_out_is_what_was_earned(earned, percent, lag, later):
    flow = cash.outflow(
        earned, retention_percent=Decimal(percent), lag_months=lag, release_month=len(earned) + lag - 1 + later
    )
    assert sum(flow) == sum(earned) and min(flow) >= 0
    assert all(out <= was for out, was in zip(flow[lag:-1], earned, strict=False))


@given(PLANS, DAYS, DAYS, st.integers(-(10**9), 10**9))
def test_the_month_money_runs_short_agrees_with_adding_up(planned, start, end, in_hand):
    months = cash.by_month(planned, start=start, end=end)
    left, expected = in_hand, None
    for month in months:
        left -= month.total_minor
        if left < 0 and expected is None:
            expected = month
    assert cash.short_from(months, in_hand) == expected


# --- work with dates (our rule, ADR 0407; worked by hand) --------------------------------------------------------


def test_what_has_dates_of_work_goes_with_them():
    """12 days from 25 March to 5 April: 7 in March, 5 in April."""
    dated = Planned("Panels", "rest", 1_200, during=((date(2027, 3, 25), date(2027, 4, 5)),))
    months = cash.by_month([dated], start=TODAY, end=OPENING)
    assert {m.first.month: m.total_minor for m in months if m.total_minor} == {3: 700, 4: 500}


def test_two_pieces_of_work_weigh_by_their_days():
    """3 days in February and 1 in April: three quarters and one."""
    spans = ((date(2027, 2, 1), date(2027, 2, 3)), (date(2027, 4, 9), date(2027, 4, 9)))
    months = cash.by_month([Planned("Slab", "rest", 401, during=spans)], start=TODAY, end=OPENING)
    assert [m.total_minor for m in months if m.total_minor] == [301, 100]


def test_work_after_the_opening_is_paid_after_it():
    late = Planned("Garden", "rest", 500, during=((date(2027, 8, 2), date(2027, 8, 6)),))
    months = cash.by_month([late], start=TODAY, end=OPENING)
    assert (months[-1].first, months[-1].total_minor) == (date(2027, 8, 1), 500)


def test_days_that_have_passed_are_not_paid_in():
    """Of the 20 days from 22 January to 10 February 10 are in January; work that should be done is due now."""
    begun = Planned("Slab", "rest", 900, during=((date(2026, 11, 1), date(2027, 2, 10)),))
    gone = Planned("Dig", "rest", 70, during=((date(2026, 11, 1), date(2026, 11, 9)),))
    months = cash.by_month([begun, gone], start=TODAY, end=OPENING)
    assert [month.total_minor for month in months] == [450 + 70, 450]


SPANS = st.lists(st.tuples(DAYS, st.integers(0, 90)), min_size=1, max_size=3)


@given(st.integers(-(10**9), 10**9), SPANS, DAYS, DAYS)
def test_dated_work_agrees_with_paying_day_by_day(amount, spans, start, end):
    """Brute force: each span is paid in equal parts on every day that is still ahead of it."""
    during = tuple((first, first + timedelta(days=days)) for first, days in spans)
    paid = [
        max(start, first) + timedelta(days=n)
        for first, last in during
        for n in range((max(start, last) - max(start, first)).days + 1)
    ]
    months = cash.by_month([Planned("Slab", "rest", amount, during=during)], start=start, end=end)
    assert sum(month.total_minor for month in months) == amount
    for month in months:
        days = sum((day.year, day.month) == (month.first.year, month.first.month) for day in paid)
        assert abs(month.total_minor - Fraction(amount * days, len(paid))) < 1
