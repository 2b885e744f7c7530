"""`make bench`: run every measurement in bench/ and hold each figure to its bound.

A file `bench/measure_*.py` has a function `measure()` that returns `Figure`s: what was measured, the figure, the
bound it may not pass, and a unit. Bounds are ratios against a reference taken in the same run, or counts and
megabytes; never seconds alone, for machines differ. Name files to run only those.
"""

import importlib
import os
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


def main() -> None:
    sys.path.insert(0, str(ROOT))
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    names = chosen(sys.argv[1:])
    if not names:
        sys.exit("Nothing in bench/ has that name.")
    failed = [name for name in names if not run(name)]
    print(f"\nOver the bound: {', '.join(failed)}" if failed else "\nEvery figure keeps its bound.")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
