"""`make check`: format, lint, types, templates, missing migrations, and the tests on SQLite."""

import os
from collections.abc import Sequence

import browser
import office
import steps


def tidy_steps() -> list[steps.Step]:
    """Everything but the tests. The floors are tests: tests/house."""
    python = steps.python
    return [
        steps.Step("format", python("-m", "ruff", "format", "--check", ".")),
        steps.Step("lint", python("-m", "ruff", "check", ".")),
        steps.Step("types", python("-m", "mypy")),
        steps.Step("templates", python("-m", "djlint", "templates", "--lint", "--quiet")),
        steps.Step("system check", python("-W", "error", "manage.py", "check", "--fail-level", "WARNING")),
        steps.Step("missing migrations", python("manage.py", "makemigrations", "--check", "--dry-run")),
    ]


def test_step(name: str, without: Sequence[str] = (), **environment: str) -> steps.Step:
    """Every test but those that bear one of the markers in `without`."""
    left_out = ["-m", " and ".join(f"not {marker}" for marker in without)] if without else []
    return steps.Step(name, steps.python("-m", "pytest", "-n", "2", *left_out), environment)


def programs() -> tuple[dict[str, str], list[str]]:
    """The programs that tests drive. Returns: the environment that names them, and the markers of tests that lack one."""
    environment = {**os.environ, "CHROMIUM": browser.found_or_installed()}
    sheets = office.found_or_installed()
    return ({**environment, "SOFFICE": sheets}, []) if sheets else (environment, ["office"])


def told(without: Sequence[str]) -> list[str]:
    """Say what was left out and how to mend it. Returns: what counts as failed: in CI everything that was not run."""
    if not without:
        return []
    print(f"\n== tests with a spreadsheet program: NOT RUN, none found; {office.HOW}")
    return ["tests with a spreadsheet program"] if os.environ.get("CI") == "true" else []


def main() -> None:
    environment, without = programs()
    every = [*tidy_steps(), test_step("tests on SQLite", without, DATABASE_URL="")]
    failed = steps.run_all(every, environment)
    steps.end(failed + told(without))


if __name__ == "__main__":
    main()
