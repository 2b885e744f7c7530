"""The demo's what-ifs, kept as questions on the status date."""

from collections.abc import Mapping
from datetime import date, timedelta
from functools import partial
from typing import Any

from reports.demo import scenario as source
from reports.demo.replay import Diary, Replay
from schedule.calc.alter import Alteration
from schedule.services import questions

#: The calendar that some questions give a further weekday, which stands in their words only.
CRANE, THURSDAY = "KX", 4


def diary(replay: Replay) -> Diary:
    """The last thing that happens: a question is about the plan as it stands."""
    held = source.day(replay.scenario["about"]["status_date"])
    return [(held, 9, partial(_keep, replay, row)) for row in replay.scenario["what_ifs"]]


def _keep(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    questions.keep(
        replay.project, alteration(replay.scenario, row), title=row["question"], note=row["note"],
        cost_minor=source.minor(row["direct_cost"]), by=replay.lead, now=replay.at(on, 18), today=on,
    )  # fmt: skip


def alteration(scenario: Mapping[str, Any], row: Mapping[str, Any]) -> Alteration:
    """A question in our words. A decision falls on its day, and what waits for it begins the day after."""
    changes = row["changes"]
    length = {activity["id"]: activity["days"] for activity in scenario["activities"]}
    crane = next(calendar["name"] for calendar in scenario["calendars"] if calendar["code"] == CRANE)
    return Alteration(
        durations={code: change["days"] for code, change in changes.items() if "days" in change},
        slips={code: change["delay"] for code, change in changes.items() if "delay" in change},
        not_before={
            code: source.day(change["nb"]) + timedelta(days=not length[code])
            for code, change in changes.items()
            if "nb" in change
        },
        working=((crane, THURSDAY),) if "Thursday" in row["question"] else (),
    )
