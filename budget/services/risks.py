"""The register of risks: what may still happen, what it would cost, who watches it and how."""

from dataclasses import dataclass, fields
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import Change, LineItem, Risk
from budget.services.bounds import amount_within_bounds, columns_within_bounds, share_within_bounds
from budget.services.ledger import lock
from projects import trail
from projects.faults import Refused, Stale
from projects.models import Project, User

#: Longer than any build may be held up by one thing [days].
LONGEST_DAYS = 3_650


@dataclass(frozen=True, slots=True)
class RiskDraft:
    """A risk as somebody enters it; chance from 0 to 1, cost in minor units of the project's currency."""

    what: str
    chance: Decimal
    cost_minor: int
    days: int = 0
    line_id: int | None = None
    owner: str = ""
    response: str = ""
    code: str = ""


@transaction.atomic
def add_risk(project: Project, draft: RiskDraft, *, by: User, now: datetime, today: date) -> Risk:
    """Write a risk into the register; without a code it gets the next free one.

    Writes Risk and a trail row. Not safe to repeat: every call is a further risk, or its code is taken.
    """
    project = lock(project)
    code = draft.code.strip() or _next_code(project)
    if Risk.objects.filter(project=project, code__iexact=code).exists():
        raise Refused(_("Risk code %(code)s is taken; choose another.") % {"code": code}, field="code")
    risk = Risk(project=project, code=code, entered_at=now, entered_by=by, **_checked(project, draft))
    columns_within_bounds(risk)
    risk.save()
    _tell(risk, "added", _("Added risk %s") % risk, by=by, now=now)
    return risk


def _next_code(project: Project) -> str:
    taken = Risk.objects.filter(project=project, code__startswith="R").values_list("code", flat=True)
    numbers = [int(code[1:]) for code in taken if code[1:].isascii() and code[1:].isdigit()]
    return f"R{max(numbers, default=0) + 1:02d}"


def _checked(project: Project, draft: RiskDraft) -> dict[str, Any]:
    """The columns of a draft, or a refusal."""
    if not draft.what.strip():
        raise Refused(_("Say what may happen."), field="what")
    share_within_bounds(draft.chance, field="chance", message=_("A chance lies between 0 and 100 %."), most=1)
    amount_within_bounds(draft.cost_minor, project.currency, field="cost")
    if not 0 <= draft.days <= LONGEST_DAYS:
        raise Refused(_("Days lie between 0 and %d.") % LONGEST_DAYS, field="days")
    return {
        "what": draft.what.strip(),
        "chance": draft.chance,
        "cost_minor": draft.cost_minor,
        "days": draft.days,
        "line": _line(project, draft.line_id),
        "owner": draft.owner.strip(),
        "response": draft.response.strip(),
    }


def _line(project: Project, line_id: int | None) -> LineItem | None:
    if line_id is None:
        return None
    found = LineItem.objects.filter(project=project, removed_on=None, pk=line_id).first()
    if found is None:
        raise Refused(_("There is no such line on the budget any more; choose one that is."), field="line")
    return found


def _tell(risk: Risk, verb: str, summary: str, *, by: User, now: datetime) -> None:
    """The register itself keeps the newest figures alone; the trail keeps what they were."""
    details = {
        "chance": format(risk.chance, "f"), "cost_minor": risk.cost_minor, "days": risk.days, "response": risk.response,
        "state": str(risk.state),
    }  # fmt: skip
    trail.note(
        risk.project, by=by, at=now, verb=verb, subject="risk", subject_id=risk.pk, summary=summary, details=details
    )


@transaction.atomic
def edit_risk(risk: Risk, draft: RiskDraft, *, by: User, now: datetime, today: date, version: int) -> Risk:
    """Say anew what a risk would cost, how likely it is and what is done about it.

    Writes the Risk and a trail row with the figures after it. Raises: Stale when somebody saved it since `version`.
    """
    held = _held(risk, version)
    for name, value in _checked(held.project, draft).items():
        setattr(held, name, value)
    columns_within_bounds(held)
    _save(held)
    _tell(held, "edited", _("Edited risk %s") % held, by=by, now=now)
    return held


def _held(risk: Risk, version: int | None) -> Risk:
    project = lock(risk.project)
    held = Risk.objects.select_for_update().get(pk=risk.pk)
    held.project = project
    if version is not None and held.version != version:
        theirs = {column.name: getattr(held, column.name, None) for column in fields(RiskDraft)}
        raise Stale(
            _("Somebody else saved this risk while you were editing; look at what stands now and save again."),
            theirs=theirs | {"cost": held.cost_minor, "line": str(held.line_id or ""), "version": held.version},
        )
    if held.state != Risk.State.OPEN:
        raise Refused(_("%(risk)s is %(state)s already.") % {"risk": held, "state": held.get_state_display()})
    return held


def _save(held: Risk) -> None:
    held.version += 1
    held.save()


@transaction.atomic
def close_risk(
    risk: Risk, *, state: str, note: str, by: User, now: datetime, today: date, change_id: int | None = None,
    version: int | None = None,
) -> Risk:  # fmt: skip
    """Take a risk off the open register: it happened, perhaps as a change, or it can no longer happen.

    Writes the Risk and a trail row with the note. A second call is refused.
    """
    held = _held(risk, version)
    if state not in (Risk.State.HAPPENED, Risk.State.CLOSED):
        raise Refused(_("Say whether it happened or can no longer happen."), field="state")
    if not note.strip():
        raise Refused(_("Say how it went; the next build will want to know."), field="note")
    held.state, held.change = state, _change(held.project, state, change_id)
    _save(held)
    words = (
        _("Risk %(risk)s happened: %(note)s") if state == Risk.State.HAPPENED else _("Closed risk %(risk)s: %(note)s")
    )
    _tell(held, "closed", words % {"risk": held, "note": note.strip()}, by=by, now=now)
    return held


def _change(project: Project, state: str, change_id: int | None) -> Change | None:
    if change_id is None:
        return None
    if state != Risk.State.HAPPENED:
        raise Refused(_("Only a risk that happened became a change; leave the change empty."), field="change")
    found = Change.objects.filter(project=project, pk=change_id).first()
    if found is None:
        raise Refused(_("There is no such change; choose one of the list."), field="change")
    return found
