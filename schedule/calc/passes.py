"""The two passes over a network in its array form: forward for the early days, backward for the late ones.

Nothing here knows of dates or activities. A `Node` works `last` + 1 days of one calendar in a row, from the first
working day on or after the latest of its pulls. Every node has two edges: edge 2n is the day it starts, edge 2n + 1 the day
after its last. A pull holds a node to an edge s of an earlier one by two numbers:

    index of its start >= ceil[edge[s] + a] + b

`plain` pulls have neither a nor b, `shifted` ones no b: for those the latest day is sought first and then one index.

Backward, the inverse is exact, for `ceil` and `days` undo each other: ceil[x] <= k where x <= days[k]. So a pull lets
edge s be as late as days[k - b] - a.

The loops are written for speed: they are nearly all the time a network takes.
"""

from collections.abc import Iterable, Sequence
from itertools import islice
from typing import NamedTuple

from schedule.calc.calendars import Table, TooFar

Pull = tuple[int, int, int]
NEVER_TOO_EARLY = -(10**9)


class Node(NamedTuple):
    """One row of the array form; days count from the base that all tables share."""

    earliest: int
    plain: tuple[int, ...]
    shifted: tuple[tuple[int, int], ...]
    pulls: tuple[Pull, ...]
    ceil: list[int]
    days: list[int]
    #: working days from its first to its last; -1 for a milestone
    last: int
    #: something is pulled by its start
    leads: bool


class TooEarly(Exception):
    """Late days run before the base of the tables: they have to be laid out from further back."""


class NoRoom(Exception):
    """The days of a node run past its calendar."""

    def __init__(self, node: int, fault: TooFar) -> None:
        super().__init__(str(fault))
        self.node = node
        self.fault = fault


def forward(nodes: Sequence[Node], tables: Sequence[Table]) -> tuple[list[int], list[int]]:
    """Give every node its early start [index in its calendar] and the days of its edges, laying out more days as needed.

    Raises: NoRoom.
    """
    starts: list[int] = []
    edges: list[int] = []
    while len(starts) < len(nodes):
        try:
            _forward(islice(nodes, len(starts), None), starts, edges)
        except IndexError:
            del edges[2 * len(starts) :]
            _grow(tables, len(starts))
    return starts, edges


def _forward(nodes: Iterable[Node], starts: list[int], edges: list[int]) -> None:
    add_edge, add_start = edges.append, starts.append
    for earliest, plain, shifted, pulls, ceil, days, last, _ in nodes:
        for s in plain:
            edge = edges[s]
            if edge > earliest:
                earliest = edge
        if shifted:
            for s, a in shifted:
                edge = edges[s] + a
                if edge > earliest:
                    earliest = edge
        k = ceil[earliest]
        if pulls:
            for s, a, b in pulls:
                pulled = ceil[edges[s] + a] + b
                if pulled > k:
                    k = pulled
        add_edge(days[k])
        add_edge(days[k + last] + 1)
        add_start(k)


def late_starts(
    nodes: Sequence[Node], tables: Sequence[Table], limits: list[int], floor: int = NEVER_TOO_EARLY
) -> list[int]:
    """Give every node its late start [index in its calendar].

    Args:
        limits: how late each edge may be [day] as far as nothing pulls on it; changed in place.
        floor: below this index of a start, what follows from it may lie before the tables.
    Raises: NoRoom, TooEarly.
    """
    late: list[int] = []
    while len(late) < len(nodes):
        left = len(nodes) - len(late)
        try:
            _late_starts(islice(reversed(nodes), len(late), None), late, limits, 2 * left - 1, floor)
        except IndexError:
            _grow(tables, len(nodes) - 1 - len(late))
    late.reverse()
    return late


def _late_starts(nodes: Iterable[Node], late: list[int], limits: list[int], end: int, floor: int) -> None:
    add = late.append
    for _, plain, shifted, pulls, ceil, days, last, leads in nodes:
        k = ceil[limits[end]] - last
        if leads and (by_start := ceil[limits[end - 1] + 1]) < k:
            k = by_start
        k -= 1
        if k < floor:
            raise TooEarly
        day = days[k]
        for s in plain:
            if day < limits[s]:
                limits[s] = day
        if shifted:
            for s, a in shifted:
                if day - a < limits[s]:
                    limits[s] = day - a
        if pulls:
            for s, a, b in pulls:
                if (held := days[k - b] - a) < limits[s]:
                    limits[s] = held
        add(k)
        end -= 2


def free_starts(
    nodes: Sequence[Node], tables: Sequence[Table], starts: Sequence[int], limits: list[int], hidden: Sequence[bool]
) -> list[int]:
    """Give every node the latest start that moves nothing which waits on it [index in its calendar].

    Args:
        starts: the early starts.
        limits: how late each edge may be [day] as far as nothing pulls on it; changed in place.
        hidden: for each node, whether it may move itself, as long as what waits on it does not.
    Raises: NoRoom.
    """
    free: list[int] = []
    rows = list(zip(nodes, starts, hidden, strict=True))
    while len(free) < len(rows):
        left = len(rows) - len(free)
        try:
            _free_starts(islice(reversed(rows), len(free), None), free, limits, 2 * left - 1)
        except IndexError:
            _grow(tables, left - 1)
    free.reverse()
    return free


def _free_starts(rows: Iterable[tuple[Node, int, bool]], free: list[int], limits: list[int], end: int) -> None:
    add = free.append
    for (_, plain, shifted, pulls, ceil, days, last, leads), start, moves in rows:
        k = ceil[limits[end]] - last
        if leads and (by_start := ceil[limits[end - 1] + 1]) < k:
            k = by_start
        k -= 1
        if moves:
            start = k
        day = days[start]
        for s in plain:
            if day < limits[s]:
                limits[s] = day
        if shifted:
            for s, a in shifted:
                if day - a < limits[s]:
                    limits[s] = day - a
        if pulls:
            for s, a, b in pulls:
                if (held := days[start - b] - a) < limits[s]:
                    limits[s] = held
        add(k)
        end -= 2


def pulls_of(node: Node) -> list[Pull]:
    """All pulls of a node, by all three numbers."""
    return [*((s, 0, 0) for s in node.plain), *((s, a, 0) for s, a in node.shifted), *node.pulls]


def with_pulls(node: Node, pulls: Iterable[Pull]) -> Node:
    """Give a node other pulls."""
    plain, shifted, others = by_kind(pulls)
    return node._replace(plain=plain, shifted=shifted, pulls=others)


def by_kind(pulls: Iterable[Pull]) -> tuple[tuple[int, ...], tuple[tuple[int, int], ...], tuple[Pull, ...]]:
    """Sort pulls into those that are plain, those that are only shifted, and others."""
    plain, shifted, others = [], [], []
    for pull in pulls:
        s, a, b = pull
        if b:
            others.append(pull)
        elif a:
            shifted.append((s, a))
        else:
            plain.append(s)
    return tuple(plain), tuple(shifted), tuple(others)


def index_of(pull: Pull, node: Node, edges: Sequence[int]) -> int:
    """Where a pull holds the start of a node [index in its calendar]."""
    s, a, b = pull
    return node.ceil[edges[s] + a] + b


def _grow(tables: Sequence[Table], node: int) -> None:
    try:
        tables[node].double()
    except TooFar as fault:
        raise NoRoom(node, fault) from None
