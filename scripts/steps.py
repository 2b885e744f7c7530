"""Run commands one after another, say how each ended, and stop counting nothing: every failure is told."""

import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


@dataclass(frozen=True, slots=True)
class Step:
    name: str
    command: Sequence[str]
    env: Mapping[str, str] = field(default_factory=dict)


def python(*arguments: str) -> list[str]:
    return [sys.executable, *arguments]


def run(step: Step, environment: Mapping[str, str]) -> bool:
    print(f"\n== {step.name}", flush=True)
    began = time.monotonic()
    code = subprocess.call(list(step.command), cwd=ROOT, env={**environment, **step.env})
    print(
        f"== {step.name}: {'passed' if code == 0 else f'FAILED ({code})'} in {time.monotonic() - began:.0f} s",
        flush=True,
    )
    return code == 0


def run_all(steps: Sequence[Step], environment: Mapping[str, str]) -> list[str]:
    """Run every step, also after a failure. Returns: the names of those that failed."""
    return [step.name for step in steps if not run(step, environment)]


def end(failed: Sequence[str]) -> None:
    """Say the outcome in one line and end with it."""
    print(f"\nFailed: {', '.join(failed)}" if failed else "\nEverything passed.", flush=True)
    sys.exit(1 if failed else 0)
