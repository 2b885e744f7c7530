"""Two people at the last money of the contingency, or at one line, at the same moment: one is done, the other told."""

import pytest

from budget.models import Change, LineItem, Risk, Transfer
from budget.services import changes, closing, risks, transfers
from projects.models import Project, Role, User
from tests.budget import reserving
from tests.budget.reserving import change, close, let, likely, move, pot, who, whole
from tests.budget.test_risks_service import add, draft
from tests.budget.test_two_at_once import as_when_it_runs, at_once  # noqa: F401  (the first is a fixture for all)

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def build(lead: User) -> Project:
    """1,000 is set aside."""
    return reserving.build(lead, contingency=1_000)


def test_the_last_money_is_drawn_once(build: Project, lead: User) -> None:
    line = let(build)
    asked = [change(line, 700, code=code, state=Change.State.PROPOSED) for code in ("C01", "C02")]

    def agree(made: Change) -> Change:
        return changes.agree(Change.objects.get(pk=made.pk), note="yes", role=Role.OWNER, **who(lead))

    done, told = at_once(*(lambda c=c: agree(c) for c in asked))
    assert len(done) == 1 and "Only £300 is left of the contingency" in told[0]
    assert (likely(pot(build)), Transfer.objects.count()) == (300, 1)
    assert Change.objects.filter(state=Change.State.AGREED).count() == 1


def test_a_draw_and_a_move_do_not_overdraw_together(build: Project, lead: User) -> None:
    line, aside = let(build), pot(build)
    made = change(line, 700, state=Change.State.PROPOSED)
    done, told = at_once(
        lambda: changes.agree(Change.objects.get(pk=made.pk), note="yes", role=Role.OWNER, **who(lead)),
        lambda: move(build, aside, line, 600, lead),
    )
    assert len(done) == len(told) == 1 and likely(aside) in {300, 400}


def test_a_move_is_taken_back_once(build: Project, lead: User) -> None:
    row = move(build, pot(build), let(build), 500, lead)
    done, told = at_once(*[lambda: transfers.take_back(row, reason="slip", **who(lead))] * 2)
    assert len(done) == 1 and told == ["This move was taken back already."]
    assert likely(pot(build)) == 1_000 and whole(build)


def test_a_saving_is_given_back_once(build: Project, lead: User) -> None:
    line = close(let(build, budget=800, agreed=700), lead)

    def give() -> Transfer:
        return transfers.give_back(line, amount_minor=80_000, reason="not needed", **who(lead))

    done, told = at_once(give, give)
    assert len(done) == 1 and "has £0 to give back" in told[0]
    assert likely(pot(build)) == 1_800 and whole(build)


def test_a_line_is_closed_once(build: Project, lead: User) -> None:
    line = let(build)

    def shut() -> LineItem:
        return closing.close_line(LineItem.objects.get(pk=line.pk), note="agreed", **who(lead))

    done, told = at_once(shut, shut)
    assert len(done) == 1 and told == ["L0101 Work L0101 is closed already."] and whole(build)


def test_one_risk_is_edited_once_from_one_reading(build: Project, lead: User) -> None:
    risk = add(build, lead)
    done, told = at_once(*(lambda d=d: risks.edit_risk(risk, draft(days=d), version=1, **who(lead)) for d in (3, 5)))
    assert len(done) == 1 and "Somebody else saved this risk" in told[0] and Risk.objects.get().version == 2


def test_two_risks_get_two_codes(build: Project, lead: User) -> None:
    done, _told = at_once(*[lambda: add(build, lead)] * 2)
    assert {row.code for row in done} == {"R01", "R02"}
