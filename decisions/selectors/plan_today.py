"""The plan of a project as decisions look at it: what an option would do to it, and how it stands today.

Read when it is first asked for, so that decisions which have nothing to do with the plan cost no query.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from django.utils.translation import gettext as _

from decisions.calc import in_plan, waiting
from decisions.calc.facts import PlanEffect
from decisions.models import Decision, Option
from decisions.selectors import waiting_work
from decisions.selectors.waiting_work import Ties
from projects.faults import Refused
from projects.models import Project
from schedule.calc import alter, alter_json
from schedule.calc.network import Network, Solution, solve_network
from schedule.selectors import network as facts
from schedule.selectors import standing
from units.reading import Unreadable


@dataclass(frozen=True, slots=True)
class Seen:
    """What an option does to the plan as it stands; or, in `fault`, why its changes do not fit the plan any more."""

    effect: PlanEffect | None
    fault: str = ""


class PlanToday:
    """The plan of one project on one day, read once. Queries: 5 when first asked, 2 for what waits, none after.

    An answer can come today at the earliest, at the end of the day. Where the plan has what waits for a decision begin today
    or before, deadlines are therefore read with that begun tomorrow. Options are measured with the answer given today, so
    that what is compared is what recording puts in.
    """

    def __init__(self, project: Project, *, today: date, decisions: Sequence[Decision] = ()) -> None:
        self.project, self.today, self.decisions = project, today, decisions
        self._seen: dict[int, Seen] = {}
        self._grounds: dict[str, in_plan.Ground] = {}
        self._solved: dict[tuple[str, ...], Solution] = {}

    @cached_property
    def read(self) -> facts.Read | None:
        found = standing.standing(self.project, today=self.today)
        return found if found and found.rows else None

    @cached_property
    def _ties(self) -> Mapping[int, Ties]:
        return waiting_work.ties_of(self.decisions)

    def ties(self, decision: Decision) -> Ties:
        """What waits for a decision; reads the plan where anything does."""
        found = self._ties.get(decision.pk, waiting_work.NONE)
        return waiting_work.with_followers(found, self.read) if found.codes else found

    def solution(self, decision: Decision) -> Solution | None:
        """The plan worked out to its own finish, as a decision finds it; None where there is none, or it has no answer."""
        if self.read is None:
            return None
        try:
            with standing.refusing(self.read.names):
                return self._solution(self.read, self._late(decision))
        except Refused:
            return None

    def _solution(self, read: facts.Read, late: tuple[str, ...]) -> Solution:
        if late not in self._solved:
            self._solved[late] = solve_network(self._network(read, late))
        return self._solved[late]

    def _late(self, decision: Decision) -> tuple[str, ...]:
        """What of the waiting work the plan has begin before an answer of today can let it."""
        read = self.read
        codes = [code for code in self.ties(decision).codes if read and code in read.rows]
        if not codes or read is None:
            return ()
        stands = self._solution(read, ())
        return tuple(code for code in codes if stands.of(code).early_start <= self.today)

    def network(self, decision: Decision) -> Network:
        """The network as a decision finds it. Raises: Refused."""
        if self.read is None:
            raise Refused(_("Nothing is planned yet, so an option cannot change the plan; give its days by hand."))
        with standing.refusing(self.read.names):
            return self._network(self.read, self._late(decision))

    def _network(self, read: facts.Read, late: tuple[str, ...]) -> Network:
        change = waiting.answered(read.network, [waiting.Held(code) for code in late], self.today)
        return alter.apply(read.network, change) if late else read.network

    def ground(self, decision: Decision) -> in_plan.Ground:
        """What the options of a decision are measured against: the plan as it would be with the answer given today.

        Raises: Refused.
        """
        if self.read is None:
            raise Refused(_("Nothing is planned yet, so an option cannot change the plan; give its days by hand."))
        answer = self.ties(decision).answer
        code = answer.code if answer else ""
        if code not in self._grounds:
            with standing.refusing(self.read.names):
                self._grounds[code] = in_plan.ground(in_plan.answered(self.read.network, code, self.today))
        return self._grounds[code]

    def effect(self, option: Option, decision: Decision, changes: Mapping[str, Any]) -> Seen:
        """What the changes of an option do; worked out once for each option."""
        if option.pk not in self._seen:
            self._seen[option.pk] = self._effect(decision, changes)
        return self._seen[option.pk]

    def _effect(self, decision: Decision, changes: Mapping[str, Any]) -> Seen:
        try:
            return Seen(self.check(decision, changes))
        except Refused as fault:
            return Seen(None, fault.message)

    def check(self, decision: Decision, changes: Mapping[str, Any]) -> PlanEffect:
        """Put changes into the plan and see. Raises: Refused, where they do not fit it."""
        stands = self.ground(decision)
        names = dict(self.read.names) if self.read else {}
        try:
            with standing.refusing(names | alter_json.names(changes)):
                return in_plan.effect(stands, alter_json.read(dict(changes)))
        except Unreadable as fault:
            raise Refused(str(fault)) from fault
