"""What options do to the sequence: the network is worked out as it stands, and once more with each option's changes in it.

The opening moves by calendar days. Float is that to the finish of the network as it stands, in working days of the
activity that loses most of it; what moves the finish itself is told as the move, not as float (ADR 0406).
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date

from decisions.calc.facts import PlanEffect
from schedule.calc import alter, network
from schedule.calc.alter import Alteration


def effects(plan: network.Network, changes: Sequence[Alteration]) -> tuple[PlanEffect, ...]:
    """Put each of some changes into a network by itself, and see what it does.

    Args:
        plan: as it stands; the day it is to finish by, if any, plays no part.
        changes: one for each option.
    Returns: one for each, in order. `moved_days` is the finish with it less the finish without [calendar days], below zero
        when it comes forward. Of the activities that are in both, the one that loses most float gives `float_days`, what
        it had, and `float_used` [working days of its calendar]; of equals the one that had least. `float_left` is the
        least that the activities named in the changes have to the new finish [calendar days], 0 where none is named.
    Raises: network.BadNetwork, where a change names what is not there or makes a circle.
    Source: our rule, ADR 0406.

    >>> from schedule.calc.network import Activity, Link, Network
    >>> two = (Activity("slab", 9), Activity("frame", 4), Activity("set", 1, after=(Link("slab"), Link("frame"))))
    >>> found = effects(Network(date(2027, 2, 1), activities=two), [Alteration(durations={"frame": 7})])[0]
    >>> found.moved_days, found.float_days, found.float_used, found.float_left
    (0, 5, 3, 2)
    """
    plain = replace(plan, finish_by=None)
    finish = network.solve_network(plain).finish
    before = _floats(plain, finish)
    return tuple(_effect(plain, change, finish, before) for change in changes)


def _effect(plan: network.Network, change: Alteration, finish: date, before: dict[str, int]) -> PlanEffect:
    altered = alter.apply(plan, change)
    seen = network.solve_network(altered)
    after = _floats(altered, finish)
    lost = [(had - after[id_], -had) for id_, had in before.items() if id_ in after and had > after[id_]]
    used, had = max(lost, default=(0, 0))
    slack = [_slack(seen.activities[id_]) for id_ in named(change) if id_ in seen.activities]
    return PlanEffect(
        finish=seen.finish,
        moved_days=(seen.finish - finish).days,
        float_days=-had,
        float_used=used,
        float_left=max(0, min(slack, default=0)),
    )


def _floats(plan: network.Network, finish: date) -> dict[str, int]:
    """The float of each activity to a day, none below zero [working days of its calendar]."""
    solved = network.solve_network(replace(plan, finish_by=finish))
    return {id_: max(0, outcome.total_float) for id_, outcome in solved.activities.items()}


def _slack(outcome: network.Outcome) -> int:
    return (outcome.late_finish - outcome.early_finish).days


def named(change: Alteration) -> Iterator[str]:
    """The activities whose own work an alteration changes or adds."""
    yield from change.durations
    yield from (activity.id for activity in change.add)
    yield from (waiting for waiting, _link in change.links)
    yield from change.not_before
    yield from change.slips
    yield from change.splits
