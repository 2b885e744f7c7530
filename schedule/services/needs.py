"""What activities still need: raised, cleared and taken off."""

from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused
from projects.models import User
from schedule.models import Activity, Need
from schedule.services import plan
from schedule.services.activities import in_project


@transaction.atomic
def add(
    activity: Activity, *, what: str, kind: str, who: str = "", by_on: date, by: User | None, now: datetime, today: date
) -> Need:
    """Say what an activity still needs before it can start, who brings it and by when.

    Writes Need and a trail row. Not safe to repeat: every call is a further one. Raises: Refused.
    """
    held = plan.lock(activity.project)
    row = in_project(held, activity.pk)
    _check(what, kind)
    made = Need.objects.create(
        project=held, activity=row, what=what.strip(), kind=kind, who=who.strip(), by_on=by_on, raised_on=today, raised_by=by,
    )  # fmt: skip
    _noted(made, "raised", _("%(activity)s needs by %(by_on)s: %(what)s"), by, now)
    return made


@transaction.atomic
def change(
    need: Need, *, what: str, kind: str, who: str, by_on: date, by: User | None, now: datetime, today: date
) -> Need:  # fmt: skip
    """Write a need anew; the day it was raised stays. Writes Need and a trail row. Raises: Refused."""
    held = _held(need)
    _check(what, kind)
    before = {"what": held.what, "kind": str(held.kind), "who": held.who, "by_on": str(held.by_on)}
    held.what, held.kind, held.who, held.by_on = what.strip(), kind, who.strip(), by_on
    held.save(update_fields=["what", "kind", "who", "by_on"])
    _noted(held, "changed", _("%(activity)s needs by %(by_on)s: %(what)s"), by, now, before)
    return held


@transaction.atomic
def clear(need: Need, *, by: User | None, now: datetime, today: date) -> Need:
    """Say that what was needed is there. Writes Need and a trail row. Safe to repeat: the first day stays."""
    held = _held(need)
    if held.cleared_on is None:
        held.cleared_on, held.cleared_by = today, by
        held.save(update_fields=["cleared_on", "cleared_by"])
        _noted(held, "cleared", _("%(activity)s has what it needed: %(what)s"), by, now)
    return held


@transaction.atomic
def reopen(need: Need, *, by: User | None, now: datetime, today: date) -> Need:
    """Say that what was needed is not there after all. Writes Need and a trail row. Safe to repeat."""
    held = _held(need)
    if held.cleared_on is not None:
        held.cleared_on, held.cleared_by = None, None
        held.save(update_fields=["cleared_on", "cleared_by"])
        _noted(held, "reopened", _("%(activity)s needs it after all: %(what)s"), by, now)
    return held


@transaction.atomic
def remove(need: Need, *, by: User | None, now: datetime, today: date) -> None:
    """Take a need off that was never one. Writes Need and a trail row."""
    held = _held(need)
    held.removed_on = today
    held.save(update_fields=["removed_on"])
    _noted(held, "removed", _("%(activity)s does not need: %(what)s"), by, now)


@transaction.atomic
def put_back(need: Need, *, by: User | None, now: datetime, today: date) -> None:
    """Put a need that was taken off back on. Safe to repeat."""
    plan.lock(need.project)
    held = Need.objects.get(pk=need.pk)
    if held.removed_on is not None:
        held.removed_on = None
        held.save(update_fields=["removed_on"])
        _noted(held, "restored", _("%(activity)s needs by %(by_on)s: %(what)s"), by, now)


def _held(need: Need) -> Need:
    plan.lock(need.project)
    held = Need.objects.select_related("activity").filter(pk=need.pk, removed_on=None).first()
    if held is None:
        raise Refused(_("This was taken off the list meanwhile."))
    return held


def _check(what: str, kind: str) -> None:
    if not what.strip():
        raise Refused(_("Say what is needed."), field="what")
    if kind not in Need.Kind.values:
        raise Refused(_("Choose what kind of thing is needed."), field="kind")


def _noted(
    row: Need, verb: str, words: str, by: User | None, now: datetime, before: dict[str, str] | None = None
) -> None:
    told = {"activity": row.activity, "what": row.what, "by_on": row.by_on}
    trail.note(
        row.project, by=by, at=now, verb=verb, subject="need", subject_id=row.pk, summary=words % told,
        details={"before": before} if before else None,
    )  # fmt: skip
