"""Budget moved between lines: draws for changes, shifts, what a closed line gives back, and taking a move back.

Sums are worked by hand in the tests; the rules are the project's own (docs/adr/0106, 0125), after common practice.
"""

import pytest
from django.db import IntegrityError, transaction

from budget.models import Change, LineItem, Movement, Transfer
from budget.services import closing, transfers
from projects.faults import Refused
from projects.models import Project, Role, TrailEntry, User
from tests import builders
from tests.budget import reserving
from tests.budget.reserving import change, close, draw, let, likely, move, pot, who, whole
from tests.builders import NOW, TODAY

BEYOND = 10**18


@pytest.fixture
def project(lead: User) -> Project:
    return reserving.build(lead)


def test_a_draw_leaves_the_contingency_and_not_the_line_it_pays(project: Project, lead: User):
    """8,000 less 1,170 is 6,830; the line stands at 9,000 agreed and the change of 1,170."""
    line = let(project)
    draw(change(line, 1_170), lead)
    assert (likely(pot(project)), likely(line)) == (6_830, 10_170) and whole(project)
    row = Transfer.objects.get()
    assert (row.cause, row.need, row.approved_by_name, row.amount_minor) == ("draw", "unforeseen", "Lee Lead", 117_000)


def test_a_draw_is_a_movement_of_the_contingency_with_its_own_cause(project: Project, lead: User):
    draw(change(let(project), 1_170), lead)
    moved = Movement.objects.get(line=pot(project))
    assert (moved.cause, moved.amount_minor) == ("transfer", -117_000)


def test_an_owners_wish_never_draws(project: Project, lead: User):
    made = change(let(project), 500, reason=Change.Reason.WISH, paid_from=Change.Source.OWNER)
    with pytest.raises(Refused, match="wish is never paid from the contingency"):
        transfers.enter_draw(made, by=lead, now=NOW, on=TODAY)
    assert Transfer.objects.count() == 0


def test_the_database_itself_refuses_a_wish(project: Project, lead: User):
    line = let(project)
    with pytest.raises(IntegrityError), transaction.atomic():
        Transfer.objects.create(
            project=project, from_line=pot(project), to_line=line, amount_minor=1, cause="shift", need="owner's wish",
            reason="a spa", moved_on=TODAY, approved_by_name="x", entered_at=NOW,
        )  # fmt: skip


def test_the_last_money_may_be_drawn_and_not_a_penny_more(project: Project, lead: User):
    line = let(project)
    draw(change(line, 8_000), lead)
    assert likely(pot(project)) == 0 and whole(project)
    with pytest.raises(Refused, match="Only £0 is left of the contingency; choose who else pays"):
        transfers.enter_draw(change(line, 1, code="C02"), by=lead, now=NOW, on=TODAY)
    assert Transfer.objects.count() == 1


def test_a_build_without_contingency_says_so(lead: User):
    bare = reserving.build(lead, contingency=None)
    with pytest.raises(Refused, match="no contingency line to draw on"):
        transfers.enter_draw(change(let(bare), 10), by=lead, now=NOW, on=TODAY)


@pytest.mark.parametrize("amount", [0, -600])
def test_a_change_that_costs_nothing_draws_nothing(project: Project, lead: User, amount: int):
    assert transfers.enter_draw(change(let(project), amount), by=lead, now=NOW, on=TODAY) == set()


def test_the_reserve_of_the_trade_pays_first_and_the_common_one_the_rest(project: Project, lead: User):
    """A trade's own 1,000, then 500 of the common 8,000."""
    own = builders.line(project, "L0199", budget=1_000, kind=LineItem.Kind.CONTINGENCY)
    draw(change(let(project), 1_500), lead)
    assert (likely(own), likely(pot(project))) == (0, 7_500) and whole(project)


def test_what_is_undone_runs_the_other_way_once(project: Project, lead: User):
    line = let(project)
    made = change(line, 1_170)
    draw(made, lead)
    made.state = Change.State.PROPOSED
    made.save()
    assert transfers.enter_undo(made, by=lead, now=NOW, on=TODAY) == {pot(project).pk, line.pk}
    assert transfers.enter_undo(made, by=lead, now=NOW, on=TODAY) == set()
    back = Transfer.objects.get(reverses__isnull=False)
    assert (back.from_line, back.to_line, back.amount_minor) == (line, pot(project), 117_000)


def test_a_draw_may_follow_its_own_undoing(project: Project, lead: User):
    made = change(let(project), 1_170)
    draw(made, lead)
    transfers.enter_undo(made, by=lead, now=NOW, on=TODAY)
    draw(made, lead)
    assert likely(pot(project)) == 6_830 and Transfer.objects.count() == 3 and whole(project)


# --- Moved between lines --------------------------------------------------------------------------------------


def test_budget_moved_between_two_unquoted_lines_moves_both(project: Project, lead: User):
    first, second = builders.line(project, "L0101", budget=500), builders.line(project, "L0102", budget=700)
    move(project, first, second, 200, lead)
    assert (likely(first), likely(second)) == (300, 900) and whole(project)
    assert (reserving.fresh(first).budget_minor, Transfer.objects.get().need) == (50_000, "")


def test_a_line_gives_no_more_than_it_holds(project: Project, lead: User):
    first, second = builders.line(project, "L0101", budget=500), builders.line(project, "L0102")
    move(project, first, second, 200, lead)
    with pytest.raises(Refused, match="holds £300 of budget; move that much at most"):
        move(project, first, second, 301, lead)


@pytest.mark.parametrize("amount", [0, -5])
def test_nothing_and_less_than_nothing_is_refused(project: Project, lead: User, amount: int):
    with pytest.raises(Refused, match="above zero"):
        move(project, builders.line(project), builders.line(project, "L0102"), amount, lead)


def test_an_absurd_amount_is_refused(project: Project, lead: User):
    with pytest.raises(Refused, match="larger than any build"):
        move(project, builders.line(project), builders.line(project, "L0102"), BEYOND, lead)


def test_a_line_does_not_move_to_itself(project: Project, lead: User):
    line = builders.line(project)
    with pytest.raises(Refused, match="Choose another line"):
        move(project, line, line, 1, lead)


def test_a_line_of_another_build_is_not_there(project: Project, lead: User, outsider: User):
    theirs = builders.line(builders.project(outsider, name="Theirs"))
    with pytest.raises(Refused, match="no such line") as fault:
        move(project, pot(project), theirs, 1, lead)
    assert fault.value.field == "to_line"


def test_a_move_needs_a_reason(project: Project, lead: User):
    with pytest.raises(Refused, match="Say why"):
        move(project, pot(project), builders.line(project), 1, lead, reason="  ")


def test_what_leaves_the_contingency_needs_a_cause(project: Project, lead: User):
    with pytest.raises(Refused, match="needed for"):
        move(project, pot(project), builders.line(project), 1, lead, need="")


def test_a_wish_is_not_moved_out_of_the_contingency(project: Project, lead: User):
    with pytest.raises(Refused, match="never paid from the contingency"):
        move(project, pot(project), builders.line(project), 1, lead, need=Change.Reason.WISH)


def test_above_the_limit_the_lead_asks_an_owner(project: Project, lead: User, owner: User):
    line = builders.line(project)
    with pytest.raises(Refused, match="ask an owner"):
        move(project, pot(project), line, 2_001, lead)
    move(project, pot(project), line, 2_000, lead)
    move(project, pot(project), line, 3_000, owner, role=Role.OWNER)
    assert likely(pot(project)) == 3_000


def test_an_owner_does_not_move_the_work(project: Project, owner: User):
    with pytest.raises(Refused, match="Only the lead"):
        move(project, builders.line(project), builders.line(project, "L0102"), 1, owner, role=Role.OWNER)


def test_an_open_line_does_not_fill_the_pot(project: Project, lead: User):
    with pytest.raises(Refused, match="returns to the contingency when the line is closed"):
        move(project, let(project), pot(project), 500, lead)


def test_one_contingency_may_fill_another_without_a_cause(project: Project, lead: User):
    own = builders.line(project, "L0199", budget=1_000, kind=LineItem.Kind.CONTINGENCY)
    move(project, pot(project), own, 3_000, lead, need="")
    assert (likely(pot(project)), likely(own)) == (5_000, 4_000)


def test_the_trail_names_both_lines_and_the_sum(project: Project, lead: User):
    move(project, pot(project), builders.line(project), 1_500, lead)
    told = TrailEntry.objects.get(subject="transfer")
    assert told.summary == "Moved £1,500 from L9901 Contingency to L0101 Work L0101: the dig is deeper"


# --- Given back by a closed line ------------------------------------------------------------------------------


def give(line: LineItem, amount: int, by: User, **terms) -> Transfer:
    facts = {"amount_minor": amount * 100, "reason": "cheaper than thought"} | who(by)
    return transfers.give_back(line, **(facts | terms))


def test_an_open_line_gives_nothing_back(project: Project, lead: User):
    with pytest.raises(Refused, match="when its line is closed"):
        give(let(project), 100, lead)


def test_a_closed_line_gives_back_what_it_did_not_need(project: Project, lead: User):
    """Nothing was billed of a budget of 10,000: all of it may go back, and not a penny more."""
    line = close(let(project), lead)
    give(line, 10_000, lead)
    assert (likely(pot(project)), likely(line)) == (18_000, 0) and whole(project)
    with pytest.raises(Refused, match="has £0 to give back"):
        give(line, 1, lead)


def test_what_was_drawn_and_not_needed_goes_back_too(project: Project, lead: User):
    line = let(project)
    draw(change(line, 1_000), lead)
    give(close(line, lead), 11_000, lead)
    assert likely(pot(project)) == 8_000 - 1_000 + 11_000


def test_a_draw_is_not_undone_once_its_line_has_given_back(project: Project, lead: User):
    line = let(project)
    made = change(line, 1_000)
    draw(made, lead)
    give(close(line, lead), 500, lead)
    with pytest.raises(Refused, match="given budget back"):
        transfers.enter_undo(made, by=lead, now=NOW, on=TODAY)


def test_a_closed_line_neither_gives_nor_gets_by_a_plain_move(project: Project, lead: User):
    line, other = close(let(project), lead), builders.line(project, "L0102")
    with pytest.raises(Refused, match="goes back to the contingency"):
        move(project, line, other, 1, lead)
    with pytest.raises(Refused, match="reopen it first"):
        move(project, other, line, 1, lead)


# --- Taken back -----------------------------------------------------------------------------------------------


def take_back(row: Transfer, by: User, reason: str = "wrong line") -> Transfer:
    return transfers.take_back(row, reason=reason, **who(by))


def test_a_move_taken_back_leaves_all_as_before(project: Project, lead: User):
    line = builders.line(project)
    row = move(project, pot(project), line, 1_500, lead)
    take_back(row, lead)
    assert (likely(pot(project)), likely(line)) == (8_000, 10_000) and whole(project)
    with pytest.raises(Refused, match="taken back already"):
        take_back(row, lead)


def test_a_reversal_is_not_reversed(project: Project, lead: User):
    back = take_back(move(project, pot(project), builders.line(project), 5, lead), lead)
    with pytest.raises(Refused, match="taken back already"):
        take_back(back, lead)


def test_a_draw_is_taken_back_with_its_change_alone(project: Project, lead: User):
    draw(change(let(project), 1_000), lead)
    with pytest.raises(Refused, match="drawn for C01 Timber in the dig; take the change up again"):
        take_back(Transfer.objects.get(), lead)


def test_what_has_moved_on_is_not_taken_back(project: Project, lead: User):
    first, second = builders.line(project, "L0101", budget=0), builders.line(project, "L0102")
    row = move(project, pot(project), first, 1_000, lead)
    move(project, first, second, 900, lead)
    with pytest.raises(Refused, match="holds £100 of budget"):
        take_back(row, lead)


def test_what_was_given_back_is_taken_back_before_the_line_opens(project: Project, lead: User):
    line = close(let(project), lead)
    row = give(line, 4_000, lead)
    with pytest.raises(Refused, match="take that back first"):
        closing.reopen_line(line, reason="a late bill", **who(lead))
    take_back(row, lead)
    closing.reopen_line(line, reason="a late bill", **who(lead))
    assert (likely(pot(project)), likely(line)) == (8_000, 9_000) and whole(project)
