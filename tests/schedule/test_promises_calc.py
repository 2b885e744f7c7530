"""Shares of promises, tasks made ready and how early needs were raised: worked by hand, and the demo's own percentages."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.demo import scenario
from schedule.calc import promises
from schedule.calc.promises import Raised, Share

MONDAY = date(2027, 2, 1)


@pytest.mark.parametrize("week", scenario.read()["weekly_promises"], ids=lambda week: week["week_starting"])
def test_percentages_of_the_demo(week):
    """The scenario states them to one decimal; 13 of 16 is 81.25 and stands as 81.2 there."""
    assert promises.share(week["done"], week["promised"]) * 100 == Decimal(str(week["percent_done"]))


@given(st.integers(0, 500), st.integers(1, 500))
def test_a_share_is_within_half_a_thousandth(part: int, whole: int):
    found = promises.share(min(part, whole), whole)
    assert found is not None and abs(Fraction(found) - Fraction(min(part, whole), whole)) <= Fraction(1, 2000)


def test_nothing_of_nothing_is_no_share():
    assert promises.share(0, 0) is None and Share(0, 0).of_one is None


def need(by: int, *, raised: int = 0, start: int | None = 14, cleared: int | None = None) -> Raised:
    """A need by days from Monday 1 Feb."""

    def day(number: int | None) -> date | None:
        return None if number is None else MONDAY + timedelta(days=number)

    return Raised(day(by), day(raised), day(start), day(cleared))  # type: ignore[arg-type]


def test_made_ready_counts_what_was_there_on_its_day():
    needs = [
        need(2, cleared=2),  # on its day
        need(3, cleared=1),  # before
        need(4, cleared=5),  # too late
        need(5),  # not at all
        need(9, cleared=9),  # not in this week
    ]
    assert promises.made_ready(needs, MONDAY, MONDAY + timedelta(days=6)) == Share(2, 4)


def test_how_early_takes_the_middle_and_counts_what_came_late():
    found = promises.how_early([need(0, raised=13), need(0, raised=8), need(0, raised=0), need(0, raised=7)])
    assert found.days == (1, 6, 7, 14)
    assert (found.middle, found.late) == (6, Share(2, 4))


def test_a_need_of_work_without_a_start_says_nothing_about_how_early():
    assert promises.how_early([need(0, start=None)]).middle is None


def test_causes_are_counted_the_most_frequent_first():
    assert promises.counted(["work", "crew", "work", "answer"]) == (("work", 2), ("answer", 1), ("crew", 1))


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_the_monday_is_in_the_same_week(day: date):
    found = promises.monday(day)
    assert found.isoweekday() == 1 and 0 <= (day - found).days < 7


def test_eight_weeks_end_with_this_one():
    assert promises.last_weeks(date(2027, 2, 7), 8)[-1] == MONDAY and len(promises.last_weeks(MONDAY, 8)) == 8
