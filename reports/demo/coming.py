"""The demo's deliveries, what the coming weeks still need, and the promises of the last weeks."""

from collections.abc import Mapping
from datetime import date, timedelta
from functools import partial
from typing import Any

from reports.demo import scenario as source
from reports.demo.replay import Diary, Replay
from schedule.models import Activity, Delivery, DeliveryStage, Miss, Need
from schedule.services import deliveries, needs, promises

Stage = DeliveryStage.Kind
#: The line whose accepted quote names the maker, for what is ordered: {activity: line}.
MADE_BY = {"A37": "L0303", "A46": "L0501", "A52": "L0502", "A58": "L0601"}
#: The scenario's words for what is missing, in ours.
KINDS = {"permission": Need.Kind.PERMIT, "price": Need.Kind.MONEY}
CAUSES = {
    "late answer from engineer": Miss.ANSWER, "crew short": Miss.CREW, "material late": Miss.MATERIAL, "weather": Miss.WEATHER,
    "earlier work unfinished": Miss.WORK, "inspector absent": Miss.INSPECTOR, "plant booking": Miss.PLANT,
    "decision not made": Miss.DECISION,
}  # fmt: skip
#: A need is raised so long before the day it is needed by, and what is there was there so long before.
RAISED_BEFORE, THERE_BEFORE = timedelta(days=14), timedelta(days=1)
#: A week is counted on its Friday.
COUNTED_AFTER = timedelta(days=4)


def set_up(replay: Replay, on: date) -> None:
    """Enter the deliveries with the plan."""
    for row in replay.scenario["deliveries"]:
        made = deliveries.add(
            replay.activities[row["activity"]], _delivery(replay, row), by=replay.lead, now=replay.at(on, 12), today=on
        )
        replay.deliveries[row["activity"]] = made


def _delivery(replay: Replay, row: Mapping[str, Any]) -> deliveries.DeliveryDraft:
    maker = ""
    if line := MADE_BY.get(row["activity"]):
        accepted = (quote for quote in replay.scenario["quotes"] if quote["state"] == "accepted")
        maker = next(quote["vendor"] for quote in accepted if quote["line"] == line)
    papers = "" if row["papers"] == "none" else row["papers"]
    stages = [deliveries.StageDraft(Stage.ORDERED), deliveries.StageDraft(Stage.SENT)]
    if papers:
        stages.append(deliveries.StageDraft(Stage.CUSTOMS, paper=papers))
    stages.append(deliveries.StageDraft(Stage.ON_SITE))
    return deliveries.DeliveryDraft(
        item=row["item"], maker=maker, carried_by=row["carried_by"], papers=papers, stages=tuple(stages)
    )


def diary(replay: Replay) -> Diary:
    """Orders and arrivals on their days, needs when they were raised and cleared, weeks when they were over."""
    held = source.day(replay.scenario["about"]["status_date"])
    entries: Diary = []
    for row in replay.scenario["deliveries"]:
        if row["ordered_on"]:
            entries.append((source.day(row["ordered_on"]), 7, partial(_stage, replay, row["activity"], Stage.ORDERED)))
    for row in replay.scenario["activities"]:
        if row["id"] in replay.deliveries and row["now"]["state"] == "done":
            entries.append((source.day(row["now"]["finish"]), 7, partial(_stage, replay, row["id"], Stage.ON_SITE)))
    for row in replay.scenario["look_ahead"]:
        entries.append((min(held, source.day(row["by"]) - RAISED_BEFORE), 7, partial(_need, replay, row)))
    for row in replay.scenario["weekly_promises"]:
        entries.append((source.day(row["week_starting"]) + COUNTED_AFTER, 8, partial(_week, replay, row)))
    return entries


def _stage(replay: Replay, activity: str, kind: DeliveryStage.Kind, on: date) -> None:
    held = Delivery.objects.select_related("project").get(pk=replay.deliveries[activity].pk)
    stage = deliveries.StageDraft(kind, done_on=on)
    deliveries.report(held, stage, by=replay.lead, now=replay.at(on, 16), today=on)


def _need(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    activity = Activity.objects.select_related("project").get(pk=replay.activities[row["activity"]].pk)
    made = needs.add(
        activity, what=row["needs"], kind=KINDS.get(row["kind"], row["kind"]), who=row["who"], by_on=source.day(row["by"]),
        by=replay.lead, now=replay.at(on, 9), today=on,
    )  # fmt: skip
    if row["clear"]:
        held = source.day(replay.scenario["about"]["status_date"])
        there_on = max(on, min(held, source.day(row["by"])) - THERE_BEFORE)
        needs.clear(made, by=replay.lead, now=replay.at(there_on, 16), today=there_on)


def _week(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    causes = [CAUSES[reason] for reason in row["reasons_for_misses"]]
    promises.count_week(
        replay.project, source.day(row["week_starting"]), row["promised"], row["done"], causes, by=replay.lead,
        now=replay.at(on, 17), today=on,
    )  # fmt: skip
