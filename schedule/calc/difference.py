"""How two networks differ, as the rows of a plan would: what to write to turn one into the other, and what to write back.

A network holds more than rows do, so that an alteration is first brought to what rows can say: days lost before a start become
a day that it cannot begin before. What comes out is plain JSON, kept with a record or a trail entry until it is undone.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from schedule.calc import network as engine
from schedule.calc.network import Activity, Link, Network

#: An activity as its row holds it: {column: plain value}
Columns = dict[str, Any]
LinkKey = tuple[str, str, str]


class TwoLags(ValueError):
    """Work would wait for the same work in the same way with two lags of which neither is plainly the longer."""

    def __init__(self, waiting: str, before: str) -> None:
        super().__init__(f"{waiting} would wait for {before} twice, in working days and in calendar days")
        self.waiting, self.before = waiting, before


def pinned(plan: Network) -> Network:
    """Turn days lost before a start into the first day on which the work can begin; early dates stay as they are.

    Raises: what solving raises.
    """
    if not any(one.slip for one in plan.activities):
        return plan
    found = engine.solve_network(plan).activities
    return replace(
        plan,
        activities=tuple(
            replace(one, slip=0, not_before=_first(one, found[one.id].early_start)) if one.slip else one
            for one in plan.activities
        ),
    )


def _first(one: Activity, early_start: date) -> date | None:
    if one.started_on:
        return one.not_before
    return early_start if one.duration else early_start + timedelta(days=1)


def renamed(plan: Network, names: Mapping[str, str]) -> Network:
    """Give activities other ids, in their links as well.

    >>> plan = Network(date(2027, 1, 4), activities=(Activity("a", 1), Activity("b", 1, after=(Link("a"),))))
    >>> renamed(plan, {"a": "c"}).activities[1].after[0].before
    'c'
    """
    return replace(plan, activities=tuple(_renamed(one, names) for one in plan.activities))


def _renamed(one: Activity, names: Mapping[str, str]) -> Activity:
    after = tuple(replace(link, before=names.get(link.before, link.before)) for link in one.after)
    return replace(one, id=names.get(one.id, one.id), after=after)


def columns(one: Activity) -> Columns:
    """An activity as its row holds it; a milestone's row names the day it falls on, not the day after (ADR 0403).

    >>> columns(Activity("M", 0, not_before=date(2027, 2, 2)))["not_before"]
    '2027-02-01'
    """
    day = one.not_before - timedelta(days=1) if one.not_before and not one.duration else one.not_before
    return {
        "days": one.duration,
        "calendar": one.calendar,
        "elapsed": one.elapsed,
        "not_before": str(day) if day else None,
    }


def between(before: Network, after: Network) -> dict[str, Any]:
    """Tell what turns one plan into another, with what stood there; what is empty is left out.

    Returns: {changed {code: {column: [old, new]}}, added {code: columns}, removed [codes], links_gone and links_added
        [[waiting, before, kind, lag, elapsed]], weekdays {calendar: [old, new]}, extra_days [[calendar, day]], closures
        [[calendar, first, last]]}. Links of work that is taken out are left with it.
    Raises: TwoLags.
    """
    old = {one.id: one for one in before.activities}
    new = {one.id: one for one in after.activities}
    found: dict[str, Any] = {
        "changed": {code: told for code in new if code in old and (told := _told(old[code], new[code]))},
        "added": {code: columns(one) for code, one in new.items() if code not in old},
        "removed": [code for code in old if code not in new],
    }
    found |= _links(before, after, frozenset(new)) | _calendars(before, after)
    return {name: value for name, value in found.items() if value}


def _told(old: Activity, new: Activity) -> dict[str, list[Any]]:
    one, other = columns(old), columns(new)
    return {name: [one[name], other[name]] for name in one if one[name] != other[name]}


def _links(before: Network, after: Network, kept: frozenset[str]) -> dict[str, Any]:
    old, new = links_of(before), links_of(after)
    gone = [key for key in old if key[0] in kept and key[1] in kept and new.get(key) != old[key]]
    return {
        "links_gone": [[*key, *old[key]] for key in gone],
        "links_added": [[*key, *lag] for key, lag in new.items() if old.get(key) != lag],
    }


def links_of(plan: Network) -> dict[LinkKey, tuple[int, bool]]:
    """Every link of a plan: {(waiting, before, kind): (lag, in calendar days)}; of two alike the longer lag holds.

    Raises: TwoLags.
    """
    found: dict[LinkKey, tuple[int, bool]] = {}
    for one in plan.activities:
        for link in one.after:
            key = (one.id, link.before, str(link.kind))
            found[key] = _longer(found.get(key), link, key)
    return found


def _longer(known: tuple[int, bool] | None, link: Link, key: LinkKey) -> tuple[int, bool]:
    given = (link.lag, link.lag_elapsed)
    if known is None or known == given:
        return given
    if known[1] != link.lag_elapsed:
        raise TwoLags(key[0], key[1])
    return max(known, given)


def _calendars(before: Network, after: Network) -> dict[str, Any]:
    pairs = [(name, before.calendars[name], new) for name, new in after.calendars.items() if name in before.calendars]
    return {
        "weekdays": {
            name: [digits(old.weekdays), digits(new.weekdays)] for name, old, new in pairs if old.weekdays != new.weekdays
        },
        "extra_days": [[name, str(day)] for name, old, new in pairs for day in new.worked if day not in old.worked],
        "closures": [[name, str(first), str(last)] for name, old, new in pairs for first, last in new.closed[len(old.closed) :]],
    }  # fmt: skip


def digits(weekdays: frozenset[int]) -> str:
    """Weekdays as a calendar's row holds them.

    >>> digits(frozenset({5, 1}))
    '15'
    """
    return "".join(str(day) for day in sorted(weekdays))
