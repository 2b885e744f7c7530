"""The values of a network: activities, the links they wait on, their calendars; and what is wrong with one.

Days are dates. A duration, a lag and a float count working days of the calendar of the activity they belong to, but for
elapsed work and elapsed lags, which go on every day (ADR 0402).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from schedule.calc.calendars import Calendar

#: {kind of link: (it leaves from the end of what goes before, it holds the end of what waits)}
KINDS = {"FS": (True, False), "SS": (False, False), "FF": (True, True), "SF": (False, True)}
#: Longer durations and lags are slips of the pen [days].
MOST_DAYS = 100_000
FIRST_DAY, LAST_DAY = date(1900, 1, 1), date(2499, 12, 31)


class BadNetwork(ValueError):
    """A network cannot be worked out: the mend, and the place as steps into it, such as ("activities", 3, "calendar")."""

    def __init__(self, mend: str, path: tuple[str | int, ...] = ()) -> None:
        super().__init__(mend)
        self.mend = mend
        self.path = path


class CircleOfWork(BadNetwork):
    """Activities wait on each other in a circle; `members` come in order, each waited on by the next, the first again last."""

    def __init__(self, members: Sequence[str]) -> None:
        self.members = tuple(members)
        told = " → ".join(members if len(members) <= 12 else [*members[:6], "…", *members[-5:]])
        super().__init__(f"these wait on each other in a circle: {told}; take one of the links away", ("activities",))


@dataclass(frozen=True, slots=True)
class Link:
    """What an activity waits on: another one, by its start or finish, and a lag [days], below zero for a lead.

    `kind` is "FS" (finish to start), "SS", "FF" or "SF"; the second letter is of the one that waits. The lag counts in the
    calendar of the one that waits, or in days of every kind where `lag_elapsed`.
    """

    before: str
    kind: str = "FS"
    lag: int = 0
    lag_elapsed: bool = False


@dataclass(frozen=True, slots=True)
class Activity:
    """Work of some length [working days of its calendar]; of length 0 it is a milestone.

    `elapsed` work goes on every day. `slip` days [working days] are lost before it starts, once everything it waits on is there.
    `started_on` and `finished_on` are what has happened; links do not move that any more.
    """

    id: str
    duration: int
    calendar: str = ""
    after: tuple[Link, ...] = ()
    not_before: date | None = None
    elapsed: bool = False
    started_on: date | None = None
    finished_on: date | None = None
    slip: int = 0


@dataclass(frozen=True, slots=True)
class Network:
    """Everything the dates follow from.

    `data_on` is the day progress is told for: nothing that has not begun starts before it, nothing unfinished ends before it.
    `finish_by` is the last day that may be worked; late dates and floats are measured to it where it is given. An activity
    without a calendar is on `default_calendar`, and every day where that is "".
    """

    start: date
    calendars: Mapping[str, Calendar] = field(default_factory=dict)
    default_calendar: str = ""
    activities: tuple[Activity, ...] = ()
    data_on: date | None = None
    finish_by: date | None = None


def check(network: Network) -> None:
    """Refuse what cannot be worked out, each with its place. Circles are found when the order is sought.

    Raises: BadNetwork.
    """
    _check_dates(network)
    known: set[str] = set()
    for place, activity in enumerate(network.activities):
        if activity.id in known:
            raise BadNetwork(f'"{activity.id[:60]}" is there already; each is given once', ("activities", place, "id"))
        known.add(activity.id)
    for place, activity in enumerate(network.activities):
        try:
            _check_activity(activity, network)
            _check_links(activity, known)
        except BadNetwork as fault:
            raise BadNetwork(fault.mend, ("activities", place, *fault.path)) from None


def _check_dates(network: Network) -> None:
    for name in ("start", "data_on", "finish_by"):
        given = getattr(network, name)
        if given is not None and not FIRST_DAY <= given <= LAST_DAY:
            raise BadNetwork(f"a date from {FIRST_DAY} to {LAST_DAY} is required", (name,))
    if network.default_calendar and network.default_calendar not in network.calendars:
        raise BadNetwork(f'no calendar is called "{network.default_calendar[:60]}"', ("default_calendar",))


def _check_activity(activity: Activity, network: Network) -> None:
    if activity.calendar and activity.calendar not in network.calendars:
        raise BadNetwork(f'no calendar is called "{activity.calendar[:60]}"', ("calendar",))
    for name in ("duration", "slip"):
        if not 0 <= getattr(activity, name) <= MOST_DAYS:
            raise BadNetwork(f"a whole number from 0 to {MOST_DAYS} is required", (name,))
    for name in ("not_before", "started_on", "finished_on"):
        given = getattr(activity, name)
        if given is not None and not FIRST_DAY <= given <= LAST_DAY:
            raise BadNetwork(f"a date from {FIRST_DAY} to {LAST_DAY} is required", (name,))
        if given is not None and name != "not_before" and network.data_on is not None and given > network.data_on:
            raise BadNetwork(f"this has not happened by {network.data_on}, the date progress is told for", (name,))
    if activity.started_on and activity.finished_on and activity.finished_on < activity.started_on:
        raise BadNetwork("this is before the start of the activity", ("finished_on",))


def _check_links(activity: Activity, known: set[str]) -> None:
    for place, link in enumerate(activity.after):
        if link.before not in known:
            raise BadNetwork(f'"{link.before[:60]}" is none of the activities', ("after", place, "id"))
        if link.kind not in KINDS:
            raise BadNetwork('"FS", "SS", "FF" or "SF" is required', ("after", place, "link"))
        if abs(link.lag) > MOST_DAYS:
            raise BadNetwork(f"a whole number from {-MOST_DAYS} to {MOST_DAYS} is required", ("after", place, "lag"))
