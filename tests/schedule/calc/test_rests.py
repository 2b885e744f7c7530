"""When a calendar rests, and why an activity starts when it does. Source: our rules; expected values by hand and by brute force."""

from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import calendars, opening, rests, why
from schedule.calc.calendars import Calendar
from schedule.calc.why import Held

FIRST = date(2027, 1, 1)
CREW = Calendar("Crew", frozenset({1, 2, 3, 4, 5}), "", ((date(2027, 2, 1), date(2027, 2, 3)),))
CLOSED = ((date(2027, 2, 1), date(2027, 2, 3), "crew away"),)


def test_a_closure_takes_the_weekend_before_it_along_and_is_named():
    found = rests.rests(CREW, CLOSED, date(2027, 1, 25), date(2027, 2, 7))
    assert [(rest.first.day, rest.last.day, rest.why, rest.weekend) for rest in found] == [
        (30, 3, "crew away", False), (6, 7, "", True),
    ]  # fmt: skip


@settings(max_examples=60)
@given(
    weekdays=st.frozensets(st.integers(1, 7), min_size=1),
    start=st.integers(0, 60),
    length=st.integers(0, 20),
    days=st.integers(0, 90),
)
def test_rests_are_exactly_the_days_not_worked(weekdays: frozenset[int], start: int, length: int, days: int):
    closed = (FIRST + timedelta(days=start), FIRST + timedelta(days=start + length))
    calendar, last = Calendar("Crew", weekdays, "", (closed,)), FIRST + timedelta(days=days)
    found = rests.rests(calendar, ((*closed, "away"),), FIRST, last)
    rested = {rest.first + timedelta(days=n) for rest in found for n in range((rest.last - rest.first).days + 1)}
    every = [FIRST + timedelta(days=n) for n in range(days + 1)]
    assert rested == {day for day in every if not calendars.is_worked(calendar, day)}


def held(**told: object) -> Held:
    usual = {"start_on": date(2027, 2, 4), "started_on": None, "drives": (), "not_before_on": None, "today": None}
    return Held(**usual | {"plan_start": FIRST} | told)


def test_what_comes_before_is_the_reason_and_the_closure_is_told():
    found = why.why(held(drives=("A01",), not_before_on=date(2027, 2, 4)), CREW, CLOSED)
    assert (found.kind, found.drives, found.rest.why if found.rest else "") == (why.LINK, ("A01",), "crew away")


def test_a_day_before_which_it_must_not_begin_is_rolled_to_a_working_day():
    assert why.why(held(not_before_on=date(2027, 2, 1)), CREW, CLOSED).kind == why.NOT_BEFORE


def test_what_could_have_begun_is_held_by_today_alone():
    assert why.why(held(today=date(2027, 2, 4)), CREW, CLOSED).kind == why.TODAY


def test_what_has_begun_needs_no_reason():
    assert why.why(held(started_on=date(2027, 2, 4), drives=("A01",)), CREW, CLOSED).kind == why.BEGUN


def test_a_plain_weekend_is_no_reason():
    assert why.why(held(start_on=date(2027, 1, 25)), CREW, CLOSED).rest is None


def test_days_late_cost_and_days_early_earn_nothing():
    """The demo's scenario: 28 May against 21 May at £900 a day is £6,300."""
    days = opening.days_against(date(2027, 5, 28), date(2027, 5, 21))
    assert opening.cost_of_days(days, 90_000) == 630_000 and opening.cost_of_days(-days, 90_000) == 0
