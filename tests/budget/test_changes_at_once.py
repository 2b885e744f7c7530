"""Two people at one change, one gap or one agreement at the same moment: one is done, the other is told."""

import pytest

from budget.models import AgreementReversal, Change
from budget.services import agreements, changes
from projects.models import Project, Role, User
from tests.budget import changing
from tests.budget.changing import agree, gap_on, let_with_gap, raised
from tests.budget.reserving import let, likely, who, whole
from tests.budget.test_two_at_once import as_when_it_runs, at_once  # noqa: F401  (the first is a fixture for all)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def build(lead: User) -> Project:
    return changing.build(lead)


def again(made: Change) -> Change:
    return Change.objects.select_related("project", "line").get(pk=made.pk)


def test_a_change_is_answered_once(build: Project, lead: User) -> None:
    made = raised(let(build), 700)
    done, told = at_once(lambda: agree(again(made), lead), lambda: changes.decline(again(made), note="no", **who(lead)))
    assert len(done) == len(told) == 1 and "already" in told[0]
    assert made.steps.count() == 2 and whole(build)


def test_a_gap_is_priced_once(build: Project, lead: User) -> None:
    line = let_with_gap(build, agreed=9_000, gap=1_260)
    gap = gap_on(line)
    done, told = at_once(*(lambda n=n: raised(line, 900, title=f"Valves {n}", gap_id=gap.pk) for n in (1, 2)))
    assert len(done) == 1 and "prices this already" in told[0]
    assert likely(line) == 9_900 and whole(build)


def test_two_written_down_at_once_have_two_numbers(build: Project, lead: User) -> None:
    line = let(build)
    done, told = at_once(*(lambda n=n: raised(line, 100, title=f"Change {n}") for n in (1, 2)))
    assert told == [] and sorted(row.code for row in done) == ["C01", "C02"] and whole(build)


def test_a_change_and_taking_the_agreement_back_do_not_pass_each_other(build: Project, lead: User) -> None:
    line = let(build)
    standing = line.agreement_lines.get().agreement
    done, told = at_once(
        lambda: raised(line, 100, role=Role.LEAD),
        lambda: agreements.reverse_agreement(standing, reason="crew not free", **who(lead)),
    )
    assert len(done) == len(told) == 1 and whole(build)
    assert Change.objects.count() + AgreementReversal.objects.count() == 1
