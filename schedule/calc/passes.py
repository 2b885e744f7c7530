"""The two passes over a network in its array form: forward for the early days, backward for the late ones.

Nothing here knows of dates or activities. A `Node` works `length` days of one calendar in a row, and starts on the
first working day on or after the latest of its pulls. Every node has two edges: edge 2n is the day it starts, edge 2n + 1 the
day after its last. A pull holds a node to an edge of an earlier one: plainly (start on or after that edge), or by two numbers
(s, a, b): index of start >= ceil[edge[s] + a] + b.

Backward, the inverse is exact, for index of the first working day >= n and n-th working day undo each other:
ceil[x] <= k where x <= days[k]. So a pull lets edge s be as late as days[k - b] - a.

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
    pulls: tuple[Pull, ...]
    ceil: list[int]
    days: list[int]
    length: int
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
    for earliest, plain, pulls, ceil, days, length, _ in nodes:
        for s in plain:
            edge = edges[s]
            if edge > earliest:
                earliest = edge
        k = ceil[earliest]
        for s, a, b in pulls:
            pulled = ceil[edges[s] + a] + b
            if pulled > k:
                k = pulled
        add_edge(days[k])
        add_edge(days[k + length - 1] + 1)
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
    for _, plain, pulls, ceil, days, length, leads in nodes:
        k = ceil[limits[end]] - length
        if leads and (by_start := ceil[limits[end - 1] + 1] - 1) < k:
            k = by_start
        if k < floor:
            raise TooEarly
        day = days[k]
        for s in plain:
            if day < limits[s]:
                limits[s] = day
        for s, a, b in pulls:
            day = days[k - b] - a
            if day < limits[s]:
                limits[s] = day
        late.append(k)
        end -= 2


def late_and_free(
    nodes: Sequence[Node], tables: Sequence[Table], early: tuple[list[int], list[int]], limits: list[int]
) -> tuple[list[int], list[int]]:
    """Give every node its late start, and the latest start that moves nothing after it [index in its calendar].

    Args:
        early: what `forward` gave.
        limits: how late each edge may be [day] as far as nothing pulls on it; changed in place.
    Raises: NoRoom.
    """
    late: list[int] = []
    free: list[int] = []
    near = limits.copy()
    while len(late) < len(nodes):
        done, left = len(late), len(nodes) - len(late)
        rows = zip(reversed(nodes), reversed(early[0]), strict=True)
        try:
            _late_and_free(islice(rows, done, None), early[1], (late, free), (limits, near), 2 * left - 1)
        except IndexError:
            _grow(tables, left - 1)
    late.reverse()
    free.reverse()
    return late, free


def _late_and_free(
    rows: Iterable[tuple[Node, int]],
    edges: list[int],
    found: tuple[list[int], list[int]],
    bounds: tuple[list[int], list[int]],
    end: int,
) -> None:
    (late, free), (limits, near) = found, bounds
    for (_, plain, pulls, ceil, days, length, leads), start in rows:
        k = ceil[limits[end]] - length
        f = ceil[near[end]] - length
        if leads:
            k = min(k, ceil[limits[end - 1] + 1] - 1)
            f = min(f, ceil[near[end - 1] + 1] - 1)
        day, early = days[k], edges[end - 1]
        for s in plain:
            if day < limits[s]:
                limits[s] = day
            if early < near[s]:
                near[s] = early
        for s, a, b in pulls:
            day = days[k - b] - a
            if day < limits[s]:
                limits[s] = day
            day = days[start - b] - a
            if day < near[s]:
                near[s] = day
        late.append(k)
        free.append(f if f < k else k)
        end -= 2


def binding(node: Node, start: int, edges: Sequence[int]) -> list[int]:
    """The edges that hold a node to its early start [index in its calendar]."""
    found = [s for s in node.plain if node.ceil[edges[s]] == start]
    return found + [s for s, a, b in node.pulls if node.ceil[edges[s] + a] + b == start]


def keeps(node: Node, start: int, edges: Sequence[int]) -> Node:
    """Give a node without those pulls that its start has not waited for."""
    plain = tuple(s for s in node.plain if node.ceil[edges[s]] <= start)
    return node._replace(
        plain=plain, pulls=tuple(p for p in node.pulls if node.ceil[edges[p[0]] + p[1]] + p[2] <= start)
    )


def _grow(tables: Sequence[Table], node: int) -> None:
    try:
        tables[node].double()
    except TooFar as fault:
        raise NoRoom(node, fault) from None
