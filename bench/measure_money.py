"""Money of 2,000 lines, 10,000 quotes and 300 decisions, on SQLite and on PostgreSQL.

The reference is taken in the same run on the same rows: the figures asked for one object at a time, and a page that
shows every row through a Django template.
"""

import contextlib
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from bench.figures import Figure

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "scripts"))


@contextlib.contextmanager
def databases() -> Iterator[list[tuple[str, str]]]:
    """(name, address) of each database at hand; PostgreSQL is a private server for this run."""
    import private_postgres

    with tempfile.TemporaryDirectory() as var, contextlib.ExitStack() as stack:
        found = [("SQLite", f"sqlite:///{var}/bench.sqlite3")]
        if private_postgres.programs() is not None:
            found.append(("PostgreSQL", stack.enter_context(private_postgres.server())))
        else:
            print("  PostgreSQL is not installed here; measured on SQLite alone")
        yield found


def on(name: str, address: str, pages: str = "money_pages") -> list[Figure]:
    with tempfile.TemporaryDirectory() as var:
        env = {**os.environ, "DATABASE_URL": address, "BATTERBOARD_VAR": var, "ALLOWED_HOSTS": "testserver"}
        done = subprocess.run(
            [sys.executable, "-m", f"bench.{pages}"],
            cwd=ROOT,
            env=env,
            stdout=subprocess.PIPE,
            text=True,
            check=True,
        )
    rows = json.loads(done.stdout.splitlines()[-1])
    return [Figure(**row | {"name": f"{name}: {row['name']}"}) for row in rows]


def measure() -> list[Figure]:
    with databases() as found:
        return [figure for name, address in found for figure in on(name, address)]
