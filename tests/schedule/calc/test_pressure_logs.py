"""The readings of a pressure test over time. Worked by hand; how a fall is counted is our rule (docs/adr/0404)."""

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import pressure_logs
from schedule.calc.pressure_logs import NoLog, PressureLog, Reading, read

#: Two hours at 6 bar: 6.0, 5.98, 5.97, 5.96, 5.95. The fall is 0.05.
LOOPS = "09:00 6.0\n09:30 5.98\n10:00 5.97\n10:30 5.96\n11:00 5.95"


def test_two_hours_at_six_bar():
    log = PressureLog(read(LOOPS), "bar", "G-114", date(2026, 9, 15), Decimal("0.1"))
    assert (log.drop, log.minutes, log.within) == (Decimal("0.05"), 120, True)


def test_a_gauge_that_fell_and_came_back_has_fallen():
    assert PressureLog(read("9:00 6.0\n9:30 5.8\n10:00 6.0"), allowed_drop=Decimal("0.1")).within is False


def test_exactly_what_is_allowed_is_within():
    assert PressureLog(read("9:00 6.0\n10:00 5.9"), allowed_drop=Decimal("0.1")).within is True


def test_a_rise_is_no_fall():
    assert PressureLog(read("9:00 6.0\n10:00 6.2")).drop == 0


def test_without_an_allowance_nothing_is_judged():
    assert PressureLog(read("9:00 6.0\n10:00 5.0")).within is None


def test_over_midnight_the_next_day_goes_on():
    assert PressureLog(read("23:45 6\n00:15 5.9")).minutes == 30


@pytest.mark.parametrize(
    "line", ["9:00 - 6.0", "25:00 6.0", "09:61 6", "six bar", "9:00 NaN", "9:00 1e9", "9:00 -1", "9:00"]
)
def test_a_line_that_cannot_be_read_is_named(line: str):
    with pytest.raises(NoLog) as fault:
        read(f"08:00 6.0\n{line}\n23:00 5.9")
    assert (fault.value.line, fault.value.place) == (line, 2)


@pytest.mark.parametrize("text", ["", "9:00 6.0", "23:00 6\n1:00 6\n23:30 6\n2:00 6"])
def test_one_reading_and_more_than_two_days_are_no_log(text: str):
    with pytest.raises(NoLog):
        read(text)


def test_a_log_is_kept_and_read_back_whole():
    log = PressureLog(read(LOOPS), "bar", "G-114", date(2026, 9, 15), Decimal("0.10"))
    assert pressure_logs.back(pressure_logs.plain(log)) == log


@settings(max_examples=100)
@given(st.lists(st.integers(0, 99_999), min_size=2, max_size=30))
def test_the_fall_is_what_pairs_of_readings_give_and_the_line_stays_in_its_drawing(hundredths: list[int]):
    """Another way: of all pairs that begin with the first reading, the largest difference."""
    values = [Decimal(one) / 100 for one in hundredths]
    log = PressureLog(tuple(Reading(place * 5, value) for place, value in enumerate(values)))
    assert log.drop == max([values[0] - value for value in values])
    points = [tuple(map(int, point.split(","))) for point in pressure_logs.line(log, width=240, height=60).split()]
    assert points[0] == (0, 0) and points[-1][0] == 240 and all(0 <= x <= 240 and 0 <= y <= 60 for x, y in points)
