"""The rows of hold points as plain values; each function is one query."""

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from django.db.models import Q

from projects.models import Project
from schedule.calc.calendars import Calendar
from schedule.calc.gates import Check, Overrule, Proof, Signature, Work
from schedule.models import Activity, HoldCheck, HoldPoint, Plan
from schedule.models import Overrule as OverruleRow
from schedule.models import Signature as SignatureRow
from schedule.selectors.network import WEEKDAYS


def heads(project: Project) -> dict[int, list[dict[str, Any]]]:
    """The rows of each hold point, one for each role that signs, with the activity it is looked at in."""
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    rows = HoldPoint.objects.filter(project=project, removed_on=None)
    wanted = (
        "pk", "code", "title", "kind", "cost_if_wrong_minor", "booked_for", "note", "version", "signers__role",
        *(f"activity__{name}" for name in WORK), "activity__notice_days", "activity__attended_by",
    )  # fmt: skip
    for row in rows.order_by("position", "pk", "signers__position", "signers__pk").values(*wanted):
        found[row["pk"]].append(row)
    return found


WORK = ("pk", "code", "name", "early_start_on", "started_on", "finished_on", "covers", "trade", "area")


def work(row: Mapping[str, Any], prefix: str = "") -> Work:
    return Work(*(row[prefix + name] for name in WORK))


def works(project: Project) -> tuple[dict[int, Work], dict[int, set[int]]]:
    """Work that covers something or is stopped, and what each hold point stops."""
    works: dict[int, Work] = {}
    stopped: dict[int, set[int]] = defaultdict(set)
    rows = Activity.objects.filter(project=project, removed_on=None)
    rows = rows.filter(Q(covers=True) | Q(hold_stops__isnull=False)).order_by("position", "pk")
    for row in rows.values(*WORK, "hold_stops__hold_id"):
        works[row["pk"]] = work(row)
        if row["hold_stops__hold_id"]:
            stopped[row["hold_stops__hold_id"]].add(row["pk"])
    return works, stopped


def checks(project: Project) -> dict[int, list[Check]]:
    """The checks of each hold point with their proofs, oldest first."""
    rows = HoldCheck.objects.filter(hold__project=project, hold__removed_on=None, removed_on=None)
    checks: dict[int, dict[str, Any]] = {}
    proofs: dict[int, list[Proof]] = defaultdict(list)
    head = ("pk", "hold_id", "text", "limit", "limit_from", "limit_named", "evidence", "evidence_named")
    proof = ("passes", "pk", "value", "seen_on", "seen_by", "note", "log")
    asked = (*head, *(f"proofs__{name}" for name in proof))
    for row in rows.order_by("position", "pk", "proofs__pk").values(*asked):
        checks[row["pk"]] = row
        if row["proofs__pk"]:
            proofs[row["pk"]].append(Proof(*(row[f"proofs__{name}"] for name in proof)))
    found: dict[int, list[Check]] = defaultdict(list)
    for pk, row in checks.items():
        told = {name: row[name] for name in head[2:]}
        found[row["hold_id"]].append(Check(proofs=tuple(proofs[pk]), key=pk, **told))
    return found


def signatures(project: Project) -> dict[int, list[Signature]]:
    """Signatures that were not taken back, in the order of their entry."""
    found: dict[int, list[Signature]] = defaultdict(list)
    rows = SignatureRow.objects.filter(hold__project=project, reverses=None, reversal=None).order_by("pk")
    for row in rows:
        found[row.hold_id].append(
            Signature(row.role, row.last_proof_id or 0, row.pk, row.name, row.signed_on, row.note)
        )
    return found


def overrules(project: Project) -> dict[int, list[Overrule]]:
    found: dict[int, list[Overrule]] = defaultdict(list)
    rows = OverruleRow.objects.filter(hold__project=project).select_related("entered_by").order_by("pk")
    for row in rows:
        by = row.entered_by.called if row.entered_by else ""
        found[row.hold_id].append(
            Overrule(
                row.activity_id, row.last_proof_id or 0, row.reason, by, row.overruled_on, tuple(row.missing), row.pk
            )
        )
    return found


def own_calendar(project: Project) -> Calendar:
    """The calendar by whose working days notice is counted: the project's own."""
    asked = ("name", "weekdays", "region", "closures__first_on", "closures__last_on")
    rows = list(
        Plan.objects.filter(project=project, calendar__isnull=False).values_list(
            *(f"calendar__{name}" for name in asked)
        )
    )
    if not rows:
        return WEEKDAYS
    name, weekdays, region = rows[0][:3]
    closed = sorted((first, last) for *_head, first, last in rows if first)
    return Calendar(name, frozenset(map(int, weekdays)), region, tuple(closed))
