"""The demo's sequence comes out of the services and the network: every date, float and stated figure of the scenario.

The scenario is invented; its dates were worked out apart from this program, which makes them an independent check. It lets
a decision be as late as the eve of its follower's latest start, working day or not; ours falls on a working day, so of a
decision only that eve is held against it, worked out from the kept dates of what follows.
"""

from datetime import date, timedelta
from functools import cache
from typing import Any

import pytest

from decisions.models import ActivityLine, Decision, DecisionActivity
from projects.models import Project
from reports.demo import coming, scenario
from schedule.calc import calendars, opening, whatif
from schedule.models import Activity, Baseline, HoldPoint, Need, PromiseWeek, Proof, Question, WorkCalendar
from schedule.selectors import deliveries, holds, network
from schedule.services import plan, questions

pytestmark = pytest.mark.django_db
day = scenario.day


@cache
def told() -> dict[str, Any]:
    return scenario.read()


def activities(demo: Project) -> dict[str, Activity]:
    return {row.code: row for row in Activity.objects.filter(project=demo)}


def test_every_calendar_works_on_the_scenarios_days(demo: Project) -> None:
    ours = {row.name: network.calendars_of(demo)[row.pk] for row in WorkCalendar.objects.filter(project=demo)}
    first, last = day(told()["about"]["start"]), date(2027, 8, 31)
    for stated in told()["calendars"]:
        closed = {day(text) for text in stated["closed"]}
        for number in range((last - first).days + 1):
            on = first + timedelta(days=number)
            works = on.weekday() in stated["weekdays"] and on not in closed
            assert calendars.is_worked(ours[stated["name"]], on) == works, (stated["name"], on)


def test_every_activity_stands_where_the_first_plan_had_it(demo: Project) -> None:
    kept = Baseline.objects.get(project=demo)
    planned = {row.activity.code: row for row in kept.dates.select_related("activity")}
    assert len(planned) == told()["check_values"]["activities"]
    for stated in told()["activities"]:
        row = planned[stated["id"]]
        assert (str(row.start_on), str(row.finish_on)) == (stated["plan"]["start"], stated["plan"]["finish"])
        assert row.days == stated["days"]


def test_every_activity_stands_where_it_is_now(demo: Project) -> None:
    rows = activities(demo)
    for stated in told()["activities"]:
        row, now = rows[stated["id"]], stated["now"]
        assert (str(row.early_start_on), str(row.early_finish_on)) == (now["start"], now["finish"]), row
        assert (row.state, row.days) == (now["state"], now["days"]), row


def test_latest_finishes_and_floats_are_counted_to_the_target(demo: Project) -> None:
    rows = activities(demo)
    for stated in told()["activities"]:
        row, now = rows[stated["id"]], stated["now"]
        assert row.target_float_days == now["float_working_days"], row
        latest = row.target_finish_on if row.days else latest_of_a_decision(row)
        assert str(latest) == now["latest_finish"], row


def latest_of_a_decision(row: Activity) -> date | None:
    """The eve of the latest start of what follows, less its lag; the kept date where nothing follows."""
    links = row.leads_to.select_related("waiting__calendar")
    eves = [latest_start(link.waiting) - timedelta(days=link.lag_days + 1) for link in links]
    return min(eves, default=row.target_finish_on)


def latest_start(row: Activity) -> date:
    """Its length counted back from its latest finish on its own calendar."""
    assert row.target_finish_on is not None
    if not row.days:
        latest = latest_of_a_decision(row)
        assert latest is not None
        return latest
    calendar = network.calendars_of(row.project)[row.calendar_id or 0]
    return calendars.step(calendar, row.target_finish_on, 1 - spent(row))


def spent(row: Activity) -> int:
    """Its days; of what is done the working days that it took."""
    if row.started_on is None or row.finished_on is None:
        return row.days
    calendar = network.calendars_of(row.project)[row.calendar_id or 0]
    return calendars.count(calendar, row.started_on, row.finished_on + timedelta(days=1))


def test_the_opening_is_as_late_and_as_dear_as_stated(demo: Project) -> None:
    stated, kept = told()["check_values"], Baseline.objects.get(project=demo)
    assert (str(kept.finish_on), kept.name) == (stated["planned_opening"], "First plan")
    finish, target = demo.plan.finish_on, demo.opens_on
    assert (str(finish), str(target)) == (stated["forecast_opening"], stated["target_opening"])
    days = opening.days_against(finish, target)
    assert days == stated["days_late"]
    assert opening.cost_of_days(days, demo.cost_of_day_minor) == scenario.minor(stated["cost_of_being_late"])


def test_kept_dates_are_those_of_the_network(demo: Project) -> None:
    assert plan.drifted(demo) == {}


def test_deliveries_are_as_stated(demo: Project) -> None:
    board = {row.activity.code: row for row in deliveries.board(demo, demo.held_on).rows}
    assert len(board) == told()["check_values"]["deliveries"]
    for stated in told()["deliveries"]:
        row = board[stated["activity"]]
        found = [str(on) for on in (row.needed_by, row.expected_on, row.latest_on)]
        assert found == [stated[name] for name in ("needed_by", "forecast_on_site", "latest_before_opening_moves")]
        assert (row.days_in_hand, row.float_days) == (stated["days_in_hand"], stated["float_working_days"])
        assert (str(row.row.ordered_on) if row.row.ordered_on else None) == stated["ordered_on"]


#: The scenario's states of hold points, in ours.
STATES = {"passed": "released", "open": "open", "booked, not ready": "open"}


def test_hold_points_stand_as_stated(demo: Project) -> None:
    book = {hold.gate.code: hold for hold in holds.book(demo, today=demo.held_on).holds}
    assert len(book) == told()["check_values"]["hold_points"]
    for stated in told()["hold_points"]:
        hold = book[stated["id"]]
        assert hold.state == STATES[stated["state"]], hold.title
        assert hold.gate.cost_if_wrong_minor == scenario.minor(stated["cost_if_covered_wrong"])
        assert [work.code for work in hold.stops] == stated["stops"]
        assert hold.proofs_missing == sum(not check["done"] for check in stated["checks"])
        assert hold.signatures_missing == (0 if stated["signed_on"] else len(stated["signed_by_roles"]))
        assert (str(hold.visit.on) if hold.visit.booked else None) == stated["booked_for"]


def test_pressure_tests_keep_their_readings(demo: Project) -> None:
    rows = Proof.objects.filter(hold_check__hold__project=demo).exclude(log=None)
    kept = {row.hold_check.hold.code: row for row in rows.select_related("hold_check__hold")}
    for log, code in zip(told()["test_logs"], ("H03", "H04"), strict=True):
        found = kept[code].log
        assert (found["gauge"], found["calibrated_on"]) == (log["gauge"], log["calibrated"])
        assert [tuple(row) for row in found["readings"]] == [(time, str(bar)) for time, bar in log["pressure_bar"]]
        assert (kept[code].passes, str(kept[code].seen_on)) == (log["result"] == "passed", log["date"])
    assert len(kept) == len(told()["test_logs"])


def test_what_is_still_needed_is_raised_and_cleared_as_stated(demo: Project) -> None:
    found = {(row.activity.code, row.what): row for row in Need.objects.filter(project=demo)}
    assert len(found) == len(told()["look_ahead"])
    for stated in told()["look_ahead"]:
        row = found[stated["activity"], stated["needs"]]
        assert (row.who, str(row.by_on), row.cleared_on is not None) == (stated["who"], stated["by"], stated["clear"])


def test_promises_were_kept_as_stated(demo: Project) -> None:
    weeks = PromiseWeek.objects.filter(project=demo).order_by("week_on")
    assert [(str(row.week_on), row.promised, row.kept) for row in weeks] == [
        (row["week_starting"], row["promised"], row["done"]) for row in told()["weekly_promises"]
    ]
    for row, stated in zip(weeks, told()["weekly_promises"], strict=True):
        assert [str(cause) for cause in row.causes] == [coming.CAUSES[why] for why in stated["reasons_for_misses"]]


def test_lines_and_decisions_hang_on_their_work(demo: Project) -> None:
    tied = {row["id"]: sorted(row["lines"]) for row in told()["activities"] if row["lines"]}
    rows = ActivityLine.objects.filter(activity__project=demo).order_by("line__code")
    found: dict[str, list[str]] = {}
    for activity, line in rows.values_list("activity__code", "line__code"):
        found.setdefault(activity, []).append(line)
    assert found == tied
    for stated in told()["decisions"]:
        waiting = DecisionActivity.objects.filter(decision__project=demo, decision__code=stated["id"])
        assert sorted(waiting.values_list("activity__code", flat=True)) == stated["activities"]


def test_kept_questions_are_answered_as_stated(demo: Project) -> None:
    kept = list(Question.objects.filter(project=demo))
    read = network.read(demo, demo.plan, data_on=demo.held_on)
    assert len(kept) == len(told()["what_ifs"])
    for row, stated in zip(kept, told()["what_ifs"], strict=True):
        found = whatif.answer(
            read.network, questions.alteration_of(row), target=demo.opens_on, cost_of_day_minor=demo.cost_of_day_minor,
            cost_minor=row.cost_minor,
        )  # fmt: skip
        assert (row.title, row.note) == (stated["question"], stated["note"])
        assert str(found.finish_after) == stated["opening"], row.title
        assert (found.days, found.late_after) == (
            stated["days_against_present_forecast"],
            stated["days_against_target"],
        )
        amounts = (found.cost_minor, found.days_minor, found.net_minor)
        assert amounts == tuple(scenario.minor(stated[name]) for name in ("direct_cost", "time_cost", "net_effect"))


# --- What is wrong in the scenario is found by the product -----------------------------------------------------------


def test_the_pour_of_bay_two_is_not_cleared(demo: Project) -> None:
    answer = next(one for one in holds.covering(demo, today=demo.held_on) if one.work.code == "A30")
    assert (answer.verdict, answer.proofs_missing, answer.signatures_missing) == ("no", 6, 3)
    assert answer.cost_if_wrong_minor == 41_000_00


def test_the_overdue_decision_and_the_missed_closure_are_told_by_their_activities(demo: Project) -> None:
    rows = activities(demo)
    assert Decision.objects.get(project=demo, code="D10").need_by < demo.held_on
    assert (rows["A68"].not_before_why, rows["A80"].not_before_why) == (
        "Decision overdue",
        "Order missed the works closure",
    )
    resumes = calendars.on_or_after(network.calendars_of(demo)[rows["A80"].calendar_id], rows["A80"].not_before_on)
    assert rows["A80"].early_start_on == resumes and (resumes - rows["A80"].not_before_on).days == 21


def test_the_probe_too_few_stands_at_its_hold_point(demo: Project) -> None:
    assert "5 probes; the rule gives 6" in HoldPoint.objects.get(project=demo, code="H10").note
