"""What changed since the last report leads from its likely final to that of today, to the cent, whatever happened."""

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from budget.models import LineItem
from budget.services import lines
from projects.models import Project
from reports.selectors import issued, owners
from reports.services import issuing
from tests import builders
from tests.builders import NOW, TODAY

MOVES = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 9_999_999)), max_size=6)


def since(project: Project) -> dict:
    return owners.content(project, on=TODAY, last=issued.last_report(project))["since"]


class WhateverMoves(TestCase):
    @settings(max_examples=25)
    @given(before=MOVES, after=MOVES)
    def test_the_steps_add_up(self, before: list[tuple[int, int]], after: list[tuple[int, int]]) -> None:
        lead = builders.person("lead")
        project = builders.project(lead)
        every = [builders.line(project, f"L{number}") for number in range(4)]

        def move(steps: list[tuple[int, int]]) -> None:
            for which, amount in steps:
                lines.forecast_own(every[which], amount_minor=amount, reason="seen", by=lead, now=NOW, today=TODAY)

        move(before)
        then = issuing.issue(project, note="", by=lead, now=NOW, today=TODAY).likely_minor
        move(after)
        told, now = since(project), sum(line.likely_minor for line in LineItem.objects.filter(project=project))
        assert (told["then"], told["now"]) == (then, now)
        assert then + sum(step["amount"] for step in told["steps"]) == now
        for step in told["steps"]:
            assert sum(entry["amount"] for entry in step["entries"]) + step["more_minor"] == step["amount"]


def test_a_line_that_came_with_a_budget_is_a_step_of_its_own(project: Project) -> None:
    builders.line(project, "L1", budget=10_000)
    issuing.issue(project, note="", by=builders.lead_of(project), now=NOW, today=TODAY)
    builders.line(project, "L2", budget=4_000)
    (step,) = since(project)["steps"]
    assert (step["amount"], step["running"], step["entries"]) == (400_000, 1_400_000, [])
