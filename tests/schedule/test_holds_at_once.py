"""Two people at one hold point at the same moment: one is done, the other is told."""

import pytest

from projects.models import Project, User
from schedule.models import HoldPoint, Signature
from schedule.services import holds, proofs
from tests.budget.test_two_at_once import as_when_it_runs, at_once  # noqa: F401  (the first is a fixture for all)
from tests.schedule import holding
from tests.schedule.holding import hold_on, prove, released, sign, state, who

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def build(lead: User, project: Project) -> Project:
    return holding.build(project)


def again(hold: HoldPoint) -> HoldPoint:
    return HoldPoint.objects.select_related("project").get(pk=hold.pk)


def test_a_signature_is_taken_back_once(build: Project) -> None:
    hold = released(hold_on(build))
    given = hold.signatures.get(role="Engineer")

    def take_back() -> Signature:
        row = Signature.objects.select_related("hold__project").get(pk=given.pk)
        return proofs.take_back_signature(row, reason="wrong sheet", **who(build))

    done, told = at_once(take_back, take_back)
    assert len(done) == len(told) == 1 and "taken back already" in told[0]
    assert Signature.objects.filter(reverses=given).count() == 1


def test_a_hold_point_saved_by_two_is_saved_by_one(build: Project) -> None:
    hold = hold_on(build)
    draft = holds.draft_of(hold)
    done, told = at_once(*(lambda: holds.change(again(hold), draft, version=1, **who(build)) for _ in (1, 2)))
    assert len(done) == len(told) == 1 and "Somebody has changed this hold point" in told[0]


def test_two_added_at_once_have_two_numbers(build: Project) -> None:
    done, told = at_once(*(lambda: hold_on(build, code="") for _ in (1, 2)))
    assert told == [] and sorted(row.code for row in done) == ["H01", "H02"]


def test_a_signature_and_a_failure_at_once_never_release(build: Project) -> None:
    """Whichever comes first: a failure after the signature opens, a signature after the failure does not count."""
    hold = hold_on(build, signers=("Engineer",), checks=("Cover",))
    prove(hold, "Cover")
    at_once(lambda: sign(again(hold), "Engineer"), lambda: prove(again(hold), "Cover", passes=False, value="10 mm"))
    assert state(hold) == "failed"
