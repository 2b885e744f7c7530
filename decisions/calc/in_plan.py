"""What options do to the sequence: the network is worked out as it stands, and once more with each option's changes in it.

The opening moves by calendar days. Float is that to the finish of the network as it stands, in working days of the
activity that loses most of it; what moves the finish itself is told as the move, not as float (ADR 0406).
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from decisions.calc.facts import PlanEffect
from schedule.calc import alter, network
from schedule.calc.alter import Alteration


@dataclass(frozen=True, slots=True)
class Ground:
    """A network as it stands, its finish, and the float of each activity to that [working days of its calendar].

    `plan` is to finish by that day, so that floats of what becomes of it are measured to the same day.
    """

    plan: network.Network
    finish: date
    floats: Mapping[str, int]


def ground(plan: network.Network, *, beside: Collection[str] = ()) -> Ground:
    """Work a network out as it stands, to measure changes against; the day it is to finish by, if any, plays no part.

    Args:
        beside: activities whose own float is not asked for.
    Raises: network.BadNetwork.

    >>> from schedule.calc.network import Activity, Network
    >>> ground(Network(date(2027, 2, 1), activities=(Activity("slab", 9),))).finish
    datetime.date(2027, 2, 9)
    """
    finish = network.solve_network(replace(plan, finish_by=None)).finish
    held = replace(plan, finish_by=finish)
    floats = _floats(network.solve_network(held))
    return Ground(held, finish, {id_: had for id_, had in floats.items() if id_ not in beside})


def answered(plan: network.Network, code: str, on: date) -> network.Network:
    """Give the network with an answer given on a day; as it stands where none of its activities stands for the answer.

    >>> from schedule.calc.network import Activity, Network
    >>> plan = Network(date(2027, 2, 1), activities=(Activity("answer", 0, not_before=date(2027, 2, 9)),))
    >>> answered(plan, "answer", date(2027, 2, 3)).activities[0].finished_on
    datetime.date(2027, 2, 3)
    """
    done = {
        one.id: replace(one, started_on=min(one.started_on or on, on), finished_on=on)
        for one in plan.activities
        if one.id == code
    }
    return replace(plan, activities=tuple(done.get(one.id, one) for one in plan.activities)) if done else plan


def effect(stands: Ground, change: Alteration) -> PlanEffect:
    """Put a change into a network and see what it does.

    Returns: `moved_days` is the finish with it less the finish without [calendar days], below zero when it comes forward. Of
        the activities that are in both, the one that loses most float gives `float_days`, what it had, and `float_used`
        [working days of its calendar]; of equals the one that had least. `float_left` is the least that the activities
        named in the change have to the new finish [calendar days], 0 where none is named.
    Raises: network.BadNetwork, where it names what is not there or makes a circle.
    Source: our rule, ADR 0406.

    >>> from schedule.calc.network import Activity, Link, Network
    >>> two = (Activity("slab", 9), Activity("frame", 4), Activity("set", 1, after=(Link("slab"), Link("frame"))))
    >>> stands = ground(Network(date(2027, 2, 1), activities=two))
    >>> found = effect(stands, Alteration(durations={"frame": 7}))
    >>> found.moved_days, found.float_days, found.float_used, found.float_left
    (0, 5, 3, 2)
    """
    seen = network.solve_network(alter.apply(stands.plan, change))
    after = _floats(seen)
    lost = [(had - after[id_], -had) for id_, had in stands.floats.items() if id_ in after and had > after[id_]]
    used, had = max(lost, default=(0, 0))
    slack = [_slack(seen.of(id_)) for id_ in named(change) if id_ in after]
    return PlanEffect(
        finish=seen.finish,
        moved_days=(seen.finish - stands.finish).days,
        float_days=-had,
        float_used=used,
        float_left=max(0, min(slack, default=0)),
    )


def effects(
    plan: network.Network, changes: Sequence[Alteration], *, beside: Collection[str] = ()
) -> tuple[PlanEffect, ...]:
    """Put each of some changes into a network by itself: `effect` for each, in order."""
    stands = ground(plan, beside=beside)
    return tuple(effect(stands, change) for change in changes)


def _floats(solved: network.Solution) -> dict[str, int]:
    """The float of each activity to the day the network is to finish by, none below zero [working days of its calendar]."""
    return {id_: max(0, left) for id_, left in solved.total_floats.items()}


def _slack(outcome: network.Outcome) -> int:
    return (outcome.own_late_finish - outcome.early_finish).days


def named(change: Alteration) -> Iterator[str]:
    """The activities whose own work an alteration changes or adds."""
    yield from change.durations
    yield from (activity.id for activity in change.add)
    yield from (waiting for waiting, _link in change.links)
    yield from change.not_before
    yield from change.slips
    yield from change.splits
