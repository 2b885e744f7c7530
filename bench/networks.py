"""Made-up networks of any size, and the plain way to find a critical path with a graph library."""

import random
from datetime import date
from typing import Any

from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, Link, Network

START = date(2026, 1, 5)
CALENDARS = {
    "trades": Calendar("trades", frozenset({1, 2, 3, 4, 5}), "US", ((date(2026, 12, 21), date(2027, 1, 3)),)),
    "crew": Calendar("crew", frozenset({1, 2, 3, 4, 5, 6}), "GB", ((date(2026, 8, 1), date(2026, 8, 14)),)),
    "inspector": Calendar("inspector", frozenset({2, 4}), "US", ((date(2026, 12, 24), date(2027, 1, 4)),)),
    "works": Calendar("works", frozenset({1, 2, 3, 4, 5}), "DE", ((date(2026, 8, 3), date(2026, 8, 21)),)),
    "always": Calendar("always"),
}
#: Activities side by side, so that a network grows in length.
WIDTH = 25


def made(count: int, seed: int = 1) -> Network:
    """A network with about two links an activity: all kinds of link, lags and leads, five calendars, milestones, cures."""
    rolled = random.Random(seed)
    return Network(START, CALENDARS, "trades", tuple(_activity(place, rolled) for place in range(count)))


def _activity(place: int, rolled: random.Random) -> Activity:
    before = (
        {rolled.randrange(max(0, place - 2 * WIDTH), place - WIDTH // 2) for _ in range(2)} if place >= WIDTH else ()
    )
    return Activity(
        str(place),
        0 if rolled.random() < 0.05 else rolled.choice([1, 2, 3, 5, 8, 10]),
        rolled.choices(list(CALENDARS), [60, 15, 5, 10, 10])[0],
        tuple(_link(str(other), rolled) for other in sorted(before)),
        elapsed=rolled.random() < 0.05,
    )


def _link(before: str, rolled: random.Random) -> Link:
    kind = rolled.choices(["FS", "SS", "FF", "SF"], [70, 15, 12, 3])[0]
    lag = rolled.choice([1, 2, 3, 5, -1]) if rolled.random() < 0.25 else 0
    return Link(before, kind, lag, rolled.random() < 0.5)


def as_graph(network: Network) -> Any:
    """The same activities and links as a graph with attributes, ready before the clock starts; kinds and lags are left out."""
    import networkx as nx

    graph = nx.DiGraph()
    graph.add_nodes_from((activity.id, {"duration": activity.duration}) for activity in network.activities)
    graph.add_edges_from((link.before, activity.id) for activity in network.activities for link in activity.after)
    return graph


def plain_pass(graph: Any) -> int:
    """Early and late days and total floats of a graph whose every link is finish to start on one calendar without end."""
    import networkx as nx

    order, nodes = list(nx.topological_sort(graph)), graph.nodes
    for id_ in order:
        start = max((nodes[before]["ef"] for before in graph.predecessors(id_)), default=0)
        nodes[id_]["es"], nodes[id_]["ef"] = start, start + nodes[id_]["duration"]
    end = max(nodes[id_]["ef"] for id_ in order)
    for id_ in reversed(order):
        finish = min((nodes[after]["ls"] for after in graph.successors(id_)), default=end)
        nodes[id_]["lf"], nodes[id_]["ls"] = finish, finish - nodes[id_]["duration"]
        nodes[id_]["float"] = nodes[id_]["ls"] - nodes[id_]["es"]
    return int(end)
