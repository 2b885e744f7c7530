"""`make check`: format, lint, types, templates, missing migrations, and the tests on SQLite."""

import os

import browser
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


def test_step(name: str, **environment: str) -> steps.Step:
    return steps.Step(name, steps.python("-m", "pytest", "-n", "2"), environment)


def main() -> None:
    environment = {**os.environ, "CHROMIUM": browser.found_or_installed()}
    every = [*tidy_steps(), test_step("tests on SQLite", DATABASE_URL="")]
    steps.end(steps.run_all(every, environment))


if __name__ == "__main__":
    main()
