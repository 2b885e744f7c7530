"""The network document: what comes back, and what is refused with its place."""

import json
import time
from datetime import date, timedelta

import pytest

from reports.calc_names import answer
from units.reading import Unreadable

FIVE = {"weekdays": [1, 2, 3, 4, 5]}
MONDAY = "2026-01-05"
NO_REGION = (
    'calendars.x: the calendar "x": public holidays of "Atlantis" are not known; '
    'give a country such as "US" or "GB", or a part of one such as "GB-SCT"'
)


def worked_out(activities, **more):
    document = {"start": MONDAY, "activities": activities} | more
    return json.loads(answer("network", json.dumps(document).encode()))


def refused(activities, **more) -> str:
    with pytest.raises(Unreadable) as fault:
        worked_out(activities, **more)
    return str(fault.value)


def chain(count: int, duration: int = 1):
    return [{"id": f"A{n}", "duration": duration, "after": [{"id": f"A{n - 1}"}] if n else []} for n in range(count)]


def test_the_keys_that_are_promised():
    found = worked_out([{"id": "pour", "duration": 2}])
    assert list(found) == ["finish", "activities", "critical"]
    assert found["activities"]["pour"] == {
        "early_start": MONDAY, "early_finish": "2026-01-06", "late_start": MONDAY, "late_finish": "2026-01-06",
        "total_float": 0, "free_float": 0, "critical": True, "es": 0, "ef": 2, "ls": 0, "lf": 2,
    }  # fmt: skip


def test_every_day_is_worked_without_calendars():
    assert worked_out(chain(1, 10))["finish"] == "2026-01-14"


def test_textbook_numbers_stand_where_one_calendar_is_shared():
    activities = [{"id": "a", "duration": 6, "calendar": "one"}, {"id": "b", "duration": 1, "calendar": "two"}]
    same = worked_out(activities, calendars={"one": FIVE, "two": FIVE})
    other = worked_out(activities, calendars={"one": FIVE, "two": {"weekdays": [1]}})
    assert [row["ef"] for row in same["activities"].values()] == [6, 1]
    assert all("es" not in row for row in other["activities"].values())


def test_a_milestone_falls_on_the_last_day_worked_before_it_or_on_the_start():
    activities = [
        {"id": "begin", "duration": 0},
        {"id": "work", "duration": 5, "after": [{"id": "begin"}]},
        {"id": "end", "duration": 0, "after": [{"id": "work"}]},
        {"id": "next", "duration": 1, "after": [{"id": "end"}]},
    ]
    found = worked_out(activities, calendars={"five": FIVE}, default_calendar="five")["activities"]
    days = {id_: (row["early_start"], row["early_finish"]) for id_, row in found.items()}
    assert days["begin"] == (MONDAY, MONDAY)
    assert days["end"] == ("2026-01-09", "2026-01-09")
    assert days["next"] == ("2026-01-12", "2026-01-12")
    assert (found["end"]["es"], found["end"]["ef"]) == (5, 5)


def test_public_holidays_and_closures_are_not_worked():
    """5 U.S.C. 6103: Martin Luther King's day is on 19 January 2026."""
    calendars = {"us": FIVE | {"region": "US", "closed": ["2026-01-06", ["2026-01-08", "2026-01-09"]]}}
    found = worked_out(chain(9), calendars=calendars, default_calendar="us")["activities"]
    assert [row["early_start"][-2:] for row in found.values()] == [
        "05", "07", "12", "13", "14", "15", "16", "20", "21",
    ]  # fmt: skip


def test_to_finish_by_a_day_floats_may_be_below_zero_and_critical_stays_the_networks_own():
    activities = [*chain(10), {"id": "aside", "duration": 3}]
    found = worked_out(activities, finish_by="2026-01-11")
    assert (found["activities"]["A0"]["total_float"], found["activities"]["A0"]["float_to_finish"]) == (-3, 0)
    assert (found["activities"]["aside"]["total_float"], found["activities"]["aside"]["critical"]) == (4, False)
    assert found["critical"] == [f"A{n}" for n in range(10)]


def test_progress_against_a_data_date():
    activities = [
        {"id": "done", "duration": 9, "started": "2026-01-05", "finished": "2026-01-06"},
        {"id": "under way", "duration": 2, "started": "2026-01-06"},
        {"id": "ahead", "duration": 1, "after": [{"id": "done"}]},
    ]
    found = worked_out(activities, data_date="2026-01-12")["activities"]
    assert found["done"]["early_finish"] == "2026-01-06"
    assert found["under way"]["early_finish"] == "2026-01-12"
    assert found["ahead"]["early_start"] == "2026-01-12"


@pytest.mark.parametrize(
    ("activity", "said"),
    [
        ({"id": "a", "duration": True}, "activities[0].duration: a whole number from 0 to 100000 is required"),
        ({"id": "a", "duration": 1.5}, "activities[0].duration: a whole number from 0 to 100000 is required"),
        ({"id": "a", "duration": -1}, "activities[0].duration: a whole number from 0 to 100000 is required"),
        ({"id": "a", "duration": 10**30}, "activities[0].duration: a whole number from 0 to 100000 is required"),
        ({"id": "a"}, "activities[0].duration: a whole number from 0 to 100000 is required, and nothing is given"),
        ({"duration": 1}, "activities[0].id: a text is required, and nothing is given"),
        (
            {"id": "a", "duration": 1, "durration": 1},
            'activities[0]: "durration" is not known here; did you mean "duration"?',
        ),
        (
            {"id": "a", "duration": 1, "after": [{"id": "b"}]},
            'activities[0].after[0].id: "b" is none of the activities; known are a',
        ),
        (
            {"id": "a", "duration": 1, "after": [{"id": "a", "link": "FX"}]},
            'activities[0].after[0].link: "FS", "SS", "FF" or "SF" is required',
        ),
        (
            {"id": "a", "duration": 1, "after": [{"id": "a"}]},
            "activities: these wait on each other in a circle: a -> a; take one of the links away",
        ),
        (
            {"id": "a", "duration": 1, "calendar": "crew"},
            'activities[0].calendar: no calendar is called "crew"; none are given',
        ),
        (
            {"id": "a", "duration": 1, "not_before": "1492-10-12"},
            "activities[0].not_before: a date from 1900-01-01 to 2499-12-31 is required",
        ),
        (
            {"id": "a", "duration": 1, "started": "2026-01-07", "finished": "2026-01-06"},
            "activities[0].finished: this is before the start of the activity",
        ),
    ],
)
def test_a_faulty_activity_is_refused_at_its_place(activity, said):
    assert refused([activity]) == said


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"start": "soon"}, "start: a date such as 2026-11-25 is required"),
        ({"calendars": {"x": {"weekdays": []}}}, "calendars.x.weekdays: a list with at least 1 entry is required"),
        ({"calendars": {"x": {"weekdays": [0]}}}, "calendars.x.weekdays[0]: a whole number from 1 to 7 is required"),
        (
            {"calendars": {"x": {"weekdays": [1, 1]}}},
            'calendars.x.weekdays[1]: "1" is there already; each is given once',
        ),
        ({"calendars": {"x": {"region": "Atlantis"}}, "default_calendar": "x"}, NO_REGION),
        (
            {"calendars": {"x": {"closed": [["2026-02-02", "2026-02-01"]]}}},
            "calendars.x.closed[0][1]: the last day is before the first, 2026-02-02",
        ),
        (
            {"calendars": {"x": {"closed": [["2026-02-02"]]}}},
            "calendars.x.closed[0]: a date such as 2026-11-25, or a list of a first and a last one, is required",
        ),
        ({"calendars": {" ": FIVE}}, "calendars: a calendar needs a name"),
        (
            {"calendars": {"crew": FIVE}, "default_calendar": "crow"},
            'default_calendar: no calendar is called "crow"; did you mean "crew"?',
        ),
        ({"finish_by": "1500-01-01"}, "finish_by: a date from 1900-01-01 to 2499-12-31 is required"),
        ({"activities": []}, "activities: a list with at least 1 entry is required"),
        ({"activities": chain(2) + chain(1)}, 'activities[2].id: "A0" is there already; each is given once'),
        (
            {"activities": [{"id": "a", "duration": 1, "started": "2026-01-09"}], "data_date": "2026-01-08"},
            "activities[0].started: this has not happened by 2026-01-08, the date progress is told for",
        ),
    ],
)
def test_a_faulty_network_is_refused_at_its_place(more, said):
    assert refused(**({"activities": chain(1)} | more)) == said


def test_work_that_names_no_calendar_goes_on_every_day_where_none_is_usual():
    activities = [{"id": "dig", "duration": 2, "calendar": "x"}, {"id": "dry", "duration": 3, "after": [{"id": "dig"}]}]
    found = worked_out(activities, start="2026-11-26", calendars={"x": FIVE})
    assert found["activities"]["dry"]["early_finish"] == "2026-11-30"  # a Monday; by weekdays it would be the Wednesday


def test_a_circle_names_its_members_in_order():
    activities = [
        {"id": "a", "duration": 1, "after": [{"id": "c"}]},
        {"id": "b", "duration": 1, "after": [{"id": "a"}]},
        {"id": "c", "duration": 1, "after": [{"id": "b"}]},
    ]
    said = refused([{"id": "free", "duration": 1}, *activities])
    told = said.split("circle: ")[1].split(";")[0].split(" -> ")
    assert set(told) == {"a", "b", "c"} and told[0] == told[-1]
    after = {row["id"]: row["after"][0]["id"] for row in activities}
    assert all(after[waiting] == before for before, waiting in zip(told, told[1:], strict=False))


def test_a_circle_of_thousands_is_told_on_one_line():
    activities = chain(5000)
    activities[0]["after"] = [{"id": "A4999"}]
    assert len(refused(activities)) < 300


def test_work_past_what_can_be_worked_out_is_refused_by_name():
    assert refused(chain(3, 100_000)).startswith(
        'activities[1]: "A1" runs past what can be worked out: calendars are laid out to 2500 only'
    )
    us = {"calendars": {"us": {"region": "US"}}, "default_calendar": "us"}
    assert "public holidays of US are known to 2100 only" in refused(chain(1, 40_000), **us)


def test_a_calendar_that_is_always_closed_is_refused_by_name():
    shut = {"shut": {"closed": [["1800-01-01", "2600-12-31"]]}}
    assert refused(chain(1), calendars=shut, default_calendar="shut") == (
        'calendars: the calendar "shut" has no working day'
    )


def test_a_long_chain_is_worked_out_past_the_first_tables():
    found = worked_out(chain(20_000, 5), calendars={"five": FIVE}, default_calendar="five")
    assert date.fromisoformat(found["finish"]) == date(2026, 1, 5) + timedelta(days=7 * 20_000 - 3)
    assert len(found["critical"]) == 20_000


def test_the_same_document_gives_the_same_bytes_in_any_order_of_calendars():
    activities = [{"id": str(n), "duration": n, "calendar": "ab"[n % 2]} for n in range(9)]
    given = {"start": MONDAY, "activities": activities, "calendars": {"a": FIVE, "b": {"weekdays": [2, 4]}}}
    turned = given | {"calendars": dict(reversed(given["calendars"].items()))}
    assert answer("network", json.dumps(given).encode()) == answer("network", json.dumps(turned).encode())


def test_many_long_closures_do_not_slow_it_down():
    closed = [[f"{year}-02-01", f"{year + 9}-02-01"] for year in range(2030, 2480, 10)] * 20
    started = time.process_time()
    found = worked_out(chain(1), calendars={"x": {"closed": closed}}, default_calendar="x")
    assert found["finish"] == MONDAY and time.process_time() - started < 5
