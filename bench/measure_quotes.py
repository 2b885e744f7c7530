"""10,000 quotes from a sheet brought in, levelled and settled, on SQLite and on PostgreSQL: told without a target.

The cells are read beforehand, which `measure_import` measures; that they are checked once more is part of bringing them in.
What was written is proved afterwards.
"""

import json
import os
import subprocess
import sys
import tempfile

from bench.figures import Figure
from bench.measure_money import ROOT, databases


def _on(name: str, address: str) -> Figure:
    with tempfile.TemporaryDirectory() as var:
        env = {**os.environ, "DATABASE_URL": address, "BATTERBOARD_VAR": var}
        command = [sys.executable, "-m", "bench.bring_in_quotes"]
        done = subprocess.run(command, cwd=ROOT, env=env, stdout=subprocess.PIPE, text=True, check=True)
    found = json.loads(done.stdout.splitlines()[-1])
    return Figure(f"{name}: 10,000 quotes brought in", found["seconds"], "s")


def measure() -> list[Figure]:
    with databases() as found:
        return [_on(name, address) for name, address in found]
