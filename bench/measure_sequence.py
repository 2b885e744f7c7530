"""The Sequence page of 1,500 activities, and a change that moves every date, on SQLite and on PostgreSQL."""

from bench import measure_money
from bench.figures import Figure


def measure() -> list[Figure]:
    with measure_money.databases() as found:
        return [figure for name, address in found for figure in measure_money.on(name, address, "sequence_pages")]
