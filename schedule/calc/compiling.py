"""From a network to its array form: every rule of links, lags, milestones and progress is settled here, once (ADR 0402).

What the two passes cannot say in one node is said by a hidden one before it. A milestone is a node of length 0 that goes on
every day, so that it stands between two days and never waits for a working day itself; a lag in its own calendar is a
hidden node of that length, and so are days lost before a start. Work that has begun is a node that nothing pulls.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from graphlib import CycleError, TopologicalSorter

from schedule.calc import calendars, passes, plan
from schedule.calc.calendars import EVERY_DAY, Calendar, NoSuchCalendar, Table, TooFar
from schedule.calc.passes import Node, Pull, with_pulls
from schedule.calc.plan import Activity, BadNetwork, CircleOfWork, Link, Network

#: How far before everything else the tables begin, for leads and for late dates before the start [days].
ROOM = 400
#: How much of each calendar is laid out at first [years].
YEARS = 3


@dataclass(slots=True)
class Compiled:
    """A network ready for the passes. `node` finds an activity's node; hidden nodes belong to none."""

    network: Network
    base: int
    nodes: list[Node] = field(default_factory=list)
    #: the calendar each node works on
    tables: list[Table] = field(default_factory=list)
    #: the calendar floats are told in: a milestone's own one, though it stands between days
    own: list[Table] = field(default_factory=list)
    activities: list[Activity | None] = field(default_factory=list)
    node: dict[str, int] = field(default_factory=dict)
    #: nodes of milestones
    milestones: list[int] = field(default_factory=list)
    #: {node that has begun: the node as its links would pull it}
    begun: dict[int, Node] = field(default_factory=dict)
    #: {node: days its real edges lie beside those of its calendar}, of work that began or ended on a day off
    beside: dict[int, tuple[int, int]] = field(default_factory=dict)
    #: {node of a milestone: edges it may fall on the eve of}
    eves: dict[int, list[int]] = field(default_factory=dict)


def compile_network(network: Network, room: int = ROOM) -> Compiled:
    """Bring a network into its array form.

    Raises: BadNetwork, CircleOfWork.
    """
    plan.check(network)
    for name, calendar in network.calendars.items():
        _check_calendar(name, calendar)
    order = in_order(network.activities)
    try:
        happened = {a.id: _begun(a, network) for a in network.activities if a.started_on or a.finished_on}
        writer = _Writer(Compiled(network, _base(network, happened.values(), room)), happened)
        for activity in order:
            writer.add(activity)
    except TooFar as fault:
        raise BadNetwork(str(fault), ("calendars",)) from None
    return writer.finished()


def _check_calendar(name: str, calendar: Calendar) -> None:
    try:
        calendars.check(calendar)
    except NoSuchCalendar as fault:
        raise BadNetwork(str(fault), ("calendars", name)) from None


def in_order(activities: Iterable[Activity]) -> list[Activity]:
    """Put activities after all that they wait on, those given first before others. Raises: CircleOfWork."""
    known = {activity.id: activity for activity in activities}
    left = {id_: len(activity.after) for id_, activity in known.items()}
    waiting: dict[str, list[str]] = {id_: [] for id_ in known}
    for id_, activity in known.items():
        for link in activity.after:
            waiting[link.before].append(id_)
    found = [activity for activity in known.values() if not activity.after]
    for activity in found:  # grows while it is read
        for id_ in waiting[activity.id]:
            left[id_] -= 1
            if not left[id_]:
                found.append(known[id_])
    if len(found) < len(known):
        raise CircleOfWork(_circle(known))
    return found


def _circle(known: Mapping[str, Activity]) -> list[str]:
    """One circle among activities that have one, the first member again last."""
    sorter = TopologicalSorter({id_: [link.before for link in activity.after] for id_, activity in known.items()})
    try:
        sorter.prepare()
    except CycleError as fault:
        return list(fault.args[1])
    raise AssertionError("work that waits for ever waits in a circle")


def calendar_of(activity: Activity, network: Network) -> Calendar:
    """The calendar an activity works on."""
    name = activity.calendar or network.default_calendar
    return EVERY_DAY if activity.elapsed or not name else network.calendars[name]


@dataclass(frozen=True, slots=True)
class Begun:
    """What has happened of an activity; `finished` is None for work that is under way."""

    started: date
    finished: date | None = None


def _begun(activity: Activity, network: Network) -> Begun:
    """What has happened. A milestone that has begun is reached; what is told as finished only began its duration before."""
    started, finished = activity.started_on, activity.finished_on
    if activity.duration == 0:
        started = finished = finished or started
    elif started is None and finished is not None:
        calendar = calendar_of(activity, network)
        last = calendars.on_or_before(calendar, finished)
        started = min(finished, calendars.step(calendar, last, 1 - activity.duration))
    if started is None:
        raise ValueError("neither begun nor ended")
    return Begun(started, finished)


def _base(network: Network, happened: Iterable[Begun], room: int) -> int:
    """The first day of the tables [ordinal]: before everything that can happen, and before every lead from it."""
    first = min([network.start, *(begun.started for begun in happened)])
    lead = max((-link.lag for a in network.activities for link in a.after if link.lag_elapsed), default=0)
    base = first.toordinal() - room - max(0, lead)
    for activity in network.activities:
        if activity.duration == 0 and any(link.lag < 0 and not link.lag_elapsed for link in activity.after):
            base = min(base, calendars.step(calendar_of(activity, network), first, -2).toordinal())
    return base


class _Writer:
    """Adds activities to a compiled network, in an order in which each comes after all that it waits on."""

    def __init__(self, compiled: Compiled, happened: Mapping[str, Begun]) -> None:
        self.compiled = compiled
        self.network = compiled.network
        self.happened = happened
        self.leads: set[int] = set()
        self.every_day = self.table(EVERY_DAY)
        self.laid = {"": self.every_day}

    def table(self, calendar: Calendar) -> Table:
        made = Table(calendar, self.compiled.base)
        made.grow(YEARS)
        made.reach(max(self.compiled.base, self.network.start.toordinal()))
        return made

    def own_table(self, activity: Activity) -> Table:
        """The calendar of an activity, laid out once; found by its name, for a calendar may be long."""
        name = "" if activity.elapsed else activity.calendar or self.network.default_calendar
        if name not in self.laid:
            self.laid[name] = self.table(calendar_of(activity, self.network))
        return self.laid[name]

    def finished(self) -> Compiled:
        nodes = self.compiled.nodes
        for place in self.leads:
            nodes[place] = nodes[place]._replace(leads=True)
        return self.compiled

    def day(self, day: date) -> int:
        return day.toordinal() - self.compiled.base

    def add(self, activity: Activity) -> None:
        own = self.own_table(activity)
        if activity.id in self.happened:
            self._add_begun(activity, self.happened[activity.id], own)
        elif activity.duration == 0:
            self._add_milestone(activity, own)
        else:
            self._add_work(activity, own)

    def _earliest(self, activity: Activity) -> int:
        bounds = (self.network.start, activity.not_before, self.network.data_on)
        return max(self.day(bound) for bound in bounds if bound is not None)

    def _put(self, node: Node, table: Table, activity: Activity | None = None, own: Table | None = None) -> int:
        """Add a node, hidden without an activity. Returns: its place."""
        compiled, place = self.compiled, len(self.compiled.nodes)
        compiled.nodes.append(node)
        compiled.tables.append(table)
        compiled.own.append(own or table)
        compiled.activities.append(activity)
        if activity is not None:
            compiled.node[activity.id] = place
            if activity.duration == 0:
                compiled.milestones.append(place)
        return place

    def _node(self, earliest: int, pulls: Iterable[Pull], table: Table, length: int) -> Node:
        given = tuple(pulls)
        for pull in given:
            if pull[0] % 2 == 0:
                self.leads.add(pull[0] // 2)
        plain, shifted, others = passes.by_kind(given)
        return Node(earliest, plain, shifted, others, table.ceil, table.days, length - 1, False)

    def _edge(self, link: Link) -> tuple[int, int]:
        """The edge a link leaves from, and the days its real one lies beside it."""
        place, from_end = self.compiled.node[link.before], plan.KINDS[link.kind][0]
        return 2 * place + from_end, self.compiled.beside.get(place, (0, 0))[from_end]

    def _pulls(self, activity: Activity, length: int) -> list[Pull]:
        """The links of work. One that holds its finish holds the day of its last work, `length` - 1 days after its start."""
        found = []
        for link in activity.after:
            edge, beside = self._edge(link)
            elapsed, lag = (link.lag, 0) if link.lag_elapsed else (0, link.lag)
            if plan.KINDS[link.kind][1]:
                lag -= length
            if link.kind == "FF":
                elapsed, lag = elapsed - 1, lag + 1
            found.append((edge, elapsed + beside, lag))
        return found

    def _add_work(self, activity: Activity, own: Table) -> None:
        earliest, pulls = self._earliest(activity), self._pulls(activity, activity.duration)
        if activity.slip:
            lost = self._put(self._node(earliest, pulls, own, activity.slip), own)
            pulls = [(2 * lost + 1, 0, 0)]
        self._put(self._node(earliest, pulls, own, activity.duration), own, activity)

    def _add_milestone(self, activity: Activity, own: Table) -> None:
        earliest, pulls = self._earliest(activity), self._milestone_pulls(activity, own)
        if activity.slip:
            met = self._put(self._node(earliest, pulls, self.every_day, 0), self.every_day)
            lost = self._put(self._node(0, [(2 * met + 1, 0, 0)], own, activity.slip), own)
            pulls = [(2 * lost + 1, 0, 0)]
        place = self._put(self._node(earliest, pulls, self.every_day, 0), self.every_day, activity, own)
        self.compiled.eves[place] = [edge for edge, a, _ in pulls if edge % 2 and a == self._end_beside(edge)]

    def _end_beside(self, edge: int) -> int:
        return self.compiled.beside.get(edge // 2, (0, 0))[1]

    def _milestone_pulls(self, activity: Activity, own: Table) -> list[Pull]:
        """The links of a milestone. A lag in its own calendar is hidden work of that length, a lead a hidden step back."""
        found = []
        for link in activity.after:
            edge, beside = self._edge(link)
            if link.lag_elapsed or link.lag == 0:
                found.append((edge, link.lag + beside, 0))
            elif link.lag > 0:
                waited = self._put(self._node(0, [(edge, beside, 0)], own, link.lag), own)
                found.append((2 * waited + 1, 0, 0))
            else:
                back = self._put(self._node(own.days[0] + 1, [(edge, beside, link.lag)], own, 0), own)
                found.append((2 * back, 0, 0))
        return found

    def _add_begun(self, activity: Activity, begun: Begun, own: Table) -> None:
        """Work that has begun, or a milestone that is reached: it lies where it lies. Its links are kept for the way back."""
        earliest, length, table = self.day(begun.started), self._worked(activity, begun, own), own
        if activity.duration:
            pulls = self._pulls(activity, length)
        else:
            earliest, length, table = earliest + 1, 0, self.every_day
            pulls = self._milestone_pulls(activity, own)
        pulled = self._node(earliest, pulls, table, length)
        place = self._put(with_pulls(pulled, ()), table, activity, own)
        self.compiled.begun[place] = pulled
        if activity.duration:
            self._note_days_off(place, begun, own, length)

    def _worked(self, activity: Activity, begun: Begun, own: Table) -> int:
        """How long work that has begun takes [working days]: what it took, or at least until the day progress is told for."""
        first = own.index(begun.started.toordinal())
        if begun.finished is not None:
            return max(1, own.index(begun.finished.toordinal() + 1) - first)
        if self.network.data_on is None:
            return activity.duration
        return max(activity.duration, own.index(self.network.data_on.toordinal()) - first + 1)

    def _note_days_off(self, place: int, begun: Begun, own: Table, length: int) -> None:
        first = own.index(begun.started.toordinal())
        start = self.day(begun.started) - own.days[first]
        end = 0 if begun.finished is None else self.day(begun.finished) - own.days[first + length - 1]
        if start or end:
            self.compiled.beside[place] = (start, end)
