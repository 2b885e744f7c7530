"""When an order arrives and which is the last day to order: worked by hand, counted day by day, and by the demo's own dates."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedule.calc import deliveries
from schedule.calc.calendars import EVERY_DAY, Calendar
from schedule.calc.deliveries import Way
from tests.schedule import skerrywick

CREW = Calendar("crew", frozenset({1, 2, 3, 4, 5}))
#: A works that rests from Sat 30 Jan to Sat 20 Feb 2027.
FAR = Calendar("far", frozenset(range(1, 7)), closed=((date(2027, 1, 30), date(2027, 2, 20)),))


def on(text: str) -> date:
    return date.fromisoformat(f"2027-{text}")


@pytest.mark.parametrize(
    ("way", "ordered", "begun", "made", "there"),
    [
        (Way(5, CREW), "02-01", "02-01", "02-05", "02-05"),  # a week from Monday to Friday
        (Way(5, CREW), "02-06", "02-08", "02-12", "02-12"),  # ordered on a Saturday, begun on Monday
        (Way(5, CREW, road_days=3), "02-01", "02-01", "02-05", "02-08"),  # the road goes on over the weekend
        (Way(1, CREW), "02-01", "02-01", "02-01", "02-01"),
        (Way(0, CREW, road_days=9), "02-06", "02-06", "02-06", "02-15"),  # from the shelf
        (Way(10, EVERY_DAY), "02-01", "02-01", "02-10", "02-10"),
        (Way(3, FAR), "01-28", "01-28", "02-22", "02-22"),  # two days before the closure, one after it
    ],
)
def test_an_order_worked_by_hand(way: Way, ordered: str, begun: str, made: str, there: str):
    found = deliveries.coming(way, on(ordered))
    assert (found.begun_on, found.made_on, found.on_site_on) == (on(begun), on(made), on(there))


@pytest.mark.parametrize(
    ("way", "by", "order", "begin"),
    [
        (Way(5, CREW), "02-05", "02-01", "02-01"),
        (Way(5, CREW), "02-07", "02-01", "02-01"),  # by Sunday is by Friday
        (Way(5, CREW, road_days=3, approval_days=14), "02-08", "02-01", "01-18"),
        (Way(3, FAR), "02-22", "01-28", "01-28"),
        (Way(3, FAR), "02-21", "01-27", "01-27"),  # a day sooner needs a day more before the closure
        (Way(0, CREW, road_days=9), "02-15", "02-06", "02-06"),
    ],
)
def test_a_last_order_worked_by_hand(way: Way, by: str, order: str, begin: str):
    found = deliveries.last_order(way, on(by))
    assert (found.order_on, found.begin_on) == (on(order), on(begin))


# --- Against counting day by day -----------------------------------------------------------------------------


@st.composite
def calendars(draw: st.DrawFn) -> Calendar:
    weekdays = draw(st.frozensets(st.integers(1, 7), min_size=1))
    starts = draw(st.lists(st.integers(0, 200), max_size=3))
    spans = tuple(
        (on("01-01") + timedelta(start), on("01-01") + timedelta(start + draw(st.integers(0, 40)))) for start in starts
    )
    return Calendar("works", weekdays, closed=spans)


WAYS = st.builds(Way, st.integers(0, 40), calendars(), st.integers(0, 12), st.integers(0, 20))
DAYS = st.integers(0, 240).map(lambda number: on("01-01") + timedelta(number))


def works(calendar: Calendar, day: date) -> bool:
    return day.isoweekday() in calendar.weekdays and not any(first <= day <= last for first, last in calendar.closed)


def counted_forward(way: Way, ordered: date) -> date:
    """The day on site, found by going through the days one by one."""
    day, left = ordered, way.making_days
    while left:
        left -= works(way.maker, day)
        day += timedelta(days=1) if left else timedelta()
    return day + timedelta(days=way.road_days)


@given(WAYS, DAYS)
def test_an_order_counted_day_by_day(way: Way, ordered: date):
    assert deliveries.coming(way, ordered).on_site_on == counted_forward(way, ordered)


@given(WAYS, DAYS)
def test_the_last_order_is_in_time_and_a_day_later_is_not(way: Way, by: date):
    """Every day is tried, from long before to the day it is to be there."""
    found = deliveries.last_order(way, by)
    assert counted_forward(way, found.order_on) <= by
    later = (found.order_on + timedelta(days=ahead) for ahead in range(1, 1 + max(1, (by - found.order_on).days)))
    assert all(counted_forward(way, day) > by for day in later)
    assert (found.order_on - found.begin_on).days == way.approval_days


@given(WAYS, DAYS)
def test_jumps_are_where_counting_jumps(way: Way, first: date):
    found = {jump.last_on: jump.on_site_later for jump in deliveries.jumps(way, first, days=30, least=4)}
    arrivals = [counted_forward(way, first + timedelta(days=ahead)) for ahead in range(32)]
    steps = {
        first + timedelta(days=i): (b - a).days for i, (a, b) in enumerate(zip(arrivals, arrivals[1:], strict=False))
    }
    assert all(steps[day] == later for day, later in found.items())
    assert {day for day, later in steps.items() if later >= 4} <= set(found)


@given(calendars(), DAYS, st.integers(0, 30))
def test_work_made_so_long_ends_on_the_day_or_the_first_worked_after(calendar: Calendar, start: date, ahead: int):
    if works(calendar, start):
        last = start + timedelta(days=ahead)
        days = deliveries.length_to(calendar, start, last)
        end = counted_forward(Way(days, calendar), start)
        assert end >= last and not any(works(calendar, last + timedelta(days=n)) for n in range((end - last).days))


# --- What waiting costs ---------------------------------------------------------------------------------------


def test_a_closure_that_is_crossed_is_named_with_what_it_costs():
    (jump,) = deliveries.jumps(Way(50, FAR), on("01-25"))
    assert (jump.last_on, jump.begun_later, jump.on_site_later) == (on("01-29"), 24, 1)
    assert jump.closed == FAR.closed[0]


def test_a_closure_at_the_end_of_the_making_costs_its_whole_length():
    """Three days of work: ordered Wed 27 Jan it is made on Fri 29; a day later it is made after the closure."""
    jump = deliveries.jumps(Way(3, FAR), on("01-25"))[0]
    assert (jump.last_on, jump.on_site_later, jump.closed) == (on("01-27"), 24, FAR.closed[0])


def test_closed_days_listed_one_by_one_are_one_closure():
    days = tuple((on("01-30") + timedelta(n), on("01-30") + timedelta(n)) for n in range(22))
    (jump,) = deliveries.jumps(Way(50, Calendar("far", frozenset(range(1, 7)), closed=days)), on("01-25"))
    assert jump.closed == (on("01-30"), on("02-20"))


def test_weekends_and_a_long_weekend_are_not_worth_telling():
    """Fri 26 and Mon 29 Mar 2027 are the holidays of Easter in England."""
    easter = Calendar("home", CREW.weekdays, closed=((on("03-26"), on("03-26")), (on("03-29"), on("03-29"))))
    assert deliveries.jumps(Way(10, easter), on("03-01")) == ()


# --- The demo -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("code", ["A62", "A69", "A75", "A77", "A80"])
@pytest.mark.parametrize("when", ["plan", "now"])
def test_orders_of_the_demo_arrive_when_it_says(code: str, when: str):
    """An order on the day that its activity begins, by the scenario's calendars: its own start and finish come out."""
    row = skerrywick.ROWS[code]
    calendar = next(one for one in skerrywick.SCENARIO["calendars"] if one["code"] == row["calendar"])
    way = Way(row["days"], skerrywick.calendar(calendar))
    dates = row[when]
    found = deliveries.coming(way, date.fromisoformat(dates["start"]))
    assert (found.begun_on.isoformat(), found.made_on.isoformat()) == (dates["start"], dates["finish"])
    assert deliveries.last_order(way, found.on_site_on).order_on == found.begun_on


def test_the_lighting_order_missed_the_closure():
    """Ordered by 25 Jan as planned it is there on 14 Apr; from 1 Feb on it is begun on 22 Feb and there on 20 Apr."""
    way = Way(50, FAR)
    assert deliveries.coming(way, on("01-25")).on_site_on == on("04-14")
    assert deliveries.coming(way, on("02-01")).begun_on == on("02-22")
    assert deliveries.coming(way, on("02-01")).on_site_on == on("04-20")
