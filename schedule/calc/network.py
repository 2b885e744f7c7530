"""The critical path of a network on working calendars: early and late dates, floats, and what sets each start.

Values are in `plan`, the rules of links and progress in `compiling`, the two passes in `passes`; here is the door. A network is
compiled once and may be solved as often as wanted. Dates are made when asked for, so that a solution costs what its
two passes cost.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from operator import sub

from schedule.calc import calendars, passes
from schedule.calc.calendars import Table, TooFar
from schedule.calc.compiling import ROOM, Compiled, calendar_of, compile_network
from schedule.calc.plan import Activity, BadNetwork, CircleOfWork, Link, Network

__all__ = [
    "Activity",
    "BadNetwork",
    "CircleOfWork",
    "Compiled",
    "Link",
    "Network",
    "Outcome",
    "Solution",
    "TextbookNumbers",
    "compile",
    "solve",
    "solve_network",
]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What the network says of one activity. Finish dates are the last day worked; floats are working days of its calendar.

    `late_start`, `late_finish` and `total_float` are measured to `finish_by` where the network has one; `own_late_start`,
    `own_late_finish` and `float_to_finish` always to the network's own finish, and `critical` follows from it. `free_float`
    moves nothing that waits.
    """

    early_start: date
    early_finish: date
    late_start: date
    late_finish: date
    total_float: int
    free_float: int
    float_to_finish: int
    own_late_start: date
    own_late_finish: date

    @property
    def critical(self) -> bool:
        return self.float_to_finish <= 0


@dataclass(frozen=True, slots=True)
class TextbookNumbers:
    """Early and late start and finish in working days from 0 at the start of the network; ef = es + duration."""

    es: int
    ef: int
    ls: int
    lf: int


def compile(network: Network) -> Compiled:  # noqa: A001 - called through the module
    """Check a network and lay it out for solving.

    Raises: BadNetwork with the place and the mend; CircleOfWork, which names the members in order.
    """
    return compile_network(network)


def solve_network(network: Network) -> "Solution":
    """Work out a network. Raises: BadNetwork, CircleOfWork.

    >>> crew = calendars.Calendar("crew", frozenset({1, 2, 3, 4, 5}))
    >>> pour = Activity("pour", 1, "crew")
    >>> cure = Activity("cure", 7, elapsed=True, after=(Link("pour"),))
    >>> found = solve_network(Network(date(2026, 7, 10), {"crew": crew}, "crew", (pour, cure)))
    >>> found.finish, found.critical
    (datetime.date(2026, 7, 17), ('pour', 'cure'))
    """
    return solve(compile(network))


def solve(compiled: Compiled) -> "Solution":
    """Work out a compiled network: forward for the early dates, back for the late ones and the floats.

    Raises: BadNetwork, when a date runs past what the calendars are laid out for.
    Source: the critical path method with precedence links (Hendrickson & Au, Project Management for Construction, chapter
        10); calendars, milestones and progress are our rules, ADR 0402.
    """
    try:
        return _solved(compiled)
    except passes.NoRoom as fault:
        activity = next(a for a in compiled.activities[fault.node :] if a is not None)
        place = compiled.network.activities.index(activity) if activity in compiled.network.activities else 0
        mend = f'"{activity.id[:60]}" runs past what can be worked out: {fault}'
        raise BadNetwork(mend, ("activities", place)) from None
    except TooFar as fault:
        raise BadNetwork(str(fault), ("calendars",)) from None
    except passes.TooEarly:
        return _from_further_back(compiled)


def _from_further_back(compiled: Compiled) -> "Solution":
    """Late dates ran before the tables, for it is to finish long before it can: lay them out from earlier."""
    room = 4 * (compiled.network.start.toordinal() - compiled.base + ROOM)
    if compiled.network.start.toordinal() - room < date(calendars.FIRST_YEAR, 1, 1).toordinal():
        raise BadNetwork(f"late dates would lie before {calendars.FIRST_YEAR}; give a later date", ("finish_by",))
    return solve(compile_network(compiled.network, room))


def _solved(compiled: Compiled) -> "Solution":
    early, edges = passes.forward(compiled.nodes, compiled.tables)
    nodes = _with_kept_links(compiled, early, edges) if compiled.begun else compiled.nodes
    end = _end(compiled, edges)
    late = passes.late_starts(nodes, compiled.tables, _limits(compiled, end))
    due = late
    if compiled.network.finish_by is not None:
        by = compiled.network.finish_by.toordinal() + 1 - compiled.base
        floor = passes.NEVER_TOO_EARLY if by >= end else _reach(nodes)
        if by < floor:
            raise passes.TooEarly
        due = passes.late_starts(nodes, compiled.tables, _limits(compiled, by), floor)
    return Solution(compiled, nodes, (early, edges), (late, due), end)


def _with_kept_links(compiled: Compiled, early: list[int], edges: list[int]) -> list[passes.Node]:
    """Work that has begun is held by no link; on the way back it holds what it did wait for.

    A hidden node that leads nowhere any more lets go of what it waited on, too.
    """
    nodes = list(compiled.nodes)
    for place, pulled in compiled.begun.items():
        pulls = passes.pulls_of(pulled)
        kept = [pull for pull in pulls if passes.index_of(pull, pulled, edges) <= early[place]]
        nodes[place] = passes.with_pulls(nodes[place], kept)
        for before in (pull[0] // 2 for pull in pulls if pull not in kept):
            if compiled.activities[before] is None:
                nodes[before] = passes.with_pulls(nodes[before], ())
    return nodes


def _end(compiled: Compiled, edges: list[int]) -> int:
    """The day after the last one worked. Hidden nodes end no later than what they hold, unless that has begun before."""
    ends = edges[1::2]
    for place, (_, beside) in compiled.beside.items():
        ends[place] += beside
    if compiled.begun:
        ends = [ends[place] for place in compiled.node.values()]
    return max(ends, default=compiled.network.start.toordinal() - compiled.base)


def _limits(compiled: Compiled, end: int) -> list[int]:
    found = [end] * (2 * len(compiled.nodes))
    for place, beside in compiled.beside.items():
        found[2 * place : 2 * place + 2] = (end - days for days in beside)
    return found


def _reach(nodes: list[passes.Node]) -> int:
    """How many working days from the base of the tables no pull can lead past."""
    pulls = [pull for node in nodes for pull in passes.pulls_of(node)]
    return 2 + max((max(a, 0) + max(b, 0) for _, a, b in pulls), default=0)


def _index(table: Table, day: int, base: int) -> int:
    """The index of the first working day on or after a day; most are laid out already."""
    return table.ceil[day] if day < len(table.ceil) else table.index(day + base)


class Solution:
    """What a network comes to. Everything is read from the arrays of the passes when it is asked for."""

    def __init__(
        self,
        compiled: Compiled,
        nodes: list[passes.Node],
        early: tuple[list[int], list[int]],
        late: tuple[list[int], list[int]],
        end: int,
    ) -> None:
        self.compiled, self.network = compiled, compiled.network
        self._nodes, self._end = nodes, end
        self._early, self._edges = early
        self._late, self._due = late
        self._to_finish = self._floats(self._late)
        self._total = self._to_finish if self._due is self._late else self._floats(self._due)

    def _floats(self, until: list[int]) -> list[int]:
        """Working days from the early starts to others; for milestones those of their own calendar that lie between."""
        found = list(map(sub, until, self._early))
        base = self.compiled.base
        for place in self.compiled.milestones:
            own = self.compiled.own[place]
            if own is not self.compiled.tables[place]:
                found[place] = _index(own, until[place], base) - _index(own, self._early[place], base)
        return found

    @cached_property
    def free_floats(self) -> list[int]:
        """How far each can slip without moving what waits on it, nor the finish."""
        limits = _limits(self.compiled, self._end)
        hidden = [activity is None for activity in self.compiled.activities]
        free = passes.free_starts(self._nodes, self.compiled.tables, self._early, limits, hidden)
        return list(map(min, self._floats(free), self._to_finish))

    @cached_property
    def activities(self) -> Mapping[str, Outcome]:
        """The outcome of every activity, in the order given."""
        return {activity.id: self.of(activity.id) for activity in self.network.activities}

    @cached_property
    def total_floats(self) -> Mapping[str, int]:
        """The total float of every activity, in the order given, without making any date."""
        node, total = self.compiled.node, self._total
        return {activity.id: total[node[activity.id]] for activity in self.network.activities}

    def of(self, id_: str) -> Outcome:
        """The outcome of one activity. Raises: KeyError, for an id that is not known."""
        return self._outcome(id_)

    @cached_property
    def finish(self) -> date:
        """The last day worked; the start where there is nothing to do."""
        return max((last for _, last in self._early_dates.values()), default=self.network.start)

    @cached_property
    def critical(self) -> tuple[str, ...]:
        """The ids of what cannot slip without moving the finish, by early start, then in the order given."""
        node, early = self.compiled.node, self._early_dates
        ids = [activity.id for activity in self.network.activities if self._to_finish[node[activity.id]] <= 0]
        return tuple(sorted(ids, key=lambda id_: early[id_][0]))

    def drives(self, id_: str) -> tuple[str, ...]:
        """What an activity's early start follows from: those it waits on that hold it there. None holds what has begun."""
        place = self.compiled.node[id_]
        return tuple(dict.fromkeys(self._drives(place)))

    def _drives(self, place: int) -> list[str]:
        found: list[str] = []
        node = self.compiled.nodes[place]
        for pull in passes.pulls_of(node):
            if passes.index_of(pull, node, self._edges) == self._early[place]:
                before = pull[0] // 2
                activity = self.compiled.activities[before]
                found += [activity.id] if activity is not None else self._drives(before)
        return found

    @cached_property
    def numbers(self) -> Mapping[str, TextbookNumbers] | None:
        """The textbook's numbers where all activities share one calendar; None where they do not."""
        kinds = {(activity.elapsed, activity.calendar): activity for activity in self.network.activities}
        used = [calendar_of(activity, self.network) for activity in kinds.values()]
        if any(not calendars.alike(used[0], other) for other in used[1:]):
            return None
        return {activity.id: self._numbers(self.compiled.node[activity.id]) for activity in self.network.activities}

    def _numbers(self, place: int) -> TextbookNumbers:
        own, start = self.compiled.own[place], self._early[place]
        if own is not self.compiled.tables[place]:  # a milestone stands between days
            start = own.index(start + self.compiled.base)
        es = start - own.index(self.network.start.toordinal())
        ls, length = es + self._total[place], self.compiled.nodes[place].last + 1
        return TextbookNumbers(es, es + length, ls, ls + length)

    def _outcome(self, id_: str) -> Outcome:
        place = self.compiled.node[id_]
        first, last = self._early_dates[id_]
        late_first, late_last = self._late_dates(place, first, last, self._due)
        own = (late_first, late_last) if self._late is self._due else self._late_dates(place, first, last, self._late)
        return Outcome(
            early_start=first,
            early_finish=last,
            late_start=late_first,
            late_finish=late_last,
            total_float=self._total[place],
            free_float=self.free_floats[place],
            float_to_finish=self._to_finish[place],
            own_late_start=own[0],
            own_late_finish=own[1],
        )

    def _date(self, day: int) -> date:
        return date.fromordinal(self.compiled.base + day)

    @cached_property
    def _early_dates(self) -> dict[str, tuple[date, date]]:
        """{id: first and last day}, each after what it waits on, for a milestone looks at the days of those."""
        found: dict[str, tuple[date, date]] = {}
        for place, activity in enumerate(self.compiled.activities):
            if activity is not None and activity.duration:
                start, beside = 2 * place, self.compiled.beside.get(place, (0, 0))
                first, after = self._edges[start] + beside[0], self._edges[start + 1] + beside[1]
                found[activity.id] = self._date(first), self._date(after - 1)
            elif activity is not None:
                found[activity.id] = (self._falls_on(place, activity, found),) * 2
        return found

    def _falls_on(self, place: int, activity: Activity, found: Mapping[str, tuple[date, date]]) -> date:
        """The day a milestone falls on: when something ended, else the last working day before, and never before it may."""
        boundary = self._early[place]
        eve = self._date(boundary - 1)
        if place in self.compiled.begun:
            return eve
        before = (self.compiled.activities[edge // 2] for edge in self.compiled.eves[place])
        worked = any(other is not None and found[other.id][1] == eve for other in before)
        data_on = self.network.data_on or self.network.start
        return max(eve if worked else self._worked_before(place, boundary), self.network.start, data_on)

    def _worked_before(self, place: int, boundary: int) -> date:
        return date.fromordinal(self.compiled.own[place].last_before(self.compiled.base + boundary))

    def _late_dates(self, place: int, first: date, last: date, until: list[int]) -> tuple[date, date]:
        """The late start and finish; where they are the early ones, those, whatever day off they may be on."""
        moved = until[place] - self._early[place]
        if moved == 0:
            return first, last
        if self.compiled.nodes[place].last < 0:
            on = self._worked_before(place, until[place])
            on = max(on, first) if moved > 0 else min(on, first)
            return on, on
        days, start = self.compiled.tables[place].days, until[place]
        return self._date(days[start]), self._date(days[start + self.compiled.nodes[place].last])
