"""What a hold point may be, and what every deed on one begins and ends with."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils.translation import gettext as _

from projects import trail
from projects.bounds import amount_within_bounds
from projects.faults import Refused
from projects.models import Project, User
from schedule.models import Activity, HoldCheck, HoldPoint, Proof

MOST_CHECKS, MOST_SIGNERS = 40, 12


@dataclass(frozen=True, slots=True)
class CheckDraft:
    """One thing to look at; `id` is that of a check which stands already."""

    text: str
    limit: str = ""
    limit_from: str = HoldCheck.Source.START
    limit_named: str = ""
    evidence: str = HoldCheck.Evidence.PHOTOGRAPH
    evidence_named: str = ""
    id: int | None = None


@dataclass(frozen=True, slots=True)
class HoldDraft:
    """A hold point: looked at in one activity, stopping others, both known by their codes. An empty code is the next one."""

    title: str
    activity: str
    stops: tuple[str, ...] = ()
    signers: tuple[str, ...] = ()
    checks: tuple[CheckDraft, ...] = ()
    kind: str = HoldPoint.Kind.HOLD
    cost_if_wrong_minor: int = 0
    note: str = ""
    code: str = ""


def held(project: Project, hold: HoldPoint) -> HoldPoint:
    """The hold point as it stands now, of a project that is held."""
    row = HoldPoint.objects.filter(project=project, pk=hold.pk, removed_on=None).first()
    if row is None:
        raise Refused(_("This hold point is not there any more."))
    row.project = project
    return row


def places(project: Project, draft: HoldDraft) -> dict[str, Activity]:
    """The activities that a draft names. Raises: Refused."""
    wanted = {code.strip() for code in (draft.activity, *draft.stops) if code.strip()}
    found = {row.code: row for row in Activity.objects.filter(project=project, code__in=wanted, removed_on=None)}
    if draft.activity.strip() not in found:
        raise Refused(_("Choose the activity in which it is looked at."), field="activity")
    for code in draft.stops:
        if code.strip() not in found:
            raise Refused(_("There is no activity %s in the plan.") % code[:20], field="stops")
    return found


def check(project: Project, draft: HoldDraft) -> None:
    if not draft.title.strip():
        raise Refused(_("Say what is looked at, such as “Before the pour, bay 2”."), field="title")
    if draft.kind not in HoldPoint.Kind.values:
        raise Refused(_("“%s” is no kind of hold point.") % draft.kind[:20], field="kind")
    amount_within_bounds(draft.cost_if_wrong_minor, project.currency, field="cost")
    stops = draft.kind == HoldPoint.Kind.HOLD
    if stops and not draft.stops:
        raise Refused(_("Say which work may not start before it is released."), field="stops")
    if stops and not draft.signers:
        raise Refused(_("Say who signs: somebody has to release it."), field="signers")
    if draft.activity.strip() in {code.strip() for code in draft.stops}:
        raise Refused(_("It cannot stop the work in which it is looked at."), field="stops")
    if len(draft.signers) > MOST_SIGNERS:
        raise Refused(_("At most %d roles sign for one hold point.") % MOST_SIGNERS, field="signers")
    if not draft.checks:
        raise Refused(_("Name at least one thing that has to be shown."), field="checks")
    if len(draft.checks) > MOST_CHECKS:
        raise Refused(_("At most %d checks belong to one hold point; make two of it.") % MOST_CHECKS, field="checks")
    for check in draft.checks:
        _check_check(check)


def _check_check(draft: CheckDraft) -> None:
    if not draft.text.strip():
        raise Refused(_("Say what is looked at."), field="checks")
    if draft.limit_from not in HoldCheck.Source.values:
        raise Refused(_("“%s” is nobody who sets a limit.") % draft.limit_from[:20], field="checks")
    if draft.evidence not in HoldCheck.Evidence.values:
        raise Refused(_("“%s” is no kind of evidence.") % draft.evidence[:20], field="checks")


def code(project: Project, wanted: str, own: HoldPoint | None) -> str:
    rows = HoldPoint.objects.filter(project=project).exclude(pk=own.pk if own and own.pk else 0)
    code = wanted.strip()
    if not code:
        numbers = [
            int(one[1:]) for one in rows.values_list("code", flat=True) if one[:1] == "H" and one[1:].isdecimal()
        ]
        code = f"H{max(numbers, default=0) + 1:02d}"
    if rows.filter(code__iexact=code).exists():
        raise Refused(_("There is a hold point %s already; give another code.") % code[:12], field="code")
    return code


def last_proof(hold: HoldPoint) -> Proof | None:
    """The newest proof at a hold point, which what is done now comes after."""
    return Proof.objects.filter(hold_check__hold=hold).order_by("-pk").first()


def noted(
    row: HoldPoint, verb: str, summary: str, by: User | None, now: datetime, details: dict[str, Any] | None = None
) -> None:
    trail.note(
        row.project, by=by, at=now, verb=verb, subject="hold point", subject_id=row.pk, summary=summary, details=details
    )  # fmt: skip
