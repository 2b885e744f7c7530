"""Which work waits for the answer to a decision.

What was tied to the decision; else the activities that its lines pay for. Where only an activity for the answer itself is tied,
what follows it in the plan waits. Work that has begun waits for nothing any more.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import F

from decisions.models import ActivityLine, Decision, DecisionActivity
from schedule.models import Activity
from schedule.selectors import network as facts


@dataclass(frozen=True, slots=True)
class Tie:
    """An activity as a decision needs it."""

    code: str
    name: str
    kind: str
    approval_days: int
    begun: bool

    @property
    def label(self) -> str:
        return f"{self.code} {self.name}"


@dataclass(frozen=True, slots=True)
class Ties:
    """The activities of one decision; `stated` tells whether somebody tied them, or its lines did."""

    answer: Tie | None
    works: tuple[Tie, ...]
    stated: bool

    @property
    def codes(self) -> tuple[str, ...]:
        rows = (self.answer, *self.works) if self.answer else self.works
        return tuple(tie.code for tie in rows)


NONE = Ties(None, (), stated=False)


def ties_of(decisions: Sequence[Decision]) -> Mapping[int, Ties]:
    """Read what waits for some decisions of a project. Queries: 1, and 1 more where nothing is tied to one of them."""
    stated: dict[int, list[Tie]] = defaultdict(list)
    rows = DecisionActivity.objects.filter(decision__in=decisions, activity__removed_on=None)
    for row in rows.select_related("activity__delivery").order_by("activity__position", "pk"):
        stated[row.decision_id].append(_tie(row.activity))
    bare = [decision.pk for decision in decisions if decision.pk not in stated]
    found = {pk: _sorted(ties, stated=True) for pk, ties in stated.items()}
    return found | {pk: _sorted(ties, stated=False) for pk, ties in _by_lines(bare).items()}


def _by_lines(ids: Sequence[int]) -> Mapping[int, list[Tie]]:
    """The activities that the lines of some decisions pay for."""
    if not ids:
        return {}
    found: dict[int, dict[str, Tie]] = {pk: {} for pk in ids}
    rows = ActivityLine.objects.filter(line__decision_lines__decision__in=ids, activity__removed_on=None)
    tied = rows.annotate(decision_id=F("line__decision_lines__decision")).select_related("activity__delivery")
    for row in tied.order_by("activity__position", "pk"):
        found[row.decision_id].setdefault(row.activity.code, _tie(row.activity))  # type: ignore[attr-defined]
    return {pk: list(ties.values()) for pk, ties in found.items()}


def _tie(activity: Activity) -> Tie:
    delivery = getattr(activity, "delivery", None)
    approval = delivery.approval_days if delivery is not None and delivery.removed_on is None else 0
    return Tie(activity.code, activity.name, activity.kind, approval, activity.started_on is not None)


def _sorted(ties: Iterable[Tie], *, stated: bool) -> Ties:
    rows = [tie for tie in ties if not tie.begun]
    answer = next((tie for tie in rows if stated and tie.kind == Activity.Kind.DECISION), None)
    works = tuple(tie for tie in rows if tie.kind != Activity.Kind.DECISION)
    return Ties(answer, works, stated)


def with_followers(ties: Ties, read: facts.Read | None) -> Ties:
    """Where only the answer itself is tied, what waits for it in the plan."""
    if ties.works or ties.answer is None or read is None:
        return ties
    code = ties.answer.code
    waiting_for = [one for one in read.network.activities if any(link.before == code for link in one.after)]
    works = tuple(
        Tie(one.id, read.names.get(one.id, ""), "", 0, False) for one in waiting_for if one.started_on is None
    )
    return Ties(ties.answer, works, ties.stated)
