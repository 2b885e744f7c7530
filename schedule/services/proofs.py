"""What was found at a hold point and who signed; both are only ever added (ADR 0404)."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from projects.bounds import columns_within_bounds, date_within_bounds
from projects.faults import Refused
from projects.models import Attachment, User
from schedule.calc import limits, pressure_logs
from schedule.calc.pressure_logs import PressureLog
from schedule.models import HoldCheck, HoldPoint, Proof, ProofFile, Signature
from schedule.services import hold_rules as rules
from schedule.services import plan

#: Evidence that is a file, or a note that says where the paper is kept.
KEPT = {HoldCheck.Evidence.PHOTOGRAPH, HoldCheck.Evidence.DOCUMENT}


@dataclass(frozen=True, slots=True)
class Found:
    """What somebody found at a check. `sure` is false for somebody who should be asked when reading and limit disagree."""

    passes: bool
    value: str = ""
    seen_on: date | None = None
    seen_by: str = ""
    note: str = ""
    attachment_ids: Sequence[int] = ()
    sure: bool = True
    #: The readings of a test over time.
    log: PressureLog | None = None


@transaction.atomic
def prove(check: HoldCheck, found: Found, *, by: User | None, now: datetime, today: date) -> Proof:
    """Write down what was found at a check; of several proofs the newest stands.

    Writes Proof with its files, and a trail row. Not safe to repeat: every call is a further proof.
    Raises: Refused, where nothing is shown, or at `sure` where reading and limit disagree and nobody has said so.
    """
    hold = rules.held(plan.lock(check.hold.project), check.hold)
    row = HoldCheck.objects.filter(hold=hold, pk=check.pk, removed_on=None).first()
    if row is None:
        raise Refused(_("This check was changed meanwhile; look at the hold point again."))
    found = _with_its_log(found)
    files = list(Attachment.objects.filter(project=hold.project, pk__in=found.attachment_ids))
    _must_show(row, found, files, today)
    proof = Proof(
        hold_check=row, value=found.value.strip(), passes=found.passes, seen_on=found.seen_on or today,
        seen_by=found.seen_by.strip(), note=found.note.strip(), entered_at=now, entered_by=by,
        log=pressure_logs.plain(found.log) if found.log else None,
    )  # fmt: skip
    columns_within_bounds(proof)
    proof.save()
    ProofFile.objects.bulk_create(ProofFile(proof=proof, attachment=file) for file in files)
    words = _("%(hold)s, %(check)s: passes, %(value)s") if found.passes else _("%(hold)s, %(check)s: fails, %(value)s")
    told = {
        "hold": hold.code,
        "check": row,
        "value": proof.value or proof.note or ", ".join(file.name for file in files),
    }
    rules.noted(hold, "proved" if found.passes else "failed", words % told, by, now)
    return proof


def _with_its_log(found: Found) -> Found:
    """A log says in words what it comes to, where nobody has said it."""
    if found.log is None or found.value.strip():
        return found
    told = {"drop": found.log.drop, "unit": found.log.unit, "minutes": found.log.minutes}
    return replace(found, value=_("fell by %(drop)s %(unit)s in %(minutes)d minutes") % told)


def _must_show(row: HoldCheck, found: Found, files: Sequence[Attachment], today: date) -> None:
    date_within_bounds(found.seen_on, field="seen_on", latest=today)
    if row.evidence == HoldCheck.Evidence.READING and found.passes and not found.value.strip():
        raise Refused(_("Give the reading; a check with a limit is not passed without one."), field="value")
    if row.evidence in KEPT and found.passes and not files and not found.note.strip() and not found.log:
        raise Refused(_("Add the photograph or the document, or say in the note where it is kept."), field="files")
    if not found.value.strip() and not found.note.strip() and not files:
        raise Refused(_("Show something: what was found, a photograph or a document."), field="value")
    if not found.passes and not found.value.strip() and not found.note.strip():
        raise Refused(_("Say what was found, so that others know what to mend."), field="value")
    if not found.sure:
        _must_agree(row, found)


def _must_agree(row: HoldCheck, found: Found) -> None:
    """Ask somebody who says otherwise than the figures do whether they have looked again."""
    if found.log and found.passes and found.log.within is False:
        told = {"drop": found.log.drop, "allowed": found.log.allowed_drop, "unit": found.log.unit}
        raise Refused(
            _("It fell by %(drop)s %(unit)s where %(allowed)s is allowed, yet you say that it passes.") % told,
            field="sure",
        )
    if not disagrees(row.limit, found.value, passes=found.passes):
        return
    lies = _("The reading %(value)s lies outside of the limit %(limit)s, yet you say that it passes.")
    holds = _("The reading %(value)s lies within the limit %(limit)s, yet you say that it fails.")
    raise Refused((lies if found.passes else holds) % {"value": found.value, "limit": row.limit}, field="sure")


def disagrees(limit: str, value: str, *, passes: bool) -> bool:
    """Tell whether what somebody says of a reading is not what the limit says, as far as both can be read."""
    out = limits.outside(limit, value)
    return out is not None and out == passes


@transaction.atomic
def sign(
    hold: HoldPoint, *, role: str, name: str, signed_on: date | None = None, note: str = "", by: User | None,
    now: datetime, today: date,
) -> Signature:  # fmt: skip
    """Write down that a role signed. It counts where everything is shown to pass by then, and nothing fails after it.

    Writes Signature and a trail row. Not safe to repeat. Raises: Refused.
    """
    row = rules.held(plan.lock(hold.project), hold)
    if not row.signers.filter(role=role).exists():
        raise Refused(_("“%s” is no role that signs here; add it to the hold point first.") % role[:80], field="role")
    if not name.strip():
        raise Refused(_("Give the name of the one who signed."), field="name")
    date_within_bounds(signed_on, field="signed_on", latest=today)
    signature = Signature(
        hold=row, role=role, name=name.strip(), signed_on=signed_on or today, note=note.strip(), entered_at=now, entered_by=by,
        last_proof=rules.last_proof(row),
    )  # fmt: skip
    columns_within_bounds(signature)
    signature.save()
    words = _("%(role)s %(name)s signed for %(hold)s") % {"role": role, "name": signature.name, "hold": row}
    rules.noted(row, "signed", words, by, now)
    return signature


@transaction.atomic
def take_back_signature(
    signature: Signature, *, reason: str, by: User | None, now: datetime, today: date
) -> Signature:  # fmt: skip
    """Take a signature back by a further row that names it.

    Writes Signature and a trail row. Raises: Refused without a reason, and where it was taken back already.
    """
    row = rules.held(plan.lock(signature.hold.project), signature.hold)
    if signature.reverses_id is not None or Signature.objects.filter(reverses=signature).exists():
        raise Refused(_("This signature was taken back already."))
    if not reason.strip():
        raise Refused(_("Say why it is taken back."), field="reason")
    taken = Signature(
        hold=row, role=signature.role, name=signature.name, signed_on=today, note=reason.strip(), entered_at=now, entered_by=by,
        reverses=signature,
    )  # fmt: skip
    columns_within_bounds(taken)
    taken.save()
    words = _("Took back the signature of %(role)s %(name)s for %(hold)s: %(reason)s")
    told = {"role": signature.role, "name": signature.name, "hold": row, "reason": reason.strip()}
    rules.noted(row, "took back", words % told, by, now)
    return taken
