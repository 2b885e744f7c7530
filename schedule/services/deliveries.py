"""Deliveries: what is ordered for an activity, its stages, and what the maker promised.

A delivery keeps no dates of the plan: those are its activity's. Reporting it on site finishes that activity, through the
same door as any report of progress.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry, User
from schedule.calc.calendars import TooFar
from schedule.models import Activity, Delivery, DeliveryStage, WorkCalendar
from schedule.selectors import deliveries as reads
from schedule.services import activities, plan, progress

MOST_DAYS = activities.MOST_DAYS


@dataclass(frozen=True, slots=True)
class StageDraft:
    """A step on the way: when it is due, when it was done, and the paper that goes with it."""

    kind: str
    due_on: date | None = None
    done_on: date | None = None
    paper: str = ""
    paper_there: bool = False


@dataclass(frozen=True, slots=True)
class DeliveryDraft:
    """A thing that must arrive. `lead_days` of the maker's calendar (None: the length of its activity), then the road."""

    item: str
    maker: str = ""
    carried_by: str = ""
    papers: str = ""
    ordered_on: date | None = None
    promised_on: date | None = None
    earliest_on: date | None = None
    latest_on: date | None = None
    lead_days: int | None = None
    road_days: int = 0
    approval_days: int = 0
    #: The maker's calendar by its name; empty for that of the activity.
    calendar: str = ""
    note: str = ""
    stages: tuple[StageDraft, ...] = ()


#: Columns of a delivery that a draft has under the same name.
PLAIN = (
    "item", "maker", "carried_by", "papers", "ordered_on", "promised_on", "earliest_on", "latest_on", "lead_days", "road_days",
    "approval_days", "note",
)  # fmt: skip
TEXTS = ("item", "maker", "carried_by", "papers", "note")
STAGES = tuple(DeliveryStage.Kind.values)


@transaction.atomic
def add(activity: Activity, draft: DeliveryDraft, *, by: User | None, now: datetime, today: date) -> Delivery:
    """Say that an activity is the coming of a thing.

    Writes Delivery, DeliveryStage and a trail row; no date of the plan moves. Raises: Refused; an activity has one delivery.
    """
    held = plan.lock(activity.project)
    row = activities.in_project(held, activity.pk)
    if Delivery.objects.filter(activity=row, removed_on=None).exists():
        raise Refused(_("%s has a delivery already; change that one.") % row, field="activity")
    _check(draft, today)
    gone = Delivery.objects.filter(activity=row).first()
    made = gone or Delivery(project=held, activity=row)
    made.removed_on = None
    _fill(made, draft)
    made.version += 1 if gone else 0
    made.save()
    _stage(made, draft.stages)
    _noted(made, "added", _("Added the delivery %(item)s for %(activity)s"), by, now)
    return made


@transaction.atomic
def change(
    delivery: Delivery, draft: DeliveryDraft, *, by: User | None, now: datetime, today: date, version: int | None = None
) -> Delivery:
    """Write a delivery and its stages anew. Writes what `add` writes. Raises: Refused; Stale."""
    held = _held(delivery, version)
    _check(draft, today)
    before = told(held)
    _fill(held, draft)
    held.version += 1
    held.save()
    _stage(held, draft.stages)
    details = {"before": before, "after": told(held)}
    _noted(held, "changed", _("Changed the delivery %(item)s for %(activity)s"), by, now, details)
    return held


@transaction.atomic
def remove(delivery: Delivery, *, by: User | None, now: datetime, today: date) -> None:
    """Take a delivery off the list; its activity stays. Writes Delivery.removed_on and a trail row."""
    held = _held(delivery, None)
    held.removed_on = today
    held.version += 1
    held.save(update_fields=["removed_on", "version"])
    _noted(held, "removed", _("Took the delivery %(item)s off the list"), by, now, {"before": told(held)})


@transaction.atomic
def put_back(delivery: Delivery, *, by: User | None, now: datetime, today: date) -> None:
    """Put a delivery that was taken off back on the list. Safe to repeat. Raises: Refused where its activity is gone."""
    project = plan.lock(delivery.project)
    held = Delivery.objects.select_for_update().get(pk=delivery.pk)
    if held.removed_on is None:
        return
    activities.in_project(project, held.activity_id)
    held.removed_on = None
    held.version += 1
    held.save(update_fields=["removed_on", "version"])
    _noted(held, "restored", _("Put the delivery %(item)s back on the list"), by, now)


@transaction.atomic
def report(
    delivery: Delivery, stage: StageDraft, *, finish: bool = False, by: User | None, now: datetime, today: date
) -> Delivery:
    """Say that a stage is done, and whether its paper is there.

    Args:
        finish: with the stage "on site", finish the activity on that day.
    Writes DeliveryStage, Delivery.ordered_on with the stage "ordered", progress where `finish`, and a trail row with what stood
    before. Raises: Refused, also where the activity may not start yet.
    """
    held = _held(delivery, None)
    _check_stage(stage, today)
    before = _before(held, stage.kind)
    _write_stage(held, stage, stage.done_on)
    if finish and stage.done_on and stage.kind == DeliveryStage.Kind.ON_SITE:
        _finish(held.activity, stage.done_on, by, now, today)
        before |= {"started": _iso(held.activity.started_on), "finished": _iso(held.activity.finished_on)}
    words = _("%(item)s: %(stage)s on %(on)s") if stage.done_on else _("%(item)s: not yet %(stage)s")
    named = {"stage": DeliveryStage.Kind(stage.kind).label, "on": stage.done_on}
    details = {"stage": str(stage.kind), "on": _iso(stage.done_on), "before": before}
    _noted(held, "reported", words, by, now, details, named)
    return held


@transaction.atomic
def take_back(delivery: Delivery, kind: str, *, by: User | None, now: datetime, today: date) -> Delivery:
    """Take back the newest report of a stage: the stage, and the progress that was written with it.

    Writes what `report` writes. Raises: Refused where nothing was reported.
    """
    held = _held(delivery, None)
    told = TrailEntry.objects.filter(
        subject="delivery", subject_id=held.pk, verb="reported", details__stage=kind
    ).last()
    if told is None or kind not in STAGES:
        raise Refused(_("Nothing was reported here."))
    before = told.details["before"]
    _write_stage(held, replace(_stage_of(held, kind), done_on=_day(before["done"])), _day(before["ordered"]))
    if "finished" in before:
        progress.report(
            held.activity, started_on=_day(before["started"]), finished_on=_day(before["finished"]), by=by, now=now, today=today
        )  # fmt: skip
    named = {"stage": DeliveryStage.Kind(kind).label}
    _noted(held, "took back", _("%(item)s: not yet %(stage)s"), by, now, {"stage": kind}, named)
    return held


def _before(held: Delivery, kind: str) -> dict[str, str]:
    return {"done": _iso(_stage_of(held, kind).done_on), "ordered": _iso(held.ordered_on)}


def _stage_of(held: Delivery, kind: str) -> StageDraft:
    """A stage as it stands, one that is not there yet as an empty one."""
    return next((stage for stage in draft_of(held).stages if stage.kind == kind), StageDraft(kind))


def _write_stage(held: Delivery, stage: StageDraft, ordered_on: date | None) -> None:
    held.stages.update_or_create(kind=stage.kind, defaults=_columns(stage))
    if stage.kind == DeliveryStage.Kind.ORDERED:
        held.ordered_on = ordered_on
    held.version += 1
    held.save(update_fields=["ordered_on", "version"])


def _iso(on: date | None) -> str:
    return on.isoformat() if on else ""


def _day(text: str) -> date | None:
    return date.fromisoformat(text) if text else None


def _finish(activity: Activity, on: date, by: User | None, now: datetime, today: date) -> None:
    begun = activity.started_on
    if begun is None or begun > on:
        planned = activity.early_start_on
        begun = planned if planned is not None and planned <= on else on
    progress.report(activity, started_on=begun, finished_on=on, by=by, now=now, today=today)


@transaction.atomic
def put_promise_into_plan(delivery: Delivery, *, reason: str, by: User | None, now: datetime, today: date) -> Delivery:
    """Make the activity as long as the promised day asks, and move every date that rests on it.

    Writes Activity.days (or not_before_on of one without a length), kept dates and trail rows. Raises: Refused where nothing
    is promised, or the thing is there.
    """
    held = _held(delivery, None)
    row = held.activity
    if held.promised_on is None:
        raise Refused(_("No day is promised yet; enter it first."), field="promised_on")
    if row.finished_on:
        raise Refused(_("%s is done; its dates stay as they were.") % row)
    start = row.started_on or row.early_start_on
    if row.days and start is not None and held.promised_on < start:
        raise Refused(_("The promised day is before the work on it begins; move the start of its activity instead."))
    try:
        days, not_before_on = reads.as_promised(row, held.promised_on)
    except TooFar as fault:
        raise Refused(_("The promised day lies further ahead than its calendar reaches; check the year.")) from fault
    draft = replace(activities.draft_of(row), days=days, not_before_on=not_before_on)
    activities.change(row, draft, reason=reason, by=by, now=now, today=today)
    return held


# --- what is written ------------------------------------------------------------------------------------------


def _held(delivery: Delivery, version: int | None) -> Delivery:
    project = plan.lock(delivery.project)
    held = Delivery.objects.select_for_update().filter(pk=delivery.pk, removed_on=None).first()
    if held is None:
        raise Refused(_("This delivery is not on the list any more."))
    held.project = project
    if version is not None and held.version != version:
        theirs = {name: getattr(held, name) for name in PLAIN} | {"version": held.version}
        raise Stale(_("Somebody has changed this delivery since you opened it; look at it again."), theirs=theirs)
    return held


def _check(draft: DeliveryDraft, today: date) -> None:
    if not draft.item.strip():
        raise Refused(_("Say what is delivered."), field="item")
    for name in ("lead_days", "road_days", "approval_days"):
        given = getattr(draft, name)
        if given is not None and not 0 <= given <= MOST_DAYS:
            raise Refused(_("Give between 0 and %d days.") % MOST_DAYS, field=name)
    if draft.ordered_on is not None and draft.ordered_on > today:
        raise Refused(_("That day has not come yet; enter an order when it is placed."), field="ordered_on")
    if draft.earliest_on and draft.latest_on and draft.latest_on < draft.earliest_on:
        raise Refused(_("The range ends before it begins; turn the two days round."), field="latest_on")
    for stage in draft.stages:
        _check_stage(stage, today)


def _check_stage(stage: StageDraft, today: date) -> None:
    if stage.kind not in STAGES:
        raise Refused(_("There is no stage “%s”.") % stage.kind, field="kind")
    if stage.done_on is not None and stage.done_on > today:
        raise Refused(_("That day has not come yet; only what has happened is reported here."), field="done_on")


def _fill(row: Delivery, draft: DeliveryDraft) -> None:
    for name in PLAIN:
        value = getattr(draft, name)
        setattr(row, name, value.strip() if name in TEXTS else value)
    row.calendar = None
    if draft.calendar:
        row.calendar = WorkCalendar.objects.filter(project=row.project, name=draft.calendar).first()
        if row.calendar is None:
            raise Refused(_("There is no calendar “%s”; add it first.") % draft.calendar, field="calendar")


def _stage(row: Delivery, stages: Iterable[StageDraft]) -> None:
    """Write the stages of a draft; those it does not name are taken off."""
    wanted = {stage.kind: stage for stage in stages}
    row.stages.exclude(kind__in=wanted).delete()
    for stage in wanted.values():
        row.stages.update_or_create(kind=stage.kind, defaults=_columns(stage))


def _columns(stage: StageDraft) -> dict[str, Any]:
    return {
        "due_on": stage.due_on,
        "done_on": stage.done_on,
        "paper": stage.paper.strip(),
        "paper_there": stage.paper_there,
        "position": STAGES.index(stage.kind),
    }


def draft_of(delivery: Delivery) -> DeliveryDraft:
    """A delivery as it stands, as a draft to change parts of."""
    stages = tuple(
        StageDraft(str(one.kind), one.due_on, one.done_on, one.paper, one.paper_there) for one in delivery.stages.all()
    )
    plain = {name: getattr(delivery, name) for name in PLAIN}
    return DeliveryDraft(calendar=delivery.calendar.name if delivery.calendar else "", stages=stages, **plain)


def told(delivery: Delivery) -> dict[str, Any]:
    """A delivery as it stands, as plain values for the trail."""
    plain = {name: getattr(delivery, name) for name in PLAIN}
    return {name: str(value) if isinstance(value, date) else value for name, value in plain.items()}


def _noted(
    row: Delivery, verb: str, words: str, by: User | None, now: datetime, details: dict[str, Any] | None = None,
    named: dict[str, Any] | None = None,
) -> None:  # fmt: skip
    project: Project = row.project
    trail.note(
        project, by=by, at=now, verb=verb, subject="delivery", subject_id=row.pk,
        summary=words % ({"item": row.item, "activity": row.activity} | (named or {})), details=details,
    )  # fmt: skip
