"""Narrowing, grouping and the days shown. Source: our rules; expected values by hand."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import listing
from schedule.calc.listing import Asked, Row

TODAY = date(2027, 1, 29)  # a Friday
PLAIN = Row(
    pk=1, code="A01", name="Pour bay 1", kind="pour", trade="Concrete", area="Hall", days=2, calendar_id=1, elapsed=False,
    covers=True, started_on=None, finished_on=None, start_on=TODAY, finish_on=TODAY, late_finish_on=TODAY, float_days=0,
    target_float_days=None, critical=False,
)  # fmt: skip


def row(start: date, days: int = 1, **more: object) -> Row:
    return replace(PLAIN, start_on=start, finish_on=start + timedelta(days=days - 1), **more)


@pytest.mark.parametrize(
    ("span", "first", "last"),
    [
        ("six", date(2027, 1, 25), date(2027, 3, 7)),
        ("quarter", date(2027, 1, 11), date(2027, 4, 4)),
        ("whole", date(2026, 8, 31), date(2027, 5, 30)),
    ],
)
def test_a_window_is_whole_weeks_around_today(span: str, first: date, last: date):
    rows = [row(date(2026, 9, 3)), row(date(2027, 5, 27), 2)]
    found = listing.window(span, rows, TODAY)
    assert (found.first, found.last) == (first, last)


def test_before_the_work_begins_the_window_waits_for_it():
    assert listing.window("six", [row(date(2027, 3, 3))], TODAY).first == date(2027, 3, 1)


def test_the_whole_build_shows_its_target_as_well():
    assert listing.window("whole", [row(TODAY)], TODAY, date(2027, 2, 10)).last == date(2027, 2, 14)


def test_what_is_done_is_critical_no_more():
    done = row(TODAY, critical=True, started_on=TODAY, finished_on=TODAY)
    assert listing.chosen([done], Asked(what="critical")) == () and listing.chosen([done], Asked(what="left")) == ()


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        (Asked(), 2), (Asked(trade="Concrete"), 1), (Asked(area="Yard"), 1), (Asked(calendar_id=1), 2), (Asked(state="under way"), 1),
        (Asked(words="BAY pour"), 1), (Asked(words="a02"), 1), (Asked(words="pour crane"), 0), (Asked(what="critical"), 1),
    ],
)  # fmt: skip
def test_each_filter_narrows(asked: Asked, found: int):
    crane = row(TODAY, code="A02", name="Crane", trade="Lifting", area="Yard", started_on=TODAY, critical=True)
    assert len(listing.chosen([PLAIN, crane], asked)) == found


def test_groups_are_now_then_weeks_then_months_then_done():
    rows = [
        row(date(2027, 1, 4), finished_on=date(2027, 1, 5), started_on=date(2027, 1, 4)),
        row(date(2027, 1, 20), started_on=date(2027, 1, 20)),
        row(date(2027, 2, 3)), row(date(2027, 2, 1)), row(date(2027, 4, 30)),
    ]  # fmt: skip
    groups = listing.grouped(rows, "week", TODAY)
    assert [(group.key, group.count) for group in groups] == [
        ("now", 1), ("week-2027-02-01", 2), ("month-2027-04-01", 1), ("done", 1),
    ]  # fmt: skip
    assert [one.start_on.day for one in groups[1].rows] == [1, 3]


DAYS = st.dates(date(2026, 6, 1), date(2028, 6, 1))


@settings(max_examples=60)
@given(
    starts=st.lists(st.tuples(DAYS, st.integers(1, 90), st.sampled_from("abc")), max_size=30),
    by=st.sampled_from(["week", "trade"]),
)
def test_every_activity_stands_in_one_group(starts: list[tuple[date, int, str]], by: str):
    rows = [row(start, days, pk=pk, trade=trade) for pk, (start, days, trade) in enumerate(starts)]
    held = [one.pk for group in listing.grouped(rows, by, TODAY) for one in group.rows]
    assert sorted(held) == [one.pk for one in rows]
