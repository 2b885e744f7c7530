"""The critical path of 1,000 activities with calendars and all kinds of link, against a graph library's plain pass.

The reference knows neither calendars nor lags nor any link but finish to start, and its graph is ready before the clock
starts. A network is compiled once for many solutions (what-ifs compile anew); both are told.
"""

import gc
import math
import time
from collections.abc import Callable, Mapping
from functools import partial
from typing import TypeVar

from bench.figures import Figure, faster
from bench.networks import as_graph, made, plain_pass

K = TypeVar("K")
ROUNDS = 15
#: The goal: at most a fifth of the plain pass.
TIMES = 5.0
#: With the way there from values, and all free floats.
TIMES_WITH_FREE, TIMES_FROM_VALUES = 2.5, 0.2
SMALL, LARGE = 1_000, 20_000
#: From one size to the other the time grows as their ratio to this power at most.
POWER = 1.15


def _seconds(deed: Callable[[], object]) -> float:
    start = time.process_time()
    deed()
    return time.process_time() - start


def _by_turns(deeds: Mapping[K, Callable[[], object]], rounds: int, again: int) -> dict[K, float]:
    """The best time of each, some at a time in turns, so that a busy moment of the machine falls on all."""
    best = dict.fromkeys(deeds, math.inf)
    for _round in range(rounds):
        for name, deed in deeds.items():
            best[name] = min(best[name], *(_seconds(deed) for _again in range(again)))
    return best


def measure() -> list[Figure]:
    from schedule.calc import network as engine

    plans = {size: made(size) for size in (SMALL, LARGE)}
    compiled = {size: engine.compile(plan) for size, plan in plans.items()}
    for ready in compiled.values():
        engine.solve(ready)
    graph, links = as_graph(plans[SMALL]), sum(len(activity.after) for activity in plans[SMALL].activities)

    def with_free() -> object:
        return engine.solve(compiled[SMALL]).free_floats

    gc.collect()
    gc.disable()
    best = _by_turns(
        {
            "solve": lambda: engine.solve(compiled[SMALL]),
            "free": with_free,
            "values": lambda: engine.solve_network(plans[SMALL]),
            "plain": lambda: plain_pass(graph),
        },
        ROUNDS,
        again=3,
    )
    # One at a time, so that neither size finds its values in the processor's cache: they fit there for the small one only.
    grown = _by_turns({size: partial(engine.solve, ready) for size, ready in compiled.items()}, ROUNDS, again=1)
    gc.enable()
    power = math.log(grown[LARGE] / grown[SMALL]) / math.log(LARGE / SMALL)
    name, against = f"critical path, {SMALL:,} activities, {links:,} links", "networkx, finish to start, no calendars"
    return [
        faster(name, best["solve"], best["plain"], against, at_least=TIMES),
        faster("  and its free floats", best["free"], best["plain"], against, at_least=TIMES_WITH_FREE),
        faster("  compiled from values as well", best["values"], best["plain"], against, at_least=TIMES_FROM_VALUES),
        Figure(
            f"growth to {LARGE:,} activities",
            power,
            "power",
            at_most=POWER,
            against=f"{grown[SMALL] * 1000:.1f} ms and {grown[LARGE] * 1000:.1f} ms",
        ),
    ]
