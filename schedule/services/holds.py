"""Hold points: what is looked at, what was found, who signed, and who went over it.

What was found and who signed is only ever added (ADR 0404). A check whose words or limit change after something was found
is looked at anew: the old one is taken off with its evidence, which stays readable, and a new one stands in its place.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects.bounds import columns_within_bounds, date_within_bounds
from projects.faults import Refused, Stale
from projects.models import Project, User
from schedule.calc import gates
from schedule.models import (
    Activity,
    HoldCheck,
    HoldPoint,
    HoldSigner,
    HoldStop,
    Overrule,
    Proof,
)
from schedule.selectors import holds as reads
from schedule.services import hold_rules as rules
from schedule.services import plan
from schedule.services.hold_rules import CheckDraft, HoldDraft

__all__ = ["CheckDraft", "HoldDraft", "add", "book", "change", "check_may_start", "draft_of", "overrule", "remove"]

#: A visit is booked at most so far ahead.
FARTHEST = timedelta(days=3_650)
#: So many missing things are told in a refusal; the others are counted.
TOLD = 4


# --- the hold point itself ----------------------------------------------------------------------------------------


@transaction.atomic
def add(project: Project, draft: HoldDraft, *, by: User | None, now: datetime, today: date) -> HoldPoint:
    """Add a hold point with its checks, its signers and what it stops.

    Writes HoldPoint, HoldCheck, HoldSigner, HoldStop and a trail row; dates do not move. Not safe to repeat.
    Raises: Refused, naming the field.
    """
    held = plan.lock(project)
    places = rules.places(held, draft)
    rules.check(held, draft)
    code = rules.code(held, draft.code, None)
    row = HoldPoint(project=held, position=HoldPoint.objects.filter(project=held).count())
    _fill(row, draft, code, places)
    _lay_out(row, draft, places)
    rules.noted(row, "added", _("Added the hold point %s") % row, by, now, _told(row))
    return row


@transaction.atomic
def change(
    hold: HoldPoint, draft: HoldDraft, *, by: User | None, now: datetime, today: date, version: int | None = None
) -> HoldPoint:
    """Write a hold point anew; checks that are not in the draft are taken off, their evidence stays readable.

    Writes HoldPoint with its rows, and a trail row with what stood before. Raises: Refused; Stale.
    """
    held = plan.lock(hold.project)
    row = rules.held(held, hold)
    if version is not None and row.version != version:
        raise Stale(_("Somebody has changed this hold point since you opened it; look at it again."))
    places = rules.places(held, draft)
    rules.check(held, draft)
    code = rules.code(held, draft.code or row.code, row)
    before = _told(row)
    row.version += 1
    _fill(row, draft, code, places)
    row.hold_stops.all().delete()
    row.signers.all().delete()
    _keep_checks(row, draft.checks, today)
    _lay_out(row, replace(draft, checks=()), places)
    rules.noted(row, "changed", _("Changed the hold point %s") % row, by, now, {"before": before, "after": _told(row)})
    return row


@transaction.atomic
def remove(hold: HoldPoint, *, reason: str, by: User | None, now: datetime, today: date) -> None:
    """Take a hold point away; it stops nothing from then on, and its evidence stays in the database.

    Writes HoldPoint.removed_on and a trail row. Raises: Refused without a reason.
    """
    row = rules.held(plan.lock(hold.project), hold)
    if not reason.strip():
        raise Refused(_("Say why nothing has to be shown here any more."), field="reason")
    row.removed_on = today
    row.version += 1
    row.save(update_fields=["removed_on", "version"])
    words = _("Took the hold point %(hold)s away: %(reason)s") % {"hold": row, "reason": reason.strip()}
    rules.noted(row, "removed", words, by, now, {"before": _told(row)})


@transaction.atomic
def book(hold: HoldPoint, *, visit_on: date | None, by: User | None, now: datetime, today: date) -> HoldPoint:
    """Say on which day it is looked at; None takes a booking back.

    Writes HoldPoint.booked_for and a trail row. Safe to repeat. Raises: Refused.
    """
    row = rules.held(plan.lock(hold.project), hold)
    if visit_on is not None and visit_on < today:
        raise Refused(_("That day is over; book a day from today on."), field="visit_on")
    date_within_bounds(visit_on, field="visit_on", latest=today + FARTHEST)
    row.booked_for = visit_on
    row.version += 1
    row.save(update_fields=["booked_for", "version"])
    words = _("Booked the visit for %(hold)s: %(day)s") if visit_on else _("Took back the visit booked for %(hold)s")
    rules.noted(row, "booked", words % {"hold": row, "day": visit_on}, by, now)
    return row


# --- starting the work after it -----------------------------------------------------------------------------------


@transaction.atomic
def overrule(
    hold: HoldPoint, activity: Activity, *, reason: str, by: User | None, now: datetime, today: date
) -> Overrule:  # fmt: skip
    """Let one activity start over a hold point that is not released; the owners see it, and it is never taken out.

    Writes Overrule with what was missing, and a trail row. It goes over what is missing now: evidence that fails later
    stops the work again.
    Raises: Refused without a reason, and where the hold point does not stop this activity now.
    """
    row = rules.held(plan.lock(hold.project), hold)
    if not reason.strip():
        raise Refused(_("Give the reason; the owners will read it."), field="reason")
    answer = reads.before(activity, today=today)
    stopping = next((one for one in answer.stopping if one.pk == row.pk), None) if answer else None
    if stopping is None:
        raise Refused(_("%(hold)s does not stop %(activity)s now.") % {"hold": row, "activity": activity})
    given = Overrule(
        hold=row, activity=activity, reason=reason.strip(), missing=list(stopping.missing), overruled_on=today, entered_at=now,
        entered_by=by, last_proof=rules.last_proof(row),
    )  # fmt: skip
    columns_within_bounds(given)
    given.save()
    words = _("Overruled %(hold)s so that %(activity)s may start: %(reason)s")
    told = {"hold": row, "activity": activity, "reason": given.reason}
    rules.noted(row, "overruled", words % told, by, now, {"missing": given.missing})
    return given


def check_may_start(activity: Activity, *, today: date) -> None:
    """Refuse to start an activity that a hold point stops and nobody has overruled (ADR 0404). Queries: 6.

    Raises: Refused, naming each hold point and what is missing.
    """
    answer = reads.before(activity, today=today)
    if answer is None or answer.verdict != gates.NO:
        return
    told = "; ".join(
        _("%(hold)s: %(missing)s") % {"hold": one.title, "missing": _few(one.missing)} for one in answer.stopping
    )
    raise Refused(
        _("%(activity)s may not start yet. %(told)s. Show what is missing, or overrule it with a reason.")
        % {"activity": activity, "told": told},
        field="started_on",
    )


def _few(sentences: Sequence[str]) -> str:
    more = len(sentences) - TOLD
    if more <= 1:
        return ", ".join(sentences)
    return _("%(first)s, and %(more)d more") % {"first": ", ".join(sentences[:TOLD]), "more": more}


# --- rules and rows -----------------------------------------------------------------------------------------------


def _fill(row: HoldPoint, draft: HoldDraft, code: str, places: dict[str, Activity]) -> None:
    row.code, row.title, row.kind = code, draft.title.strip(), draft.kind
    row.activity = places[draft.activity.strip()]
    row.cost_if_wrong_minor, row.note = draft.cost_if_wrong_minor, draft.note.strip()
    columns_within_bounds(row)
    row.save()


def _lay_out(row: HoldPoint, draft: HoldDraft, places: dict[str, Activity]) -> None:
    """Write what it stops, who signs, and its checks."""
    stops = dict.fromkeys(code.strip() for code in draft.stops)
    HoldStop.objects.bulk_create(HoldStop(hold=row, activity=places[code]) for code in stops)
    roles = dict.fromkeys(role.strip() for role in draft.signers if role.strip())
    signers = [HoldSigner(hold=row, role=role, position=place) for place, role in enumerate(roles)]
    checks = [_check_row(row, check, place) for place, check in enumerate(draft.checks)]
    for one in (*signers, *checks):
        columns_within_bounds(one)
    HoldSigner.objects.bulk_create(signers)
    HoldCheck.objects.bulk_create(checks)


def _check_row(row: HoldPoint, draft: CheckDraft, place: int) -> HoldCheck:
    return HoldCheck(
        hold=row, text=draft.text.strip(), limit=draft.limit.strip(), limit_from=draft.limit_from,
        limit_named=draft.limit_named.strip(), evidence=draft.evidence, evidence_named=draft.evidence_named.strip(),
        position=place,
    )  # fmt: skip


def _keep_checks(row: HoldPoint, drafts: Sequence[CheckDraft], today: date) -> None:
    """Keep the checks that a draft names, make those that are new, and take off the others.

    A check with evidence whose words or limit differ is a new one: what was found was found against another.
    """
    standing = {check.pk: check for check in row.checks.filter(removed_on=None)}
    proved = set(Proof.objects.filter(hold_check__in=standing).values_list("hold_check_id", flat=True))
    kept: set[int] = set()
    for place, draft in enumerate(drafts):
        fresh = _check_row(row, draft, place)
        old = standing.get(draft.id or 0)
        same = old is not None and (old.text, old.limit) == (fresh.text, fresh.limit)
        if old is not None and old.pk not in kept and (same or old.pk not in proved):
            fresh.pk = old.pk
            kept.add(old.pk)
        columns_within_bounds(fresh)
        fresh.save()
    row.checks.filter(pk__in=set(standing) - kept).update(removed_on=today)


def draft_of(hold: HoldPoint) -> HoldDraft:
    """A hold point as it stands, as a draft to change parts of."""
    stops = hold.hold_stops.filter(activity__removed_on=None).values_list("activity__code", flat=True)
    checks = tuple(
        CheckDraft(one.text, one.limit, one.limit_from, one.limit_named, one.evidence, one.evidence_named, one.pk)
        for one in hold.checks.filter(removed_on=None)
    )
    return HoldDraft(
        hold.title, hold.activity.code, tuple(stops), tuple(hold.signers.values_list("role", flat=True)), checks, hold.kind,
        hold.cost_if_wrong_minor, hold.note, hold.code,
    )  # fmt: skip


def _told(row: HoldPoint) -> dict[str, Any]:
    """A hold point as it stands, as plain values for the trail."""
    checks = row.checks.filter(removed_on=None).values_list("text", "limit", "limit_from", "limit_named")
    return {
        "title": row.title, "kind": str(row.kind), "activity": row.activity.code,
        "stops": list(row.hold_stops.values_list("activity__code", flat=True)),
        "signers": list(row.signers.values_list("role", flat=True)), "checks": [list(map(str, check)) for check in checks],
        "cost_if_wrong_minor": row.cost_if_wrong_minor,
    }  # fmt: skip
