"""The demo's hold points: what each asks for, what was shown at those that are released, and who signed.

The scenario names roles, no people, so a role signs in its own name. Its limits stand as starting values: it does not say
who gave them. Two pressure tests are kept as their readings.
"""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from functools import partial
from typing import Any

from reports.demo import scenario as source
from reports.demo.replay import Diary, Replay
from schedule.calc import pressure_logs
from schedule.calc.pressure_logs import PressureLog
from schedule.models import HoldCheck, HoldPoint
from schedule.services import holds, proofs

#: When what is shown at a hold point that is not released yet was seen, and when its visits were booked.
SEEN_ON, BOOKED_ON = date(2027, 1, 27), date(2027, 1, 27)
#: The test that a log belongs to: {activity of the log: (hold point, check, what the gauge showed)}.
LOGS = {
    "A16": ("H03", "Drop over 2 hours", "{drop} bar"),
    "A24": ("H04", "Pipes under pressure", "{first} bar at the start, {last} bar at the end"),
}
#: Words by which the scenario's evidence is of a kind; the first that fits. What fits none is a document.
EVIDENCE = (
    ("photograph", HoldCheck.Evidence.PHOTOGRAPH), ("reading", HoldCheck.Evidence.READING), ("gauge", HoldCheck.Evidence.READING),
    ("note", HoldCheck.Evidence.WORD),
)  # fmt: skip


def set_up(replay: Replay, on: date) -> None:
    """Enter the hold points with the plan."""
    for row in replay.scenario["hold_points"]:
        draft = holds.HoldDraft(
            title=row["title"], activity=row["activity"], stops=tuple(row["stops"]), signers=tuple(row["signed_by_roles"]),
            checks=tuple(_check(check) for check in row["checks"]),
            cost_if_wrong_minor=source.minor(row["cost_if_covered_wrong"]), note=row["note"], code=row["id"],
        )  # fmt: skip
        made = holds.add(replay.project, draft, by=replay.lead, now=replay.at(on, 12), today=on)
        replay.holds[row["id"]] = made


def _check(row: Mapping[str, Any]) -> holds.CheckDraft:
    kind = next((kind for word, kind in EVIDENCE if word in row["evidence"]), HoldCheck.Evidence.DOCUMENT)
    return holds.CheckDraft(row["text"], limit=row["limit"], evidence=kind, evidence_named=row["evidence"])


def diary(replay: Replay) -> Diary:
    """What was shown and signed, on its day and before the work that it lets go; visits as they were booked."""
    entries: Diary = []
    for row in replay.scenario["hold_points"]:
        seen_on = source.day(row["signed_on"]) if row["signed_on"] else SEEN_ON
        if any(check["done"] for check in row["checks"]):
            entries.append((seen_on, 3, partial(_show, replay, row)))
        if row["signed_on"]:
            entries.append((seen_on, 4, partial(_sign, replay, row)))
        if row["booked_for"]:
            entries.append((BOOKED_ON, 4, partial(_book, replay, row)))
    for log in replay.scenario["test_logs"]:
        entries.append((source.day(log["date"]), 2, partial(_log, replay, log)))
    return entries


def _held(replay: Replay, code: str) -> HoldPoint:
    return HoldPoint.objects.select_related("project").get(pk=replay.holds[code].pk)


def _show(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    held = _held(replay, row["id"])
    logged = {check for code, check, _words in LOGS.values() if code == row["id"] and on == _day_of(replay, check)}
    checks = {check.text: check for check in held.checks.select_related("hold__project")}
    for told in row["checks"]:
        if told["done"] and told["text"] not in logged:
            where = f"In the site file: {told['evidence']}"
            found = proofs.Found(True, told["value"], seen_on=on, seen_by="Site lead", note=where)
            proofs.prove(checks[told["text"]], found, by=replay.lead, now=replay.at(on, 14), today=on)


def _day_of(replay: Replay, check: str) -> date:
    """The day of the test that is logged for a check."""
    activity = next(activity for activity, (_code, text, _words) in LOGS.items() if text == check)
    return source.day(next(log["date"] for log in replay.scenario["test_logs"] if log["activity"] == activity))


def _log(replay: Replay, log: Mapping[str, Any], on: date) -> None:
    """A pressure test with its readings; the check is the one whose pressure it shows."""
    code, text, words = LOGS[log["activity"]]
    check = HoldCheck.objects.select_related("hold__project").get(hold=replay.holds[code].pk, text=text)
    read = log["pressure_bar"]
    value = words.format(drop=log["drop_bar"], first=read[0][1], last=read[-1][1])
    kept = PressureLog(
        pressure_logs.read("\n".join(f"{time} {bar}" for time, bar in read)), "bar", log["gauge"], source.day(log["calibrated"]),
        Decimal(str(log["allowed_drop_bar"])),
    )  # fmt: skip
    passed = log["result"] == "passed"
    found = proofs.Found(passed, value, seen_on=on, seen_by="Site lead", note=log["test"], log=kept)
    proofs.prove(check, found, by=replay.lead, now=replay.at(on, 13), today=on)


def _sign(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    for role in row["signed_by_roles"]:
        proofs.sign(_held(replay, row["id"]), role=role, name=role, by=replay.lead, now=replay.at(on, 15), today=on)


def _book(replay: Replay, row: Mapping[str, Any], on: date) -> None:
    visit_on = source.day(row["booked_for"])
    holds.book(_held(replay, row["id"]), visit_on=visit_on, by=replay.lead, now=replay.at(on, 15), today=on)
