"""The page of the contingency and what is done from it and from a line's page, by each of the five who may knock."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from budget.models import Change, LineItem, Risk, Transfer
from budget.services import closing, transfers
from projects.models import Project, User
from tests import builders
from tests.budget import reserving
from tests.budget.reserving import change, close, draw, let, likely, move, pot, who
from tests.budget.test_closing_service import bill
from tests.budget.test_risks_service import add
from tests.builders import signed_in


def address(name: str, project: Project, *args: int) -> str:
    return reverse(f"budget:{name}", args=[project.slug, *args])


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def project(lead: User) -> Project:
    return reserving.build(lead, cost_of_day=900)


@pytest.fixture
def client(lead: User) -> Client:
    return signed_in(lead)


def page(client: Client, project: Project) -> str:
    return words(client.get(address("reserve", project)))


# --- The page -------------------------------------------------------------------------------------------------


def test_an_untouched_pot_with_nothing_open(client: Client, project: Project):
    seen = page(client, project)
    assert "£8,000 is left of £8,000, and nothing is open against it." in seen
    assert "Nothing has been drawn." in seen and "No risk is on the register." in seen


def test_the_sentence_says_the_cover_and_the_signal(client: Client, project: Project, lead: User):
    """8,000 less 1,000 over half of 10,000 is 1.4: amber; over half of 16,000 it is 0.87: red."""
    draw(change(let(project), 1_000), lead)
    risk = add(project, lead, chance=Decimal("0.5"), cost_minor=10_000_00, days=0)
    assert "£7,000 is left of £8,000; it covers what is open 1.4 times: amber." in page(client, project)
    assert "Amber means under 1.5 times what is open" in page(client, project)
    Risk.objects.filter(pk=risk.pk).update(cost_minor=16_000_00)
    seen = page(client, project)
    assert "0.87 times: red." in seen and "Red means less than what is open" in seen


def test_enough_is_said_in_a_word_too(client: Client, project: Project, lead: User):
    add(project, lead, chance=Decimal("0.1"), cost_minor=10_000_00, days=0)
    seen = page(client, project)
    assert "8 times: enough." in seen and '<span class="word word--saved">enough</span>' in seen


def test_a_draw_tells_its_change_cause_approver_and_sum(client: Client, project: Project, lead: User):
    draw(change(let(project), 1_170), lead)
    seen = page(client, project)
    for told in ("C01 Timber in the dig", "unforeseen condition", "Lee Lead", "£1,170.00", "L0101 Work L0101"):
        assert told in seen


def test_wishes_stand_beside_the_pot(client: Client, project: Project):
    change(let(project), 940, reason=Change.Reason.WISH, paid_from=Change.Source.OWNER, title="A bench")
    seen = page(client, project)
    assert "wishes come to £940, of which £940 is agreed" in seen and "C01 A bench" in seen


def test_of_very_many_lines_the_farthest_are_shown_and_all_count(client: Client, project: Project):
    """Sixty lines of 1,000 may each go up by 250: 15,000 together."""
    builders.trade(project)
    for number in range(60):
        builders.line(project, f"L{number:04d}", budget=1_000)
    seen = page(client, project)
    assert "60 lines, together up to £15,000 more" in seen and "The 50 that may go farthest, of 60" in seen
    assert seen.count("£250.00") == 50


def test_a_build_without_contingency_still_keeps_its_risks(lead: User, client: Client):
    bare = reserving.build(lead, contingency=None)
    add(bare, lead, what="Frost")
    move(bare, builders.line(bare, "L0101"), builders.line(bare, "L0102"), 100, lead)
    seen = page(client, bare)
    assert "No money is set aside on this build." in seen and "R01 Frost" in seen
    assert "£100 from L0101 Work L0101 to L0102 Work L0102" in seen


def test_a_name_with_marks_is_shown_as_it_is(client: Client, project: Project, lead: User):
    add(project, lead, what="<b>Frost</b> & rain")
    assert "&lt;b&gt;Frost&lt;/b&gt; &amp; rain" in page(client, project)


@pytest.mark.parametrize("name", ["lead", "owner", "bookkeeper", "viewer"])
def test_every_member_reads_it_and_sees_only_what_they_may_do(request, project: Project, lead: User, name: str):
    add(project, lead)
    user = request.getfixturevalue(name)
    answer = signed_in(user).get(address("reserve", project))
    assert answer.status_code == 200
    assert ("Move budget" in words(answer)) is (name in {"lead", "owner"})
    assert ("Add a risk" in words(answer)) is (name == "lead")


def doors(project: Project) -> list[str]:
    return [
        address("move_budget", project),
        address("take_back_move", project, Transfer.objects.get().pk),
        address("add_risk", project),
        address("edit_risk", project, Risk.objects.get().pk),
        address("close_risk", project, Risk.objects.get().pk),
        *(
            address(name, project, LineItem.objects.get(code="L0101").pk)
            for name in ("close_line", "reopen_line", "give_back")
        ),
    ]


@pytest.mark.parametrize(
    ("name", "answer"), [("lead", 200), ("owner", 403), ("bookkeeper", 403), ("viewer", 403), ("outsider", 404)]
)
def test_who_may_open_what(request, project: Project, lead: User, name: str, answer: int):
    """An owner moves what leaves the contingency, and nothing else."""
    user = request.getfixturevalue(name)
    move(project, pot(project), builders.line(project, "L0102"), 10, lead)
    add(project, lead)
    close(let(project), lead)
    first, *others = [signed_in(user).get(path).status_code for path in doors(project)]
    assert first == (200 if name == "owner" else answer) and set(others) == {answer}


# --- Moving budget --------------------------------------------------------------------------------------------


def asked(source: LineItem, target: LineItem, amount: str, **more: str) -> dict[str, object]:
    asked_for = {
        "from_line": source.pk,
        "to_line": target.pk,
        "amount": amount,
        "need": "none",
        "reason": "a deeper dig",
    }
    return asked_for | more


def test_the_lead_moves_budget_and_takes_it_back_at_once(client: Client, project: Project):
    line = builders.line(project)
    path = address("move_budget", project)
    answer = client.post(path, asked(pot(project), line, "£1,500", need="unforeseen"), follow=True)
    assert "Moved £1,500 of budget from L9901 Contingency to L0101 Work L0101." in words(answer)
    undo = address("undo_move", project, Transfer.objects.get().pk)
    assert undo in words(answer)
    assert "The budget is back with L9901 Contingency." in words(client.post(undo, follow=True))
    assert likely(pot(project)) == 8_000
    assert "taken back already" in words(client.post(undo, follow=True))


def test_between_lines_of_work_nothing_is_asked_about_a_need(client: Client, project: Project):
    first, second = builders.line(project, "L0101"), builders.line(project, "L0102")
    client.post(address("move_budget", project), asked(first, second, "100"))
    assert (likely(first), likely(second), Transfer.objects.get().need) == (9_900, 10_100, "")


def test_what_leaves_the_contingency_without_a_cause_is_refused_at_its_field(client: Client, project: Project):
    answer = client.post(address("move_budget", project), asked(pot(project), builders.line(project), "100"))
    assert answer.status_code == 422 and "Say what the money is needed for" in words(answer)


def test_a_line_over_its_budget_is_one_tap_from_a_move(client: Client, project: Project):
    line = let(project, budget=8_000, agreed=9_000)
    seen = page(client, project)
    assert "1 line over its budget as moved" in seen and "+£1,000.00" in seen
    path = address("move_budget", project) + f"?to={line.pk}"
    assert path in seen and f'value="{line.pk}" selected' in words(client.get(path))


def test_the_limit_is_told_before_anything_is_typed(client: Client, project: Project):
    assert "your role may move up to £2,000 at a time" in words(client.get(address("move_budget", project)))


def test_what_is_refused_is_told_at_its_field_and_nothing_typed_is_lost(client: Client, project: Project):
    line = builders.line(project)
    answer = client.post(address("move_budget", project), asked(pot(project), line, "2,500", need="unforeseen"))
    assert answer.status_code == 422 and "ask an owner to move it" in words(answer)
    assert 'value="2,500"' in words(answer) and "a deeper dig" in words(answer) and Transfer.objects.count() == 0


@pytest.mark.parametrize(
    "changes",
    [
        {"need": "owner's wish"}, {"amount": "NaN"}, {"amount": "1e9"}, {"amount": "-5"}, {"amount": "9" * 40}, {"reason": ""},
        {"from_line": "0"}, {"to_line": "x"}, {"to_line": "9" * 30}, {"reason": "x" * 301}, {"reason": "a\x00b"},
    ],
)  # fmt: skip
def test_hostile_moves_are_answered_in_words(client: Client, project: Project, changes: dict[str, str]):
    data = asked(pot(project), builders.line(project), "5", need="unforeseen") | changes
    answer = client.post(address("move_budget", project), data)
    assert answer.status_code == 422 and Transfer.objects.count() == 0


def test_an_owner_moves_more_than_the_lead_may(project: Project, owner: User):
    line = builders.line(project)
    client = signed_in(owner)
    client.post(address("move_budget", project), asked(pot(project), line, "5,000", need="unforeseen"))
    row = Transfer.objects.get()
    assert (row.amount_minor, row.approved_by_name) == (500_000, "Olu Owner")


def test_an_owner_is_offered_the_contingency_alone(project: Project, owner: User):
    first, second = builders.line(project, "L0101"), builders.line(project, "L0102")
    answer = signed_in(owner).post(address("move_budget", project), asked(first, second, "5"))
    assert answer.status_code == 422 and Transfer.objects.count() == 0


def test_a_move_is_taken_back_with_a_reason(client: Client, project: Project, lead: User):
    row = move(project, pot(project), builders.line(project), 10, lead)
    path = address("take_back_move", project, row.pk)
    assert "Take back the £10 that went from L9901 Contingency to L0101 Work L0101?" in words(client.get(path))
    assert client.post(path, {"reason": ""}).status_code == 422
    client.post(path, {"reason": "wrong line"})
    assert "wrong line" in page(client, project) and "1 move that was taken back" in page(client, project)


# --- Risks ----------------------------------------------------------------------------------------------------

LEAK = {
    "what": "Leak",
    "chance": "4",
    "cost": "24,000",
    "days": "9",
    "owner": "Site lead",
    "response": "Test",
    "line": "",
}


def test_a_risk_is_added_and_counts(client: Client, project: Project):
    """4 % of 24,000 and nine days at 900: 1,284."""
    client.post(address("add_risk", project), LEAK)
    assert "R01 Leak" in page(client, project) and "£1,284.00" in page(client, project)


def test_days_may_be_left_out(client: Client, project: Project):
    client.post(address("add_risk", project), LEAK | {"days": ""})
    assert Risk.objects.get().days == 0


@pytest.mark.parametrize(
    "changes",
    [
        {"chance": "101"},
        {"chance": "NaN"},
        {"cost": "-1"},
        {"days": "-1"},
        {"days": "99999"},
        {"what": ""},
        {"line": "77"},
    ],
)
def test_a_hostile_risk_is_answered_in_words(client: Client, project: Project, changes: dict[str, str]):
    assert client.post(address("add_risk", project), LEAK | changes).status_code == 422
    assert Risk.objects.count() == 0


def test_two_who_edit_one_risk_see_each_other(client: Client, project: Project, lead: User):
    risk = add(project, lead, owner="Nobody")
    path = address("edit_risk", project, risk.pk)
    client.post(path, LEAK | {"version": "1"})
    answer = client.post(path, LEAK | {"version": "1", "owner": "Me"})
    assert answer.status_code == 422 and "now stands</span> Site lead" in words(answer)
    client.post(path, LEAK | {"version": "2", "owner": "Me"})
    risk.refresh_from_db()
    assert (risk.owner, risk.version) == ("Me", 3)


def test_a_risk_that_happened_leaves_the_open_ones(client: Client, project: Project, lead: User):
    risk, made = add(project, lead), change(let(project), 500)
    data = {"state": "happened", "change": made.pk, "note": "it leaked", "version": "1"}
    client.post(address("close_risk", project, risk.pk), data)
    seen = page(client, project)
    assert "1 risk that happened or passed" in seen and "became" in seen and "No risk is on the register" in seen


# --- Closing a line -------------------------------------------------------------------------------------------


def test_a_line_is_closed_from_its_page_and_opened_at_once(client: Client, project: Project):
    line = let(project)
    bill(line, 9_000)
    path = address("close_line", project, line.pk)
    assert path in words(client.get(address("line", project, line.pk)))
    assert "Close L0101 Work L0101 at £9,000?" in words(client.get(path)) and "All of it was billed" in words(
        client.get(path)
    )
    data = {"closed_on": "2027-01-29", "note": "", "version": reserving.fresh(line).version}
    answer = words(client.post(path, data, follow=True))
    assert "L0101 Work L0101 is closed at £9,000." in answer and "Closed on Fri 29 Jan 2027 at £9,000." in answer
    client.post(address("undo_close_line", project, line.pk))
    assert reserving.fresh(line).state == "invoiced"


def test_what_was_never_billed_is_told_and_has_to_be_explained(client: Client, project: Project):
    line = let(project)
    bill(line, 8_600)
    path = address("close_line", project, line.pk)
    assert "£400 of it was never billed" in words(client.get(path))
    data = {"closed_on": "2027-01-29", "note": "", "version": reserving.fresh(line).version}
    assert client.post(path, data).status_code == 422
    assert client.post(path, data | {"note": "agreed with them"}).status_code == 302


def test_what_keeps_a_line_open_is_named_and_no_button_offered(client: Client, project: Project):
    line = let(project)
    bill(line, 8_600, state="queried", number="A-17")
    seen = words(client.get(address("close_line", project, line.pk)))
    assert "is not ready to be closed" in seen and "A-17" in seen and "Close the line</button>" not in seen


def test_a_closed_line_gives_back_what_it_did_not_need(client: Client, project: Project, lead: User):
    line = let(project)
    bill(line, 9_000)
    close(line, lead)
    path = address("give_back", project, line.pk)
    assert "£1,000 of its budget as moved was not needed" in words(client.get(address("line", project, line.pk)))
    assert 'value="1000.00"' in words(client.get(path))
    client.post(path, {"amount": "1,000", "reason": "cheaper"})
    assert likely(pot(project)) == 9_000
    assert client.post(path, {"amount": "1", "reason": "again"}).status_code == 422


def test_which_contingency_is_asked_where_there_are_several(client: Client, project: Project, lead: User):
    own = builders.line(project, "L0199", budget=0, kind=LineItem.Kind.CONTINGENCY)
    line = close(let(project), lead)
    path = address("give_back", project, line.pk)
    assert "To which contingency" in words(client.get(path))
    client.post(path, {"amount": "100", "reason": "cheaper", "to_line": own.pk})
    assert likely(own) == 100


def test_a_closed_line_is_opened_again_with_a_reason(client: Client, project: Project, lead: User):
    line = close(let(project), lead)
    path = address("reopen_line", project, line.pk)
    assert client.post(path, {"reason": ""}).status_code == 422
    client.post(path, {"reason": "a late bill"})
    assert reserving.fresh(line).closed_on is None


def test_undoing_what_is_not_so_any_more_is_refused_in_words(client: Client, project: Project, lead: User):
    line = close(let(project), lead)
    row = transfers.give_back(line, amount_minor=100, reason="cheaper", **who(lead))
    undo = address("undo_close_line", project, line.pk)
    assert "take that back first" in words(client.post(undo, follow=True))
    transfers.take_back(row, reason="slip", **who(lead))
    closing.reopen_line(line, reason="late", **who(lead))
    assert "is open." in words(client.post(undo, follow=True))


def test_an_undo_is_never_a_link_to_follow(client: Client, project: Project, lead: User):
    line = close(let(project), lead)
    row = move(project, pot(project), builders.line(project, "L0102"), 10, lead)
    assert client.get(address("undo_close_line", project, line.pk)).status_code == 405
    assert client.get(address("undo_move", project, row.pk)).status_code == 405


def test_money_set_aside_is_not_under_budget_on_its_own_page(client: Client, project: Project, lead: User):
    draw(change(let(project), 1_000), lead)
    seen = words(client.get(address("line", project, pot(project).pk)))
    assert "£7,000 is left of the £8,000 set aside as L9901 Contingency." in seen and "under budget" not in seen
    assert address("reserve", project) in seen
