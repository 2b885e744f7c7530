"""Recording a decision, approving it, and reopening it.

A record freezes everything the decision rested on and is hashed. It takes effect at once where the sum lies within the
limit of the one who records it, and after an owner's approval where it does not. Reopening reverses what it did.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import AgreementLine, Cause, KnockOn, LineItem, OwnForecast, Quote
from budget.services import agreements
from budget.services.ledger import Deed, lock, reverse, settle
from budget.services.lines import enter_estimate, enter_knock_on, enter_own_forecast
from decisions.calc.sealing import canonical, hash_of
from decisions.models import (
    Approval,
    CheckResult,
    Decision,
    Option,
    Record,
    RecordAgreement,
    RecordDeclined,
    RecordEstimate,
    RecordKnockOn,
    Reopening,
    Saving,
    SavingKind,
    Taking,
)
from decisions.selectors import board as boards
from decisions.selectors import doings as told
from decisions.selectors import freezing
from decisions.services import book, record_plan
from decisions.services.drafts import open_for_editing
from projects import limits, trail
from projects.faults import Refused, Stale
from projects.models import Project, User

APPROVED, DECLINED = Approval.Verdict.APPROVED, Approval.Verdict.DECLINED


@dataclass(frozen=True, slots=True)
class SavingDraft:
    kind: str
    amount_minor: int
    what: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """What is decided, why, and on which terms."""

    option_id: int
    reason: str
    #: {line id: agreed amount in the quote's currency} where the price was talked down; else as quoted.
    amounts: Mapping[int, int] = field(default_factory=dict)
    #: {must-pass id: reason} for checks that the option fails or that nobody has answered yet.
    overruled: Mapping[int, str] = field(default_factory=dict)
    #: How the saving against the original quotes divides by kind; what is left out is the same for less, or an extra.
    savings: tuple[SavingDraft, ...] = ()


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What recording a choice would do; `seen` goes back to `record`, so that nothing else is done than was shown."""

    results: Mapping[str, int | None]
    waits: bool
    doings: told.Doings
    lifted: tuple[str, ...]
    seen: str
    option: Mapping[str, Any]
    #: The activity of the plan that stands for the answer and would be done; "" for none.
    answer: str

    @property
    def against_original_minor(self) -> int | None:
        """The price less the original quote: above zero is extra, as on the pages of Money."""
        saved = self.results["saved_minor"]
        return None if saved is None else -saved


@transaction.atomic
def record(
    decision: Decision, choice: Choice, *, by: User, role: str, now: datetime, today: date, version: int | None = None,
    decided_on: date | None = None, seen: str = "",
) -> Record:  # fmt: skip
    """Freeze a decision and, where the sum is within the role's limit, put it into effect.

    Args:
        version: the decision's version that the choice was made on, or None not to ask.
        seen: from `rehearse`, or "" not to ask.
    Writes Record and its savings; when in effect also agreements, estimates, knock-ons, declined quotes and movements
    `decision`; always a trail row. Not safe to repeat: the decision is then no longer open.
    Raises: Refused, also where it could not take effect once approved; Stale.
    """
    held = open_for_editing(decision, version=version)
    board = boards.board(held, today=today)
    option = _choosable(board, choice)
    _unclaimed(held)
    frozen = freezing.freeze(board, choice, by=by.called, on=decided_on or today)
    if seen and seen != fingerprint(frozen):
        raise Stale(_("A price in this decision has moved since you saw what it does; look at it again and confirm."))
    commits = frozen["results"]["commits_minor"]
    within = limits.allows(held.project, role, commits)
    text = canonical(frozen)
    row = Record.objects.create(
        decision=held, number=held.records.count() + 1, option=option, reason=choice.reason.strip(), decided_on=decided_on or today,
        recorded_at=now, recorded_by=by, commits_minor=commits, needs_approval=not within, frozen=text, sha256=hash_of(text),
    )  # fmt: skip
    _write_savings(row, frozen["results"], choice)
    held.state = Decision.State.DECIDED if within else Decision.State.WAITING
    held.version += 1
    held.save(update_fields=["state", "version"])
    if within:
        _take(row, choice.amounts, by=by, now=now, today=today, on=row.decided_on)
    else:
        _would_do(row, choice.amounts, by=by, now=now, today=today)
    words = (
        _("Recorded decision %(code)s: %(option)s")
        if within
        else _("Recorded decision %(code)s: %(option)s; it waits for an owner")
    )
    trail.note(
        held.project, by=by, at=now, verb="recorded", subject="decision", subject_id=held.pk,
        summary=words % {"code": held.code, "option": option}, details={"record": row.pk, "sha256": row.sha256},
    )  # fmt: skip
    return row


def rehearse(decision: Decision, choice: Choice, *, by: User, role: str, now: datetime, today: date) -> Rehearsal:
    """Record a choice and take everything back at once, to show what it would do, to the cent.

    Writes nothing that stays. Raises: what `record` raises.
    """
    with transaction.atomic():
        row = record(decision, choice, by=by, role=role, now=now, today=today)
        done = _would_do(row, choice.amounts, by=by, now=now, today=today) if row.needs_approval else told.doings(row)
        frozen = json.loads(row.frozen)
        lines = decision.lines.filter(code__in=frozen["own_forecasts"])
        option = next(one for one in frozen["options"] if one["key"] == frozen["choice"]["option"])
        lifted, seen = tuple(map(str, lines)), fingerprint(frozen)
        answer = record_plan.answer_done(row)
        shown = Rehearsal(frozen["results"], row.needs_approval, done, lifted, seen, option, answer)
        transaction.set_rollback(True)
    return shown


def _would_do(row: Record, amounts: Mapping[int, int], *, by: User, now: datetime, today: date) -> told.Doings:
    """Put a record into effect and take that back at once; it tells what would happen, or that it cannot."""
    with transaction.atomic():
        _take(row, amounts, by=by, now=now, today=today, on=row.decided_on)
        done = told.doings(row)
        transaction.set_rollback(True)
    return done


def fingerprint(frozen: Mapping[str, Any]) -> str:
    """Tell two frozen decisions apart by what matters to the one who confirms: prices, results, agreed amounts, the plan."""
    chosen = next(row for row in frozen["options"] if row["key"] == frozen["choice"]["option"])
    matters = {name: frozen[name] for name in ("prices", "results", "own_forecasts")}
    return hash_of(canonical(matters | {"plan": chosen.get("plan")}))


def _choosable(board: boards.Board, choice: Choice) -> Option:
    if not choice.reason.strip():
        raise Refused(_("Give the reason; in a year it is what you will look for."), field="reason")
    if len(board.options) < 2:
        raise Refused(
            _("A decision needs two options or more; add another way to build it, or accept the quote on its own page.")
        )
    option = next((row for row in board.options if row.pk == choice.option_id), None)
    if option is None:
        raise Refused(_("Choose one of the options on the table."), field="option")
    for check in board.must_passes:
        if (
            board.verdict(option, check) != CheckResult.Verdict.PASSES
            and not choice.overruled.get(check.pk, "").strip()
        ):
            raise Refused(
                _("%(option)s does not pass “%(check)s”; choose another, or overrule the check with a reason.")
                % {"option": option.name, "check": check.name},
                field=f"overrule-{check.pk}",
            )
    return option


def _unclaimed(decision: Decision) -> None:
    """One saving belongs to one decision and one set of lines."""
    lines = decision.decision_lines.values_list("line_id", flat=True)
    other = (
        Decision.objects.filter(decision_lines__line__in=lines)
        .exclude(pk=decision.pk)
        .filter(state__in=[Decision.State.DECIDED, Decision.State.WAITING])
        .first()
    )
    if other is not None:
        raise Refused(
            _(
                "Decision %(code)s “%(title)s” has settled a line of this one already; its saving would be counted twice. Reopen it first."
            )
            % {"code": other.code, "title": other.title}
        )


def _write_savings(row: Record, results: Mapping[str, int | None], choice: Choice) -> None:
    saved = results["saved_minor"]
    drafts = list(choice.savings)
    for draft in drafts:
        if draft.kind not in SavingKind.values or draft.kind == SavingKind.EFFECT:
            raise Refused(
                _("Choose a kind from the list; effects on other lines are counted of themselves."), field="savings"
            )
        if (draft.kind == SavingKind.EXTRA) != (draft.amount_minor < 0):
            raise Refused(_("An extra is below zero; every other kind of saving lies above."), field="savings")
    if saved is None and drafts:
        raise Refused(_("The lines have no original quote, so there is nothing to save against."), field="savings")
    counted = sum(draft.amount_minor for draft in drafts if draft.kind != SavingKind.AVOIDED)
    rest = (saved or 0) - counted
    if rest and not {SavingKind.SAME_FOR_LESS, SavingKind.EXTRA} & {draft.kind for draft in drafts}:
        kind = SavingKind.SAME_FOR_LESS if rest > 0 else SavingKind.EXTRA
        drafts.append(SavingDraft(kind, rest, row.option.name))
        counted += rest
    if drafts and counted != (saved or 0):
        raise Refused(
            _("The kinds of saving add up to another sum than the saving; they have to share it out to the cent."),
            field="savings",
        )
    lines = list(row.decision.decision_lines.values_list("line_id", flat=True))
    effects = results["effects_minor"]
    if effects:
        drafts.append(SavingDraft(SavingKind.EFFECT, -effects))
    for draft in drafts:
        if draft.amount_minor:
            saving = Saving.objects.create(
                record=row, kind=draft.kind, amount_minor=draft.amount_minor, what=draft.what[:200]
            )
            saving.lines.set(lines)


def _take(row: Record, amounts: Mapping[int, int], *, by: User, now: datetime, today: date, on: date) -> None:
    """Put a record into effect: agreements, estimates, knock-ons, declined quotes, what it does to the plan, movements."""
    decision, project = row.decision, row.decision.project
    touched = set(decision.decision_lines.values_list("line_id", flat=True))
    book.none_entered(touched)
    Taking.objects.create(record=row, taken_on=on, taken_at=now, taken_by=by)
    chosen: dict[int, list[int]] = {}
    for item in row.option.items.select_related("line"):
        if item.quote_id:
            chosen.setdefault(item.quote_id, []).append(item.line_id)
    for quote_id, lines in chosen.items():
        quote = Quote.objects.select_related("vendor").get(pk=quote_id)
        terms = agreements.Terms(
            amounts={line: amounts[line] for line in lines if line in amounts}, only=frozenset(lines),
            still_to_let=_estimated_beside(row, lines), note=str(decision.code),
        )  # fmt: skip
        made = agreements.enter_agreement(project, quote, terms, by=by, now=now, on=on, today=today)
        RecordAgreement.objects.create(record=row, agreement=made)
        touched |= agreements.lines_of(quote)
    _enter_estimates(row, {line for lines in chosen.values() for line in lines}, by=by, now=now, on=on)
    for effect in row.option.effects.select_related("line"):
        knock_on = enter_knock_on(
            effect.line, effect.amount_minor, reason=f"{decision.code}: {effect.why}", by=by, now=now, on=on
        )
        RecordKnockOn.objects.create(record=row, knock_on=knock_on)
        touched.add(effect.line_id)
    _decline_others(row, set(chosen))
    record_plan.put_in(row, by=by, now=now, today=today, on=on)
    settle(project, touched, Deed(by, now, on, Cause.DECISION, f"{decision.code} {row.option}", "record", row.pk))


def _estimated_beside(row: Record, lines: list[int]) -> dict[int, int]:
    """Estimates that stand beside a quote on the same line: work still to be let."""
    rest: dict[int, int] = {}
    for item in row.option.items.filter(line_id__in=lines, quote=None):
        rest[item.line_id] = rest.get(item.line_id, 0) + (item.amount_minor or 0)
    return rest


def _enter_estimates(row: Record, let: set[int], *, by: User, now: datetime, on: date) -> None:
    sums: dict[int, int] = {}
    for item in row.option.items.filter(quote=None).exclude(line_id__in=let):
        sums[item.line_id] = sums.get(item.line_id, 0) + (item.amount_minor or 0)
    _not_let(set(sums))
    for line in LineItem.objects.filter(pk__in=sums):
        basis = f"{row.decision.code} {row.option}"
        made = enter_estimate(line, sums[line.pk], basis=basis, by=by, now=now, on=on)
        RecordEstimate.objects.create(record=row, estimate=made)
        newest = OwnForecast.objects.filter(line=line).order_by("pk").last()
        if newest is not None and newest.amount_minor is not None:
            enter_own_forecast(line, None, reason=_("lifted: %s") % basis, by=by, now=now, on=on)


def _not_let(lines: set[int]) -> None:
    """An estimate moves nothing on a line that is let already; its saving would be a fiction."""
    standing = AgreementLine.objects.filter(line_id__in=lines, agreement__reversal=None)
    row = standing.select_related("line", "agreement__vendor").first()
    if row is not None:
        raise Refused(
            _("%(line)s is let to %(vendor)s already; take that acceptance back first.")
            % {"line": row.line, "vendor": row.agreement.vendor}
        )


def _decline_others(row: Record, accepted: set[int]) -> None:
    lines = set(row.decision.decision_lines.values_list("line_id", flat=True))
    rivals = Quote.objects.filter(state=Quote.State.OPEN, lines__line__in=lines).exclude(pk__in=accepted).distinct()
    for quote in rivals:
        if set(quote.lines.values_list("line_id", flat=True)) <= lines:
            quote.state = Quote.State.DECLINED
            quote.version += 1
            quote.save(update_fields=["state", "version"])
            RecordDeclined.objects.create(record=row, quote=quote)


@transaction.atomic
def approve(row: Record, *, verdict: str, note: str, by: User, role: str, now: datetime, today: date) -> Approval:
    """Give an owner's answer to a record that waits. Approved, it takes effect; declined, the decision is open again.

    Writes Approval, what `record` writes when in effect, and a trail row. A second answer is refused.
    """
    project = lock(row.decision.project)
    decision = Decision.objects.select_for_update().get(pk=row.decision_id)
    answered = Approval.objects.filter(record=row).exists() or Reopening.objects.filter(record=row).exists()
    if not row.needs_approval or answered:
        raise Refused(_("This record does not wait for an approval any more."))
    if verdict == DECLINED and not note.strip():
        raise Refused(_("Say why, so that the lead knows what to change."), field="note")
    if verdict == APPROVED:
        limits.must_allow(project, role, row.commits_minor)
        _unchanged(row, today)
    answer = Approval.objects.create(
        record=row,
        verdict=verdict,
        note=note.strip(),
        given_at=now,
        given_on=today,
        given_by=by,
        given_by_name=by.called,
    )
    decision.state = Decision.State.DECIDED if verdict == APPROVED else Decision.State.OPEN
    decision.version += 1
    decision.save(update_fields=["state", "version"])
    if verdict == APPROVED:
        agreed = json.loads(row.frozen)["choice"]["amounts"]
        amounts = {line.pk: agreed[line.code] for line in decision.lines.filter(code__in=agreed)}
        _take(row, amounts, by=by, now=now, today=today, on=today)
    words = _("Approved decision %s") if verdict == APPROVED else _("Declined decision %s")
    trail.note(
        project, by=by, at=now, verb=verdict, subject="decision", subject_id=decision.pk,
        summary=words % decision.code, details={"record": row.pk},
    )  # fmt: skip
    return answer


def _unchanged(row: Record, today: date) -> None:
    """An owner approves what was recorded; where its prices have moved since, it has to be recorded anew."""
    board = boards.board(row.decision, today=today)
    if boards.prices(board) != json.loads(row.frozen)["prices"]:
        raise Refused(
            _("A price in this decision has moved since it was recorded; decline it, and have it recorded anew.")
        )


@transaction.atomic
def reopen(decision: Decision, *, reason: str, by: User, now: datetime, today: date) -> Reopening:
    """Take a decision back: every agreement, estimate, knock-on and movement of its record is reversed.

    A record that still waits for an owner is taken back the same way; it has moved nothing yet. What it did to the plan is
    taken out again; what somebody has changed there since is left, and named in the trail (`record_plan.left_alone`).

    Writes Reopening, the reversing rows, and a trail row; nothing is deleted. A second call is refused.
    """
    project = lock(decision.project)
    held = Decision.objects.select_for_update().get(pk=decision.pk)
    if held.state == Decision.State.OPEN:
        raise Refused(_("This decision is open; there is nothing to take back."))
    if not reason.strip():
        raise Refused(_("Say why the decision is taken back."), field="reason")
    row = held.records.filter(reopening=None).exclude(approval__verdict=DECLINED).get()
    made = Reopening.objects.create(
        record=row, reason=reason.strip()[:500], reopened_on=today, reopened_at=now, reopened_by=by
    )
    touched = _undo(row, project, reason=reason, by=by, now=now, today=today)
    deed = Deed(by, now, today, Cause.DECISION, reason)
    touched |= reverse(project, source="record", source_id=row.pk, deed=deed)
    left = record_plan.take_out(row, reason=reason, by=by, now=now, today=today)
    settle(project, touched, Deed(by, now, today, Cause.QUOTED, _("moved while %s stood") % held.code))
    held.state = Decision.State.OPEN
    held.version += 1
    held.save(update_fields=["state", "version"])
    trail.note(
        project, by=by, at=now, verb="reopened", subject="decision", subject_id=held.pk,
        summary=_("Reopened decision %(code)s: %(reason)s") % {"code": held.code, "reason": reason},
        details={"record": row.pk} | ({"left": list(left)} if left else {}),
    )  # fmt: skip
    return made


def _undo(row: Record, project: Project, *, reason: str, by: User, now: datetime, today: date) -> set[int]:
    touched: set[int] = set()
    for tie in row.agreements.select_related("agreement"):
        touched |= agreements.enter_reversal(tie.agreement, reason=reason, by=by, now=now, on=today)
    for held in row.estimates.select_related("estimate__line"):
        was = held.estimate
        enter_estimate(was.line, was.amount_minor, basis=reason, by=by, now=now, on=today, reverses=was)
        touched.add(was.line_id)
    for made in row.knock_ons.select_related("knock_on__line"):
        done: KnockOn = made.knock_on
        enter_knock_on(done.line, -done.amount_minor, reason=reason, by=by, now=now, on=today, reverses=done)
        touched.add(done.line_id)
    Quote.objects.filter(pk__in=row.declined.values("quote_id"), state=Quote.State.DECLINED).update(
        state=Quote.State.OPEN
    )
    own = json.loads(row.frozen)["own_forecasts"] if Taking.objects.filter(record=row).exists() else {}
    for line in row.decision.lines.filter(code__in=own):
        if _still_lifted(line, own[line.code]):
            enter_own_forecast(line, own[line.code], reason=_("restored: %s") % reason, by=by, now=now, on=today)
    return touched


def _still_lifted(line: LineItem, amount_minor: int) -> bool:
    """Nobody has entered an own forecast since the record lifted the one that stood; what is newer is left alone."""
    newest = OwnForecast.objects.filter(line=line).order_by("-pk").values_list("amount_minor", flat=True)[:2]
    return list(newest) == [None, amount_minor]
