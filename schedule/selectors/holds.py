"""Hold points as they stand: what each asks for, what was shown, and whether the work after it may start.

Everything is read at once and judged by `calc.gates`; a project has some dozens of hold points.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.http import Http404

from projects.models import Attachment, Project
from schedule import wording_holds as wording
from schedule.calc import gates as rules
from schedule.calc import limits
from schedule.calc.calendars import Calendar
from schedule.calc.gates import Answer, Check, Gate, Work
from schedule.models import Activity, HoldCheck, HoldPoint, ProofFile
from schedule.models import Signature as SignatureRow
from schedule.selectors import hold_rows
from schedule.selectors.hold_facts import Covering, Hold, Overruled, Seen, Shown, Signer, Visit

NOT_PROOFS = {"unsigned", "early"}
SOON = timedelta(weeks=6)


@dataclass(frozen=True, slots=True)
class Book:
    """All hold points of a project, in their order, and the work that they stop or that covers something."""

    holds: tuple[Hold, ...]
    works: tuple[Work, ...]

    @property
    def waiting(self) -> tuple[Hold, ...]:
        """Those that are not released; what failed first."""
        return tuple(
            sorted(
                (one for one in self.holds if one.state != rules.RELEASED), key=lambda one: one.state != rules.FAILED
            )
        )

    @property
    def released(self) -> tuple[Hold, ...]:
        return tuple(one for one in self.holds if one.state == rules.RELEASED)

    def answers(self) -> Iterable[Covering]:
        known = {hold.pk: hold for hold in self.holds}
        gates = [hold.gate for hold in self.holds]
        for work in self.works:
            yield _covering(rules.may_cover(work, gates), known)


def book(project: Project, *, today: date, own: Calendar | None = None) -> Book:
    """Everything that is known of a project's hold points; removed ones are left out. Queries: 6.

    Args:
        own: the project's own calendar, where it is read already; then one query less.
    """
    works, stopped = hold_rows.works(project)
    own = own or hold_rows.own_calendar(project)
    checks, signatures, overrules = (
        hold_rows.checks(project), hold_rows.signatures(project), hold_rows.overrules(project)
    )  # fmt: skip
    holds = []
    for pk, signed in hold_rows.heads(project).items():
        head = signed[0]
        gate = Gate(
            code=head["code"], title=head["title"], kind=head["kind"], checks=tuple(checks[pk]),
            signers=tuple(row["signers__role"] for row in signed if row["signers__role"]),
            signatures=tuple(signatures[pk]), stops=frozenset(stopped[pk]), overrules=tuple(overrules[pk]),
            cost_if_wrong_minor=head["cost_if_wrong_minor"], key=pk,
        )  # fmt: skip
        stops = tuple(work for key, work in works.items() if key in gate.stops)
        holds.append(_hold(gate, head, stops, own, today))
    in_order = sorted(works.values(), key=lambda work: (work.starts_on is None, work.starts_on or today, work.code))
    return Book(tuple(holds), tuple(in_order))


def covering(project: Project, *, today: date) -> tuple[Covering, ...]:
    """May we cover it? One answer for each activity that covers something or is stopped by a hold point.

    In the order of their dates. What is done is left out, and what has begun unless a hold point before it is open.
    Queries: 6.
    """
    return standing(book(project, today=today))


def standing(read: Book) -> tuple[Covering, ...]:
    """The answers that matter today, of hold points that are read already. Queries: none."""
    return tuple(
        one
        for one in read.answers()
        if not one.work.finished_on
        and (one.work.covers or one.verdict != rules.UNNAMED)
        and (not one.begun or one.stopping)
    )


def soon(answers: Iterable[Covering], *, today: date) -> tuple[tuple[Covering, ...], tuple[Covering, ...]]:
    """Part the answers into those of the next six weeks, with what has begun, and later ones. Queries: none."""
    near: list[Covering] = []
    far: list[Covering] = []
    for one in answers:
        later = one.needed_by is not None and one.needed_by > today + SOON and not one.begun
        (far if later else near).append(one)
    return tuple(near), tuple(far)


def open_before(project: Project, activities: Collection[int], *, today: date) -> dict[int, tuple[Hold, ...]]:
    """Hold points that still stop each of these activities; an activity that nothing stops is left out. Queries: 6."""
    wanted = set(activities)
    answers = (one for one in book(project, today=today).answers() if one.work.key in wanted)
    return {one.work.key: one.stopping for one in answers if one.stopping}


def before(activity: Activity, *, today: date) -> Covering | None:
    """The answer for one activity, or None where it covers nothing and no hold point names it. Queries: 6."""
    found = (one for one in book(activity.project, today=today).answers() if one.work.key == activity.pk)
    return next(found, None)


def overruled(project: Project, *, today: date) -> tuple[Overruled, ...]:
    """Every overrule that was given, the newest first; also of hold points released since. Queries: 6."""
    return went_over(book(project, today=today))


def went_over(read: Book) -> tuple[Overruled, ...]:
    """The overrules of hold points that are read already, the newest first. Queries: none."""
    works = {work.key: work for work in read.works}
    found = [
        (given.key, Overruled(
            hold.gate, works[given.activity], given.reason, given.by, given.on, given.missing, hold.gate.cost_if_wrong_minor,
            hold.state == rules.RELEASED,
        ))
        for hold in read.holds for given in hold.gate.overrules if given.activity in works and given.on
    ]  # fmt: skip
    return tuple(one for _key, one in sorted(found, key=lambda pair: -pair[0]))


def hold_in(project: Project, hold_id: int) -> HoldPoint:
    """A hold point of this project that was not taken away. Queries: 1. Raises: Http404."""
    row = HoldPoint.objects.filter(project=project, pk=hold_id, removed_on=None).select_related("activity").first()
    if row is None:
        raise Http404
    row.project = project
    return row


def one(project: Project, hold_id: int, *, today: date) -> Hold:
    """One hold point. Queries: 6. Raises: Http404."""
    return of(book(project, today=today), hold_id)


def of(read: Book, hold_id: int) -> Hold:
    """One of the hold points that are read already. Queries: none. Raises: Http404."""
    for hold in read.holds:
        if hold.pk == hold_id:
            return hold
    raise Http404


def stopped_by(read: Book, hold: Hold) -> tuple[Covering, ...]:
    """The answers for the work that a hold point stops. Queries: none."""
    return tuple(one for one in read.answers() if one.work.key in hold.gate.stops)


def check_in(project: Project, hold_id: int, check_id: int) -> HoldCheck:
    """A check that stands at a hold point of this project. Queries: 1. Raises: Http404."""
    rows = HoldCheck.objects.filter(hold__project=project, hold__removed_on=None, removed_on=None)
    row = rows.select_related("hold").filter(hold=hold_id, pk=check_id).first()
    if row is None:
        raise Http404
    row.hold.project = project
    return row


def signature_in(project: Project, hold_id: int, signature_id: int) -> SignatureRow:
    """A signature at a hold point of this project. Queries: 1. Raises: Http404."""
    rows = SignatureRow.objects.filter(hold__project=project, hold__removed_on=None).select_related("hold")
    row = rows.filter(hold=hold_id, pk=signature_id).first()
    if row is None:
        raise Http404
    row.hold.project = project
    return row


def activity_in(project: Project, activity_id: int) -> Activity:
    """An activity that is in the plan. Queries: 1. Raises: Http404."""
    row = Activity.objects.filter(project=project, pk=activity_id, removed_on=None).first()
    if row is None:
        raise Http404
    row.project = project
    return row


def checks_of(project: Project, hold: Hold) -> tuple[Seen, ...]:
    """The checks of a hold point with their photographs and documents. Queries: 1."""
    found: dict[int, list[Attachment]] = defaultdict(list)
    rows = ProofFile.objects.filter(proof__hold_check__hold=hold.pk, proof__hold_check__hold__project=project)
    for row in rows.select_related("attachment").order_by("pk"):
        found[row.proof_id].append(row.attachment)
    return tuple(_seen(check, found) for check in hold.gate.checks)


def attachments(project: Project, ids: Collection[int]) -> list[Attachment]:
    """Attachments of this project with these ids. Queries: 1, none for no id."""
    return list(Attachment.objects.filter(project=project, pk__in=ids)) if ids else []


def _seen(check: Check, files: Mapping[int, Sequence[Attachment]]) -> Seen:
    proofs = tuple(Shown(proof, tuple(files.get(proof.at, ()))) for proof in reversed(check.proofs))
    newest = proofs[0] if proofs else None
    out = limits.outside(check.limit, newest.proof.value) if newest else None
    state = "unshown" if newest is None else "passes" if newest.proof.passes else "fails"
    return Seen(
        check, str(HoldCheck.Source(check.limit_from).label), str(HoldCheck.Evidence(check.evidence).label), state, newest,
        proofs[1:], newest is not None and out is not None and out == newest.proof.passes,
    )  # fmt: skip


def _hold(gate: Gate, head: Mapping[str, Any], stops: tuple[Work, ...], own: Calendar, today: date) -> Hold:
    lacks = rules.lacks(gate)
    unsigned = sum(lack.kind in NOT_PROOFS for lack in lacks)
    return Hold(
        gate, rules.state(gate), wording.sentences(lacks), len(lacks) - unsigned, unsigned, _signers(gate),
        hold_rows.work(head, "activity__"), stops, _visit(head, own, today), head["note"], head["version"],
    )  # fmt: skip


def _signers(gate: Gate) -> tuple[Signer, ...]:
    since = rules.shown_since(gate)
    newest = {one.role: one for one in gate.signatures}
    return tuple(
        Signer(role, newest.get(role), any(one.role == role and rules.counts(one, since) for one in gate.signatures))
        for role in gate.signers
    )


def _visit(head: Mapping[str, Any], own: Calendar, today: date) -> Visit:
    booked, notice = head["booked_for"], head["activity__notice_days"]
    on = booked or head["activity__early_start_on"]
    done = head["activity__finished_on"] is not None
    ask_by = rules.ask_by(own, on, notice) if on and not done else None
    late = booked is None and ask_by is not None and ask_by < today
    earliest = rules.earliest_visit(own, today, notice) if late else None
    return Visit(on, booked is not None, notice, head["activity__attended_by"], ask_by, earliest, late)


def _covering(answer: Answer, known: Mapping[int, Hold]) -> Covering:
    stopping = tuple(known[gate.key] for gate in answer.stopping)
    signs = [signer.role for hold in stopping for signer in hold.signers if not signer.counts]
    asks = [hold.visit.ask_by for hold in stopping if hold.visit.ask_by and not hold.visit.booked]
    return Covering(
        answer.work, answer.verdict, stopping, tuple(known[gate.key] for gate in answer.released),
        tuple((known[gate.key], given) for gate, given in answer.overruled),
        tuple(words for hold in stopping for words in hold.missing), sum(hold.proofs_missing for hold in stopping),
        sum(hold.signatures_missing for hold in stopping), tuple(dict.fromkeys(signs)), answer.cost_if_wrong_minor,
        answer.work.starts_on, min(asks, default=None), answer.work.started_on is not None,
    )  # fmt: skip
