"""Hold points: what is still missing before one is released, and whether the work after it may cover it.

Evidence and signatures are only ever added, so what stands follows from their order: of the proofs of a check the newest
stands, and a signature counts from a place at which every check was shown to pass, for as long as none fails after it
(ADR 0404). Places are counted in proofs and not by a clock: `at` is the place of a proof among all, and of a signature or an
overrule that of the last proof before it. Nothing here knows of rows or words; a page says a `Lack` in a sentence.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from schedule.calc import calendars

HOLD, WITNESS, RECORD = "hold", "witness", "record"
RELEASED, OPEN, FAILED = "released", "open", "failed"
YES, NO, OVERRULED, UNNAMED = "yes", "no", "overruled", "unnamed"


@dataclass(frozen=True, slots=True)
class Proof:
    """What was found at a check; `at` is its place in the order of entry."""

    passes: bool
    at: int
    value: str = ""
    seen_on: date | None = None
    seen_by: str = ""
    note: str = ""
    #: The readings of a test over time, as `pressure_logs.plain` writes them.
    log: Mapping[str, Any] | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that is looked at; its proofs in the order in which they were entered."""

    text: str
    proofs: tuple[Proof, ...] = ()
    key: int = 0
    limit: str = ""
    limit_from: str = ""
    limit_named: str = ""
    evidence: str = "photograph"
    evidence_named: str = ""

    @property
    def newest(self) -> Proof | None:
        return self.proofs[-1] if self.proofs else None

    @property
    def passes_since(self) -> int | None:
        """The place since which every proof of it passes; None where there is none, or the newest fails."""
        since: int | None = None
        for proof in self.proofs:
            since = (proof.at if since is None else since) if proof.passes else None
        return since


@dataclass(frozen=True, slots=True)
class Signature:
    """A role signed after the proof `at`, and has not taken it back."""

    role: str
    at: int
    key: int = 0
    name: str = ""
    signed_on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Overrule:
    """The lead let one activity start over an open hold point; `missing` is what was missing then, in sentences."""

    activity: int
    at: int
    reason: str = ""
    by: str = ""
    on: date | None = None
    missing: tuple[str, ...] = ()
    key: int = 0


@dataclass(frozen=True, slots=True)
class Gate:
    """A hold point; `stops` are the keys of the activities that may not start before it is released."""

    code: str
    title: str
    kind: str = HOLD
    checks: tuple[Check, ...] = ()
    signers: tuple[str, ...] = ()
    signatures: tuple[Signature, ...] = ()
    stops: frozenset[int] = frozenset()
    overrules: tuple[Overrule, ...] = ()
    cost_if_wrong_minor: int = 0
    key: int = 0

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


@dataclass(frozen=True, slots=True)
class Lack:
    """Something that keeps a hold point from being released.

    `kind` is "unnamed" (it has no checks), "unshown" (a check without a proof), "failed" (its newest proof does not pass),
    "unsigned" (`role` has not signed) or "early" (`role` signed before everything was shown to pass, or something failed since).
    """

    kind: str
    check: Check | None = None
    role: str = ""


@dataclass(frozen=True, slots=True)
class Work:
    """An activity, as far as a hold point asks for it."""

    key: int
    code: str
    name: str
    starts_on: date | None = None
    started_on: date | None = None
    finished_on: date | None = None
    covers: bool = False
    who: str = ""
    where: str = ""

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


@dataclass(frozen=True, slots=True)
class Answer:
    """May this activity start, over the hold points that stop it?

    `verdict` is "yes", "no", "overruled" or "unnamed" (no hold point stands before it). `cost_if_wrong_minor` is what covering
    costs if it was wrong: the largest of the open hold points, for what is under it is broken out once [minor units].
    """

    work: Work
    verdict: str
    stopping: tuple[Gate, ...] = ()
    released: tuple[Gate, ...] = ()
    overruled: tuple[tuple[Gate, Overrule], ...] = ()
    cost_if_wrong_minor: int = 0

    @property
    def lacks(self) -> tuple[Lack, ...]:
        return tuple(lack for gate in self.stopping for lack in lacks(gate))


def lacks(gate: Gate) -> tuple[Lack, ...]:
    """Tell what keeps a hold point from being released: checks in their order, then signers in theirs.

    Returns: nothing, when it is released.
    Source: our rule, ADR 0404.

    >>> shown = Check("Cover", (Proof(True, 4),))
    >>> [lack.kind for lack in lacks(Gate("H05", "Before pour", checks=(shown, Check("Laps")), signers=("Engineer",)))]
    ['unshown', 'unsigned']
    >>> lacks(Gate("H05", "Before pour", checks=(shown,), signers=("Engineer",), signatures=(Signature("Engineer", 4),)))
    ()
    """
    if not gate.checks:
        return (Lack("unnamed"),)
    found = [Lack("failed" if check.proofs else "unshown", check) for check in gate.checks if not _passes(check)]
    since = _passes_since(gate.checks)
    signed = {signature.role for signature in gate.signatures}
    counting = {one.role for one in gate.signatures if counts(one, since)}
    found += [
        Lack("early" if role in signed else "unsigned", role=role) for role in gate.signers if role not in counting
    ]
    return tuple(found)


def counts(signature: Signature, since: int | None) -> bool:
    """A signature counts when everything passed at its place and has passed ever since."""
    return since is not None and since <= signature.at


def shown_since(gate: Gate) -> int | None:
    """The place since which every check of a hold point passes, or None."""
    return _passes_since(gate.checks) if gate.checks else None


def _passes(check: Check) -> bool:
    return check.newest is not None and check.newest.passes


def _passes_since(checks: Iterable[Check]) -> int | None:
    each = [check.passes_since for check in checks]
    known = [since for since in each if since is not None]
    return max(known) if known and len(known) == len(each) else None


def state(gate: Gate) -> str:
    """Tell the state of a hold point: "released", "open", or "failed" where a newest proof does not pass.

    >>> state(Gate("H01", "Bottom of dig", checks=(Check("Level", (Proof(False, 1),)),)))
    'failed'
    """
    missing = lacks(gate)
    if any(lack.kind == "failed" for lack in missing):
        return FAILED
    return OPEN if missing else RELEASED


def overrule_of(gate: Gate, activity: int) -> Overrule | None:
    """The overrule that lets an activity go over a hold point, or None.

    It goes over what was missing when it was given; evidence that fails after it stops the work again.
    """
    given = [one for one in gate.overrules if one.activity == activity]
    newest = given[-1] if given else None
    fails_since = [check.newest.at for check in gate.checks if check.newest is not None and not check.newest.passes]
    return newest if newest is not None and all(at <= newest.at for at in fails_since) else None


def may_cover(work: Work, gates: Sequence[Gate]) -> Answer:
    """Tell whether an activity may start.

    Args:
        gates: hold points of the project, in their order; those that do not stop this activity are passed over. Witness and
            record points never stop anything.
    Returns: one answer, with what stops it, what was released, and what was overruled.
    Source: our rule, ADR 0404.

    >>> may_cover(Work(7, "A30", "Pour"), [Gate("H05", "Before pour", stops=frozenset({7}), cost_if_wrong_minor=4_100_000)]).verdict
    'no'
    """
    before = [gate for gate in gates if gate.kind == HOLD and work.key in gate.stops]
    still = [gate for gate in before if state(gate) != RELEASED]
    gone_over = [(gate, given) for gate in still if (given := overrule_of(gate, work.key)) is not None]
    over = {gate.key for gate, _given in gone_over}
    stopping = tuple(gate for gate in still if gate.key not in over)
    return Answer(
        work,
        NO if stopping else OVERRULED if gone_over else YES if before else UNNAMED,
        stopping,
        tuple(gate for gate in before if gate not in still),
        tuple(gone_over),
        max((gate.cost_if_wrong_minor for gate in still), default=0),
    )


def ask_by(calendar: calendars.Calendar, visit_on: date, notice_days: int) -> date | None:
    """The last day to ask somebody to come, so that the days of notice lie clear between asking and the visit.

    Args:
        calendar: the project's own, whose working days the notice counts.
        notice_days: clear working days that they ask for; none for somebody who comes the same day.
    Returns: None where no notice is asked for, or the calendar has no such day.
    Source: common practice, no source: notice is told in clear working days.

    >>> week = calendars.Calendar("crew", frozenset({1, 2, 3, 4, 5}))
    >>> ask_by(week, date(2027, 2, 2), 2)
    datetime.date(2027, 1, 28)
    """
    return _step(calendar, visit_on, -(notice_days + 1)) if notice_days else None


def earliest_visit(calendar: calendars.Calendar, asked_on: date, notice_days: int) -> date | None:
    """The first working day somebody may come to, when they are asked on a day; the day itself without notice.

    >>> week = calendars.Calendar("crew", frozenset({1, 2, 3, 4, 5}))
    >>> earliest_visit(week, date(2027, 1, 29), 2)
    datetime.date(2027, 2, 3)
    """
    if not notice_days:
        return _step(calendar, asked_on, 0)
    asked = _step(calendar, asked_on, 0)
    ahead = notice_days + 1 if asked == asked_on else notice_days
    return _step(calendar, asked_on, ahead)


def _step(calendar: calendars.Calendar, day: date, days: int) -> date | None:
    try:
        return calendars.step(calendar, day, days)
    except ValueError:  # no working day within the years that the calendar is known for
        return None
