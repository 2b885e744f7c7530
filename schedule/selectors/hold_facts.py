"""What is known of a hold point, and the answer for the work it stops, as pages and papers take it."""

from dataclasses import dataclass
from datetime import date

from projects.models import Attachment
from schedule import wording_holds as wording
from schedule.calc import pressure_logs
from schedule.calc.gates import Check, Gate, Overrule, Proof, Signature, Work
from schedule.calc.pressure_logs import PressureLog


@dataclass(frozen=True, slots=True)
class Visit:
    """When it is looked at: the day that is booked, or the day it is planned for, and until when to ask."""

    on: date | None
    booked: bool
    notice_days: int
    by: str
    ask_by: date | None
    #: The first day they may come when they are asked today.
    earliest_on: date | None
    #: Nobody is booked, and the notice that is left is too short.
    late: bool


@dataclass(frozen=True, slots=True)
class Signer:
    """A role that signs; `counts` is false for a signature that was given before everything was shown to pass."""

    role: str
    signature: Signature | None
    counts: bool


@dataclass(frozen=True, slots=True)
class Hold:
    """A hold point with all that is known of it. `missing` are sentences without a stop."""

    gate: Gate
    state: str
    missing: tuple[str, ...]
    #: checks without a proof that passes, and roles whose signature is not there or does not count
    proofs_missing: int
    signatures_missing: int
    signers: tuple[Signer, ...]
    activity: Work
    stops: tuple[Work, ...]
    visit: Visit
    note: str
    version: int

    @property
    def pk(self) -> int:
        return self.gate.key

    @property
    def title(self) -> str:
        return str(self.gate)

    @property
    def counted(self) -> str:
        return wording.counted(self.proofs_missing, self.signatures_missing)

    @property
    def next_on(self) -> date | None:
        """The first day on which something that it stops is to start."""
        return min((work.starts_on for work in self.stops if work.starts_on and not work.started_on), default=None)


@dataclass(frozen=True, slots=True)
class Covering:
    """May we cover it? One answer for one activity.

    `verdict` is "yes", "no", "overruled" or "unnamed" (no hold point stands before it). `missing` are sentences without a
    stop; `signs` the roles that still have to sign; `needed_by` the day it is to start; `ask_by` the last day to ask somebody
    to come for what stops it, where nobody is booked.
    """

    work: Work
    verdict: str
    stopping: tuple[Hold, ...]
    released: tuple[Hold, ...]
    overruled: tuple[tuple[Hold, Overrule], ...]
    missing: tuple[str, ...]
    proofs_missing: int
    signatures_missing: int
    signs: tuple[str, ...]
    cost_if_wrong_minor: int
    needed_by: date | None
    ask_by: date | None
    #: It has begun, and what it covers is not released.
    begun: bool

    @property
    def word(self) -> str:
        """The answer in a word or two."""
        return wording.verdict(self)

    @property
    def counted(self) -> str:
        return wording.counted(self.proofs_missing, self.signatures_missing)


@dataclass(frozen=True, slots=True)
class Overruled:
    """Work that was let go over an open hold point; `cost_if_wrong_minor` is what it costs if that was wrong."""

    hold: Gate
    work: Work
    reason: str
    by: str
    on: date
    missing: tuple[str, ...]
    cost_if_wrong_minor: int
    #: The hold point was released after all.
    released: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """A proof with its photographs and documents."""

    proof: Proof
    files: tuple[Attachment, ...]

    @property
    def log(self) -> PressureLog | None:
        return pressure_logs.back(self.proof.log) if self.proof.log else None

    @property
    def line(self) -> str:
        """The log as the points of a drawing of 240 by 60 units."""
        return pressure_logs.line(self.log, width=240, height=60) if self.log else ""


@dataclass(frozen=True, slots=True)
class Seen:
    """A check as a page shows it: `state` is "unshown", "passes" or "fails"."""

    check: Check
    limit_from: str
    evidence: str
    state: str
    newest: Shown | None
    earlier: tuple[Shown, ...]
    #: Somebody said otherwise than the figures do.
    judged: bool
