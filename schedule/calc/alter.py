"""A network as it would be otherwise: what-ifs and options are alterations that are put on it without changing it.

The order is fixed, so that an alteration means one thing: activities are taken out and bridged, others put in, links set, durations
and dates changed, work split in two, and calendars closed or opened (ADR 0402). Nothing here works out dates.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TypeVar

from schedule.calc.plan import KINDS, Activity, BadNetwork, Link, Network

_KIND = {ends: kind for kind, ends in KINDS.items()}
Activities = dict[str, Activity]
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Alteration:
    """What would be otherwise; what is left out stays as it is. Days are working days of an activity's own calendar.

    `links` are (the activity that waits, the link); a link for a pair that is linked already takes the place of what was
    there. `slips` are days lost before an activity starts, beside those it has lost already. `splits` are days of the first
    part, days between, days of the second part. `working` are weekdays, 1 for Monday to 7 for Sunday, or single dates.
    """

    durations: Mapping[str, int] = field(default_factory=dict)
    add: tuple[Activity, ...] = ()
    remove: tuple[str, ...] = ()
    links: tuple[tuple[str, Link], ...] = ()
    not_before: Mapping[str, date] = field(default_factory=dict)
    slips: Mapping[str, int] = field(default_factory=dict)
    closures: tuple[tuple[str, date, date], ...] = ()
    working: tuple[tuple[str, int | date], ...] = ()
    splits: Mapping[str, tuple[int, int, int]] = field(default_factory=dict)


def apply(network: Network, alteration: Alteration) -> Network:
    """Give the network as it would be with an alteration.

    Raises: BadNetwork, which names an activity or calendar that is not there, or an id that is there already.

    >>> network = Network(date(2026, 11, 25), activities=(Activity("pour", 1), Activity("strip", 2, after=(Link("pour"),))))
    >>> apply(network, Alteration(durations={"strip": 1})).activities[1].duration
    1
    """
    found = {activity.id: activity for activity in network.activities}
    for id_ in alteration.remove:
        _take_out(found, id_)
    for activity in alteration.add:
        _put_in(found, activity)
    _set_links(found, alteration.links)
    _change(found, "durations", alteration.durations, lambda a, days: replace(a, duration=days))
    _change(found, "not_before", alteration.not_before, lambda a, day: replace(a, not_before=day))
    _change(found, "slips", alteration.slips, lambda a, days: replace(a, slip=a.slip + days))
    for id_, parts in alteration.splits.items():
        _split(found, id_, parts)
    return _with_calendars(replace(network, activities=tuple(found.values())), alteration)


def first_part(id_: str) -> str:
    """The id that the first part of split work gets; the second part keeps the id of the whole."""
    return f"{id_} (first part)"


def _known(found: Activities, id_: str, place: str) -> Activity:
    if id_ not in found:
        raise BadNetwork(f'"{id_[:60]}" is none of the activities', (place,))
    return found[id_]


def _change(found: Activities, place: str, values: Mapping[str, T], changed: Callable[[Activity, T], Activity]) -> None:
    for id_, value in values.items():
        found[id_] = changed(_known(found, id_, place), value)


def _take_out(found: Activities, id_: str) -> None:
    """What waited on an activity that is taken out now waits on what that one waited on, with its own lag."""
    gone = _known(found, id_, "remove")
    del found[id_]
    for activity in [other for other in found.values() if any(link.before == id_ for link in other.after)]:
        after = [new for link in activity.after for new in ([link] if link.before != id_ else _bridged(gone, link))]
        found[activity.id] = replace(activity, after=tuple(dict.fromkeys(after)))


def _bridged(gone: Activity, leaving: Link) -> list[Link]:
    """One link for each that came in: from where that one left, to where the leaving one held, with the leaving one's lag."""
    holds_end = KINDS[leaving.kind][1]
    return [replace(leaving, before=link.before, kind=_KIND[KINDS[link.kind][0], holds_end]) for link in gone.after]


def _put_in(found: Activities, activity: Activity) -> None:
    if activity.id in found:
        raise BadNetwork(f'"{activity.id[:60]}" is there already; give the new one another id', ("add",))
    found[activity.id] = activity


def _set_links(found: Activities, links: tuple[tuple[str, Link], ...]) -> None:
    pairs = dict.fromkeys((waiting, link.before) for waiting, link in links)
    for waiting, before in pairs:
        activity = _known(found, waiting, "links")
        _known(found, before, "links")
        found[waiting] = replace(activity, after=tuple(link for link in activity.after if link.before != before))
    for waiting, link in links:
        found[waiting] = replace(found[waiting], after=(*found[waiting].after, link))


def _split(found: Activities, id_: str, parts: tuple[int, int, int]) -> None:
    """Put the first part before the second. What starts with the whole starts with the first; what ends with it, the second."""
    whole, first = _known(found, id_, "splits"), first_part(id_)
    days, between, rest = parts
    if whole.started_on or whole.finished_on:
        raise BadNetwork(f'"{id_[:60]}" has begun and cannot be split any more', ("splits",))
    starts = tuple(link for link in whole.after if not KINDS[link.kind][1])
    ends = tuple(link for link in whole.after if KINDS[link.kind][1])
    for other in list(found.values()):
        moved = (replace(link, before=first) if _is_from_start(link, id_) else link for link in other.after)
        found[other.id] = replace(other, after=tuple(moved))
    _put_in(found, replace(whole, id=first, duration=days, after=starts))
    tied = (Link(first, "FS", between), *ends)
    found[id_] = replace(whole, duration=rest, after=tied, not_before=None, slip=0)


def _is_from_start(link: Link, id_: str) -> bool:
    return link.before == id_ and not KINDS[link.kind][0]


def _with_calendars(network: Network, alteration: Alteration) -> Network:
    calendars = dict(network.calendars)
    for place in ("closures", "working"):
        for name, *_ in getattr(alteration, place):
            if name not in calendars:
                raise BadNetwork(f'no calendar is called "{name[:60]}"', (place,))
    for name, first, last in alteration.closures:
        calendars[name] = replace(calendars[name], closed=(*calendars[name].closed, (first, last)))
    for name, day in alteration.working:
        if isinstance(day, int):
            calendars[name] = replace(calendars[name], weekdays=calendars[name].weekdays | {day})
        else:
            calendars[name] = replace(calendars[name], worked=(*calendars[name].worked, day))
    return replace(network, calendars=calendars)
