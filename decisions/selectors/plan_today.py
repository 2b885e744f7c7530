"""The plan of a project as decisions look at it: what an option would do to it, and how it stands today.

Read when it is first asked for, so that decisions which have nothing to do with the plan cost no query.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

from django.utils.translation import gettext as _

from decisions.calc import in_plan
from decisions.calc.facts import PlanEffect
from projects.faults import Refused
from projects.models import Project
from schedule.calc import alter_json
from schedule.calc.network import Solution, solve_network
from schedule.selectors import network as facts
from schedule.selectors import standing
from units.reading import Unreadable


@dataclass(frozen=True, slots=True)
class Seen:
    """What an option does to the plan as it stands; or, in `fault`, why its changes do not fit the plan any more."""

    effect: PlanEffect | None
    fault: str = ""


class PlanToday:
    """The plan of one project on one day, read once. Queries: 5 when first asked, none after."""

    def __init__(self, project: Project, *, today: date) -> None:
        self.project, self.today = project, today
        self._seen: dict[int, Seen] = {}

    @cached_property
    def read(self) -> facts.Read | None:
        found = standing.standing(self.project, today=self.today)
        return found if found and found.rows else None

    @cached_property
    def solution(self) -> Solution | None:
        """The plan worked out to its own finish; None where there is none, or it has no answer."""
        if self.read is None:
            return None
        try:
            with standing.refusing(self.read.names):
                return solve_network(self.read.network)
        except Refused:
            return None

    @cached_property
    def ground(self) -> in_plan.Ground:
        if self.read is None:
            raise Refused(_("Nothing is planned yet, so an option cannot change the plan; give its days by hand."))
        with standing.refusing(self.read.names):
            return in_plan.ground(self.read.network)

    def effect(self, option_id: int, changes: Mapping[str, Any]) -> Seen:
        """What the changes of an option do; worked out once for each option."""
        if option_id not in self._seen:
            self._seen[option_id] = self._effect(changes)
        return self._seen[option_id]

    def _effect(self, changes: Mapping[str, Any]) -> Seen:
        try:
            return Seen(self.check(changes))
        except Refused as fault:
            return Seen(None, fault.message)

    def check(self, changes: Mapping[str, Any]) -> PlanEffect:
        """Put changes into the plan and see. Raises: Refused, where they do not fit it."""
        stands = self.ground
        names = dict(self.read.names) if self.read else {}
        try:
            with standing.refusing(names | alter_json.names(changes)):
                return in_plan.effect(stands, alter_json.read(dict(changes)))
        except Unreadable as fault:
            raise Refused(str(fault)) from fault
