"""`make bench`: run every measurement in bench/ and hold each figure to its bound.

A file `bench/measure_*.py` has a function `measure()` that returns `Figure`s: what was measured, the figure, the
bound it may not pass, and a unit. Bounds are ratios against a reference taken in the same run, or counts and
megabytes; never seconds alone, for machines differ. Name files to run only those.
"""

import importlib
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def chosen(names: list[str]) -> list[str]:
    every = sorted(path.stem for path in (ROOT / "bench").glob("measure_*.py"))
    return [name for name in every if not names or name.removeprefix("measure_") in names]


def run(name: str) -> bool:
    """Measure one file and print its rows. Returns: whether all of them keep their bound."""
    print(f"\n{name.removeprefix('measure_')}", flush=True)
    figures = importlib.import_module(f"bench.{name}").measure()
    for figure in figures:
        print(figure.as_row(), flush=True)
    return all(figure.is_kept for figure in figures)


def run_apart(name: str) -> bool:
    command = [sys.executable, __file__, name.removeprefix("measure_")]
    return subprocess.run(command, cwd=ROOT, env={**os.environ, "BENCH_PART": "1"}).returncode == 0


def main() -> None:
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    names = chosen(sys.argv[1:])
    if not names:
        sys.exit("Nothing in bench/ has that name.")
    # Each file in a process of its own: what one has loaded is not charged to the next.
    failed = [name for name in names if not (run(name) if len(names) == 1 else run_apart(name))]
    if not os.environ.get("BENCH_PART"):
        print(f"\nMissed its target: {', '.join(failed)}" if failed else "\nEvery figure keeps its target.")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
