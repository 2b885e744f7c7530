"""Working calendars against published holidays, a reference library, and by hand."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import calendars
from schedule.calc.calendars import Calendar, NoSuchCalendar, TooFar
from tests.reference_values import reference

WEEK = frozenset({1, 2, 3, 4, 5})
FEDERAL = Calendar("federal", WEEK, "US")
ONE_DAY = timedelta(days=1)
DAYS = st.dates(date(2024, 1, 1), date(2030, 12, 31))


def first_of(text: str) -> date:
    """A month or a year stands for its first day, as in the source."""
    return date.fromisoformat((text + "-01-01")[:10] if len(text) == 4 else (text + "-01")[:10])


def dates(*texts: str) -> tuple[tuple[date, date], ...]:
    return tuple((date.fromisoformat(text),) * 2 for text in texts)


@pytest.mark.parametrize("id_", ["cal-fed-2026", "cal-fed-2028"])
def test_federal_holidays_as_observed(id_: str):
    item = reference("calendar", id_)
    year = item["inputs"]["year"]
    days = (date(year, 1, 1) + n * ONE_DAY for n in range(366))
    off = [str(day) for day in days if day.year == year and day.weekday() < 5 and not calendars.is_worked(FEDERAL, day)]
    assert (off, len(off)) == (item["expected"]["dates"], item["expected"]["count"])


def test_new_years_day_on_a_saturday_is_observed_in_the_year_before():
    assert not calendars.is_worked(FEDERAL, date(2027, 12, 31))


def test_scotland_keeps_holidays_that_england_does_not():
    """Source: Bank holidays, gov.uk (from memory): 2 January is one in Scotland only."""
    second = date(2025, 1, 2)
    assert calendars.is_worked(Calendar("", WEEK, "GB-ENG"), second)
    assert not calendars.is_worked(Calendar("", WEEK, "GB-SCT"), second)


def test_working_days_of_a_year():
    item = reference("calendar", "cal-01")
    for year, weekdays, worked in zip(
        item["inputs"]["years"], item["expected"]["weekdays"], item["expected"]["working"], strict=True
    ):
        first, after = date(year, 1, 1), date(year + 1, 1, 1)
        assert calendars.count(Calendar("week", WEEK), first, after) == weekdays
        assert calendars.count(FEDERAL, first, after) == worked


def test_published_offsets():
    item = reference("calendar", "cal-np-01")
    for (start, days, _, weekday), expected in zip(item["inputs"]["calls"], item["expected"]["results"], strict=True):
        weekdays = {"Wed": frozenset({3}), "Sun": frozenset({7})}.get(weekday, WEEK)
        assert str(calendars.step(Calendar("", weekdays), first_of(start), days)) == expected


def test_published_counts():
    item = reference("calendar", "cal-np-03")
    for key, weekdays in (("ranges", WEEK), ("sat", frozenset({6})), ("sun", frozenset({7}))):
        found = [calendars.count(Calendar("", weekdays), first_of(a), first_of(b)) for a, b in item["inputs"][key]]
        assert found == item["expected"][key]
    later, earlier = map(date.fromisoformat, item["inputs"]["reversed"])
    assert calendars.count(Calendar("", WEEK), later, earlier) == item["expected"]["reversed"]


def test_a_day_off_rolls_either_way():
    item = reference("calendar", "cal-06")
    day, expected = date.fromisoformat(item["inputs"]["date"]), item["expected"]
    assert calendars.is_worked(FEDERAL, day) == expected["is_working"]
    assert str(calendars.on_or_after(FEDERAL, day)) == expected["roll_forward"]
    assert str(calendars.on_or_before(FEDERAL, day)) == expected["roll_backward"]
    assert str(calendars.on_or_before(Calendar("", WEEK), day)) == expected["roll_backward_no_holiday"]


@st.composite
def some_calendar(draw):
    weekdays = draw(st.sets(st.integers(1, 7), min_size=1))
    closed = draw(st.lists(st.tuples(DAYS, st.integers(0, 30)), max_size=6))
    spans = tuple((day, day + timedelta(days=more)) for day, more in closed)
    return Calendar("some", frozenset(weekdays), draw(st.sampled_from(["", "US", "GB-SCT"])), spans)


def as_busdays(calendar: Calendar) -> np.busdaycalendar:
    off = [first + n * ONE_DAY for first, last in calendar.closed for n in range((last - first).days + 1)]
    if calendar.region:
        off += [day for year in range(2000, 2060) for day in calendars.public_holidays(calendar.region, year)]
    mask = "".join(str(int(weekday in calendar.weekdays)) for weekday in range(1, 8))
    return np.busdaycalendar(weekmask=mask, holidays=np.array(off, "datetime64[D]"))


@settings(max_examples=100, deadline=None)
@given(some_calendar(), DAYS, st.integers(-150, 150), DAYS)
def test_counting_agrees_with_the_reference_library(calendar, day, days, other):
    theirs = as_busdays(calendar)
    assert calendars.step(calendar, day, days) == np.busday_offset(day, days, "forward", busdaycal=theirs).item()
    assert calendars.on_or_before(calendar, day) == np.busday_offset(day, 0, "backward", busdaycal=theirs).item()
    assert calendars.is_worked(calendar, day) == bool(np.is_busday(day, busdaycal=theirs))
    if other >= day:  # the reference counts a reversed range from its other end
        assert calendars.count(calendar, day, other) == np.busday_count(day, other, busdaycal=theirs)


@settings(max_examples=60, deadline=None)
@given(some_calendar(), DAYS, st.integers(0, 900))
def test_a_table_agrees_with_single_days(calendar, first, days):
    laid = calendars.table(calendar, first, first + timedelta(days=days))
    for place, index in enumerate(laid.ceil[: days + 1]):
        assert first + timedelta(days=laid.days[index]) == calendars.on_or_after(calendar, first + place * ONE_DAY)


@settings(max_examples=40, deadline=None)
@given(some_calendar(), DAYS)
def test_a_table_that_grows_shows_more_and_no_other_days(calendar, first):
    short, long = (calendars.table(calendar, first, first + timedelta(days=n)) for n in (1, 4000))
    seen = list(short.days), list(short.ceil)
    short.double()
    assert (short.days[: len(seen[0])], short.ceil[: len(seen[1])]) == seen
    assert long.days[: len(short.days)] == short.days


def test_a_day_may_be_worked_all_the_same():
    saturday = date(2026, 7, 4)
    assert calendars.is_worked(Calendar("", WEEK, "US", dates("2026-07-04"), (saturday,)), saturday)


@pytest.mark.parametrize(
    ("calendar", "said"),
    [
        (Calendar("crew", frozenset()), 'the calendar "crew" has no working day; give weekdays from 1'),
        (Calendar("crew", frozenset({0, 1})), "give weekdays from 1 for Monday to 7 for Sunday"),
        (Calendar("crew", region="Atlantis"), 'public holidays of "Atlantis" are not known; give a country such as'),
        (Calendar("crew", region="registry"), 'public holidays of "registry" are not known'),
        (Calendar("crew", region="HolidayBase"), 'public holidays of "HolidayBase" are not known'),
        (Calendar("crew", region="INX"), 'public holidays of "INX" are not known'),
        (Calendar("crew", region="US-"), 'public holidays of "US-" are not known'),
        (Calendar("crew", region="GB-XX"), 'public holidays of "GB-XX" are not known'),
        (Calendar("", closed=((date(2026, 2, 2), date(2026, 2, 1)),)), "a closure that ends on 2026-02-01"),
    ],
)
def test_what_cannot_be_used_is_refused_by_name(calendar, said):
    with pytest.raises(NoSuchCalendar, match=said.replace("(", r"\(")):
        calendars.table(calendar, date(2026, 1, 1), date(2026, 12, 31))


def test_no_working_day_in_any_year_is_refused_by_name():
    shut = Calendar("shut", WEEK, closed=((date(1800, 1, 1), date(2500, 12, 31)),))
    with pytest.raises(TooFar, match='the calendar "shut" has no working day'):
        calendars.table(shut, date(2026, 1, 1), date(2026, 12, 31))


def test_holidays_are_not_made_up_past_what_is_known():
    with pytest.raises(TooFar, match="public holidays of US are known to 2100 only"):
        calendars.step(FEDERAL, date(2100, 12, 1), 40)
    with pytest.raises(TooFar, match="public holidays of IN are known to 2035 only"):
        calendars.step(Calendar("", WEEK, "IN"), date(2035, 12, 1), 40)
    with pytest.raises(TooFar, match="calendars are laid out from 1800 only"):
        calendars.step(Calendar("", WEEK), date(1800, 1, 2), -40)
