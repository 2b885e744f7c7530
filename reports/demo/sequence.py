"""The demo's sequence: calendars, activities, the first plan, and what happened since.

The scenario states its dates as they were planned and as they are; both come out of the network here, for only lengths,
links and days on which something began or ended are entered. Its conventions that differ from ours: weekdays are
numbered from 0, closed days are listed one by one, and every lag counts calendar days.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from typing import Any

from decisions.models import Decision
from decisions.services import plan as ties
from reports.demo import scenario as source
from reports.demo.replay import Diary, Replay
from schedule.models import Activity
from schedule.services import activities, calendars, plan, progress

FROZEN_ON = date(2026, 9, 4)
#: Whose public holidays a calendar keeps, and why it rests besides; the listed days that remain are the holidays.
REGIONS = {"K5": "GB-ENG", "K6": "GB-ENG", "KI": "GB-ENG"}
RESTS = {
    "K5": "New year closure", "K6": "New year closure", "KI": "The inspector is on leave", "KX": "No crane over the holidays",
    "KY": "The works are closed", "KZ": "The works close for the new year",
}  # fmt: skip
#: So many listed days in a row are a closure with a reason; fewer are a public holiday, which the region has.
CLOSURE = 3
#: When a longer stay at the works was told: {activity: day}; elsewhere a longer stay is told at its end.
TOLD_ON = {"A43": date(2027, 1, 21)}


def set_up(replay: Replay, on: date) -> None:
    """Enter the plan as it was thought of with the budget: calendars, activities, and which lines pay for what."""
    for row in replay.scenario["calendars"]:
        calendars.add(replay.project, _calendar(row), by=replay.lead, now=replay.at(on), today=on)
    names = {row["code"]: row["name"] for row in replay.scenario["calendars"]}
    trades = {row["code"]: row["name"] for row in replay.scenario["trades"]}
    drafts = [_activity(row, names, trades) for row in replay.scenario["activities"]]
    made = activities.add_many(replay.project, drafts, by=replay.lead, now=replay.at(on, 11), today=on)
    replay.activities.update({row.code: row for row in made})
    for row in replay.scenario["activities"]:
        if row["lines"]:
            lines = [replay.lines[code] for code in row["lines"]]
            ties.tie_lines(replay.activities[row["id"]], lines, by=replay.lead, now=replay.at(on, 12))


def _calendar(row: Mapping[str, Any]) -> calendars.CalendarDraft:
    region = REGIONS.get(row["code"], "")
    spans = _spans([source.day(text) for text in row["closed"]])
    closures = tuple(
        calendars.ClosureDraft(first, last, RESTS.get(row["code"], ""))
        for first, last in spans
        if not region or (last - first).days >= CLOSURE
    )
    weekdays = frozenset(day + 1 for day in row["weekdays"])
    return calendars.CalendarDraft(row["name"], weekdays, region=region, note=row["note"], closures=closures)


def _spans(days: Sequence[date]) -> Iterator[tuple[date, date]]:
    """Days that follow each other, as first and last.

    >>> list(_spans([date(2026, 12, 25), date(2026, 12, 26), date(2027, 1, 1)]))
    [(datetime.date(2026, 12, 25), datetime.date(2026, 12, 26)), (datetime.date(2027, 1, 1), datetime.date(2027, 1, 1))]
    """
    first = last = None
    for day in sorted(days):
        if first is None or last is None:
            first = day
        elif day - last > timedelta(days=1):
            yield first, last
            first = day
        last = day
    if first is not None and last is not None:
        yield first, last


def _activity(
    row: Mapping[str, Any], calendars: Mapping[str, str], trades: Mapping[str, str]
) -> activities.ActivityDraft:
    return activities.ActivityDraft(
        code=row["id"],
        name=row["name"],
        days=row["days"],
        kind=row["kind"],
        trade=trades[row["trade"]],
        calendar=calendars[row["calendar"]],
        not_before_on=source.day(row["not_before"]) if row["not_before"] else None,
        covers=row["covers_or_sets_hard"],
        weather=row["weather_sensitive"],
        notice_days=row.get("notice_working_days", 0),
        attended_by=row.get("attended_by", ""),
        after=tuple(
            activities.LinkDraft(link["activity"], lag_days=link["lag_calendar_days"], lag_elapsed=True)
            for link in row["after"]
        ),
    )


def diary(replay: Replay) -> Diary:
    """The first plan is frozen, then each activity is reported when it begins and when it ends, late ones with the reason."""
    held = source.day(replay.scenario["about"]["status_date"])
    entries: Diary = [(FROZEN_ON, 8, partial(_freeze, replay))]
    for row in replay.scenario["activities"]:
        entries += _reports(replay, row)
        if row["now"]["state"] == "not started" and row["now"]["not_before"] != row["not_before"]:
            entries.append((held, 5, partial(_put_off, replay, row)))
    return entries


def _freeze(replay: Replay, on: date) -> None:
    reason = "The plan that the loan was given on"
    plan.take_baseline(
        replay.project, name="First plan", reason=reason, by=replay.lead, now=replay.at(on, 16), today=on
    )


def _reports(replay: Replay, row: Mapping[str, Any]) -> Diary:
    """When an activity was reported. What took a day was reported once, at its end."""
    now = row["now"]
    start, finish = source.day(now["start"]), source.day(now["finish"])
    if now["state"] == "not started":
        return []
    found: Diary = []
    if start != finish:
        found.append((start, 5, partial(_report, replay, row, start, None)))
    if now["state"] == "done":
        found.append((finish, 6, partial(_report, replay, row, start, finish)))
    elif now["days"] != row["days"]:
        found.append((TOLD_ON[row["id"]], 6, partial(_report, replay, row, start, None, told=True)))
    return found


def _report(
    replay: Replay, row: Mapping[str, Any], start: date, finish: date | None, on: date, told: bool = False
) -> None:
    found = Activity.objects.get(pk=replay.activities[row["id"]].pk)
    if (found.started_on, found.finished_on) == (start, finish) and not told:
        return  # the answer to a decision was reported when it was recorded
    last = finish is not None or told
    progress.report(
        found, started_on=start, finished_on=finish, days=row["now"]["days"] if last else None,
        reason=(row["reason_for_slip"] or "") if last else "", by=replay.lead, now=replay.at(on, 17), today=on,
    )  # fmt: skip


def _put_off(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    """Something that has not begun cannot begin as early as it was thought."""
    found = Activity.objects.get(pk=replay.activities[row["id"]].pk)
    why = row["reason_for_slip"]
    draft = replace(activities.draft_of(found), not_before_on=source.day(row["now"]["not_before"]), not_before_why=why)
    activities.change(found, draft, reason=why, by=replay.lead, now=replay.at(on, 17), today=on)


def tie_decision(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    """Say which work waits for the answer to a decision."""
    waiting = [replay.activities[code] for code in row["activities"]]
    decision = Decision.objects.get(pk=replay.decisions[row["id"]].pk)
    ties.tie_decision(decision, waiting, by=replay.lead, now=replay.at(on, 13))
