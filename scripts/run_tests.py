"""`make test`: everything that CI runs: the checks, then the tests on SQLite and on PostgreSQL.

PostgreSQL is the server named by DATABASE_URL_POSTGRES, else one started for this run alone. Where there is
neither, the second round is left out and said so; in CI (CI=true) that is a failure. The same goes for the tests that
drive a spreadsheet program.
"""

import contextlib
import os
import signal
import sys
from collections.abc import Iterator

import private_postgres
import run_checks
import steps


@contextlib.contextmanager
def postgres_url() -> Iterator[str]:
    """The address of a PostgreSQL server, or nothing when there is none to be had."""
    named = os.environ.get("DATABASE_URL_POSTGRES", "")
    if named:
        yield named
    elif private_postgres.programs() is None:
        yield ""
    else:
        with private_postgres.server() as url:
            yield url


def on_postgres(environment: dict[str, str], without: list[str]) -> list[str]:
    with postgres_url() as url:
        if url:
            step = run_checks.test_step("tests on PostgreSQL", without, DATABASE_URL=url)
            return steps.run_all([step], environment)
    print("\n== tests on PostgreSQL: NOT RUN, no server found (Debian: sudo apt-get install postgresql)")
    return ["tests on PostgreSQL"] if os.environ.get("CI") == "true" else []


def main() -> None:
    # Told to end, it still stops the server that it started.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))
    environment, without = run_checks.programs()
    first = [*run_checks.tidy_steps(), run_checks.test_step("tests on SQLite", without, DATABASE_URL="")]
    failed = steps.run_all(first, environment) + on_postgres(environment, without)
    steps.end(failed + run_checks.told(without))


if __name__ == "__main__":
    main()
