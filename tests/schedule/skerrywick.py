"""The invented scenario as two networks, before the first day and as known today, in our conventions.

Its `about` states its own, and four are converted here:
- a lag counts every day: ours is an elapsed lag;
- a decision with a not-before date falls on that date: for us a milestone stands before a day, so it may not come before the
  next one;
- weekdays count from 0;
- latest dates are worked back from the opening target: that is our `finish_by`.
What is done or under way has its actual dates; what is not begun its forecast days, and days lost before it starts.
"""

from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from reports.demo import scenario
from schedule.calc.alter import Alteration
from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, Link, Network, Solution

SCENARIO = scenario.read()
ROWS = {row["id"]: row for row in SCENARIO["activities"]}
CRANE_DAYS, THURSDAY = "KX", 4


def day(text: str | None) -> date | None:
    return None if text is None else date.fromisoformat(text)


def calendar(row: Mapping[str, Any]) -> Calendar:
    weekdays = frozenset(weekday + 1 for weekday in row["weekdays"])
    return Calendar(row["code"], weekdays, closed=tuple((day(text), day(text)) for text in row["closed"]))


def not_before(row: Mapping[str, Any], text: str | None) -> date | None:
    given = day(text)
    return given + timedelta(days=1) if given and row["days"] == 0 else given


def planned(row: Mapping[str, Any]) -> Activity:
    links = tuple(Link(link["activity"], "FS", link["lag_calendar_days"], True) for link in row["after"])
    return Activity(row["id"], row["days"], row["calendar"], links, not_before(row, row["not_before"]))


def known_now(row: Mapping[str, Any]) -> Activity:
    now, plan = row["now"], planned(row)
    begun = now["state"] in ("done", "under way")
    return Activity(
        plan.id,
        now["days"],
        plan.calendar,
        plan.after,
        not_before(row, now["not_before"]),
        started_on=day(now["start"]) if begun else None,
        finished_on=day(now["finish"]) if now["state"] == "done" else None,
        slip=0 if begun else now["held_up_visiting_or_working_days"],
    )


def network(activities: tuple[Activity, ...], data_on: date | None) -> Network:
    about = SCENARIO["about"]
    return Network(
        start=date.fromisoformat(about["start"]),
        calendars={row["code"]: calendar(row) for row in SCENARIO["calendars"]},
        activities=activities,
        data_on=data_on,
        finish_by=day(about["opening_target"]),
    )


def plan() -> Network:
    return network(tuple(map(planned, ROWS.values())), None)


def forecast() -> Network:
    return network(tuple(map(known_now, ROWS.values())), day(SCENARIO["about"]["status_date"]))


def alteration(what_if: Mapping[str, Any]) -> Alteration:
    """A question of the scenario. Whether the crane may also work on Thursdays stands in its words only."""
    changes = what_if["changes"]
    thursday = "Thursday" in what_if["question"]
    return Alteration(
        durations={id_: change["days"] for id_, change in changes.items() if "days" in change},
        slips={id_: change["delay"] for id_, change in changes.items() if "delay" in change},
        not_before={id_: not_before(ROWS[id_], change["nb"]) for id_, change in changes.items() if "nb" in change},
        working=((CRANE_DAYS, THURSDAY),) if thursday else (),
    )


def latest_finish(solution: Solution, id_: str) -> date:
    """The scenario's latest finish. Its decisions may be as late as the eve of a follower's latest start, working day or not."""
    found = solution.of(id_).late_finish
    waiting = [(a.id, link.lag) for a in solution.network.activities for link in a.after if link.before == id_]
    if ROWS[id_]["days"] or not waiting:
        return found
    return min(solution.of(other).late_start - timedelta(days=lag + 1) for other, lag in waiting)
