"""The pages of the savings book: what they tell, to whom, and what they refuse."""

import re

import pytest
from django.test import Client

from budget.models import LineItem
from decisions.models import BookEntry
from projects.models import Project, User
from tests import builders
from tests.budget import changing
from tests.decisions import book_building as building
from tests.decisions import building as decisions

ROLES = ("lead", "owner", "bookkeeper", "viewer")


def at(project: Project, rest: str = "") -> str:
    return f"/p/{project.slug}/money/savings/{rest}"


def words(response) -> str:
    """What a reader reads: no tags, single spaces."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", response.content.decode(), flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def sentence(response) -> str:
    (heading,) = re.findall(r"<h1[^>]*>(.*?)</h1>", response.content.decode(), flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", heading)).strip()


@pytest.fixture
def as_lead(project: Project, lead: User) -> Client:
    return builders.signed_in(lead)


@pytest.fixture
def line(project: Project) -> LineItem:
    return building.let(project)


def entry(line: LineItem, /, **more: str) -> dict[str, str]:
    facts = {
        "line": line.code,
        "what": "Second maker",
        "kind": "same for less",
        "how": "better quote",
        "amount": "3,000",
    }
    return facts | {"state": "decided"} | more


# --- The book -------------------------------------------------------------------------------------------------


def test_an_empty_book_says_what_comes_into_it(project: Project, as_lead: Client):
    shown = as_lead.get(at(project))
    assert sentence(shown) == "Nothing has been saved against the original quotes yet."
    assert "Note an idea" in words(shown) and "The proof" not in words(shown)


def test_the_sentence_says_saved_come_true_and_eaten(project: Project, as_lead: Client, line: LineItem):
    building.enter(line)
    builders.approved(line, 8_500, vendor="Norrowby")
    changing.raised(line, 800, agree=True)
    shown = as_lead.get(at(project))
    told = "£3,000 was saved against the original quotes; £1,500 of it has come true; £800 ate into it."
    assert sentence(shown) == told
    assert "+£800 scope gap: C01 Isolation valves" not in words(shown)  # what eats is below zero here
    assert "−£800 scope gap: C01 Isolation valves" in words(shown)


def test_a_book_of_overages_alone_does_not_call_anything_saved(project: Project, as_lead: Client):
    line = building.let(project, second=20_000)
    changing.raised(line, 800, agree=True)
    shown = as_lead.get(at(project))
    assert sentence(shown) == "Nothing was saved against the original quotes, and £800 came on top of them."


@pytest.mark.parametrize("role", ROLES)
def test_every_member_reads_the_book_and_the_lead_alone_writes(
    role: str, project: Project, line: LineItem, request: pytest.FixtureRequest
):
    building.enter(line, 1_000)
    building.enter(line, 0, state="idea", what="Third maker")
    shown = words(builders.signed_in(request.getfixturevalue(role)).get(at(project)))
    assert "Second maker" in shown and "Third maker" in shown
    deeds = ("Enter a saving", "Take further", "take back", "Enter it")
    assert [deed for deed in deeds if deed in shown] == (list(deeds) if role == "lead" else [])


def test_an_outsider_finds_nothing(project: Project, line: LineItem, outsider: User):
    made = building.enter(line)
    client = builders.signed_in(outsider)
    for rest in ("", "new/", f"{made.pk}/further/", f"{made.pk}/take-back/", f"{made.pk}/undo/"):
        assert client.get(at(project, rest)).status_code == client.post(at(project, rest)).status_code == 404


def test_what_is_left_unexplained_is_said_with_a_way_to_enter_it(project: Project, as_lead: Client, line: LineItem):
    building.enter(line, 2_500)
    shown = as_lead.get(at(project))
    assert "0 of 1 are explained to the cent" in words(shown)
    assert "L0102 Work L0102 : £500.00 is left unexplained: saved, and not in the book yet." in words(shown)
    form = as_lead.get(at(project, f"new/?line={line.pk}"))
    assert 'value="L0102"' in form.content.decode()


def test_a_proof_that_holds_is_said_to_hold(project: Project, as_lead: Client, line: LineItem):
    building.enter(line)
    assert "The one line that is let is explained to the cent" in words(as_lead.get(at(project)))


def test_what_never_counts_stands_beside_and_in_no_sum(project: Project, as_lead: Client, line: LineItem):
    building.enter(line, 9_000, kind="avoided", what="Breaking the slab")
    shown = words(as_lead.get(at(project)))
    assert "Beside it, and never added" in shown and "£9,000.00" in shown
    assert "By decision and line" not in shown


def test_a_decision_stands_in_the_book_with_its_address(project: Project, as_lead: Client):
    decision = decisions.tank(project)
    decisions.record(decision, "B")
    shown = as_lead.get(at(project))
    assert f'href="/p/{project.slug}/choices/{decision.pk}/"' in shown.content.decode()
    assert "D01 How to carry the tank" in words(shown)
    assert f'href="{at(project)}"' in as_lead.get(f"/p/{project.slug}/choices/").content.decode()


def test_words_of_people_stay_words(project: Project, as_lead: Client, line: LineItem):
    building.enter(line, what="<script>alert(1)</script>", note="<b>")
    page = as_lead.get(at(project)).content.decode()
    assert "<script>alert(1)" not in page and "&lt;script&gt;alert(1)" in page


# --- Entering ---------------------------------------------------------------------------------------------------


def test_the_lead_enters_a_saving_and_may_undo_it(project: Project, as_lead: Client, line: LineItem):
    answer = as_lead.post(at(project, "new/"), entry(line), follow=True)
    assert "“Second maker” stands in the savings book." in words(answer)
    made = BookEntry.objects.get()
    assert (made.amount_minor, made.how, made.entered_by) == (3_000_00, "better quote", builders.lead_of(project))
    undone = as_lead.post(at(project, f"{made.pk}/undo/"), follow=True)
    assert "out of the savings book" in words(undone) and BookEntry.objects.filter(reverses=made).exists()
    again = as_lead.post(at(project, f"{made.pk}/undo/"), follow=True)
    assert "in the meantime" in words(again) and BookEntry.objects.count() == 2


def test_an_undo_is_posted(project: Project, as_lead: Client, line: LineItem):
    made = building.enter(line)
    assert as_lead.get(at(project, f"{made.pk}/undo/")).status_code == 405


def test_a_claim_too_many_is_said_at_the_amount_and_nothing_typed_is_lost(
    project: Project, as_lead: Client, line: LineItem
):
    answer = as_lead.post(at(project, "new/"), entry(line, amount="3,000.01"))
    assert answer.status_code == 422 and BookEntry.objects.count() == 0
    assert "£3,000.01 would be counted twice" in words(answer) and 'value="3,000.01"' in answer.content.decode()


def test_an_idea_goes_further_and_is_taken_back(project: Project, as_lead: Client, line: LineItem):
    as_lead.post(at(project, "new/"), entry(line, state="idea", amount=""))
    idea = BookEntry.objects.get()
    form = as_lead.get(at(project, f"{idea.pk}/further/"))
    assert "How far is “Second maker”?" in sentence(form)
    as_lead.post(at(project, f"{idea.pk}/further/"), {"state": "decided", "amount": "2,500"})
    decided = BookEntry.objects.get(follows=idea)
    assert (decided.state, decided.amount_minor) == ("decided", 2_500_00)
    late = as_lead.post(at(project, f"{idea.pk}/further/"), {"state": "priced", "amount": "1"})
    assert late.status_code == 422 and "in the meantime" in words(late)
    refused = as_lead.post(at(project, f"{decided.pk}/take-back/"), {"reason": ""})
    assert refused.status_code == 422
    as_lead.post(at(project, f"{decided.pk}/take-back/"), {"reason": "the maker is gone"})
    assert BookEntry.objects.get(reverses=decided).note == "the maker is gone"


def test_an_idea_may_name_an_open_decision_and_no_other(project: Project, as_lead: Client, line: LineItem):
    decision = builders.decision(builders.line(project, "L2"))
    form = as_lead.get(at(project, "new/?state=idea"))
    assert f'value="{decision.pk}"' in form.content.decode()
    as_lead.post(at(project, "new/"), entry(line, state="idea", amount="", decision=str(decision.pk)))
    assert BookEntry.objects.get().decision == decision
    wrong = as_lead.post(at(project, "new/"), entry(line, state="idea", what="Else", decision="999999"))
    assert wrong.status_code == 422


@pytest.mark.parametrize("role", ["owner", "bookkeeper", "viewer"])
def test_nobody_else_writes(role: str, project: Project, line: LineItem, request: pytest.FixtureRequest):
    made = building.enter(line, 1_000)
    client = builders.signed_in(request.getfixturevalue(role))
    for rest in ("new/", f"{made.pk}/further/", f"{made.pk}/take-back/", f"{made.pk}/undo/"):
        assert client.get(at(project, rest)).status_code == 403
        assert client.post(at(project, rest), entry(line, reason="x")).status_code == 403
    assert BookEntry.objects.count() == 1


def test_entries_of_another_build_are_not_there(project: Project, as_lead: Client, outsider: User):
    other = Project.objects.exclude(pk=project.pk).get()
    theirs = building.enter(building.let(other))
    for rest in (f"{theirs.pk}/further/", f"{theirs.pk}/take-back/", f"{theirs.pk}/undo/"):
        assert as_lead.post(at(project, rest), {"reason": "x", "state": "decided"}).status_code == 404


BAD = {
    "a line that is not there": {"line": "L9"},
    "no line": {"line": ""},
    "no words": {"what": ""},
    "words without end": {"what": "x" * 5_000},
    "an unknown kind": {"kind": "effect"},
    "an unknown state": {"state": "banked"},
    "an unknown way": {"how": "luck"},
    "no number": {"amount": "three thousand"},
    "a number without end": {"amount": "9" * 400},
    "more than any build": {"amount": "99999999999999"},
    "below zero": {"amount": "-5"},
    "a decision that is no number": {"decision": "D01"},
    "a NUL": {"what": "a\x00b"},
}


@pytest.mark.parametrize("name", BAD)
def test_nonsense_is_refused_and_said(name: str, project: Project, as_lead: Client, line: LineItem):
    answer = as_lead.post(at(project, "new/"), entry(line, **BAD[name]))
    assert answer.status_code == 422 and BookEntry.objects.count() == 0
    assert 'aria-invalid="true"' in answer.content.decode()


@pytest.mark.parametrize("query", ["?line=x", "?line=999999999999999999999", "?state=banked&line="])
def test_nonsense_in_the_address_is_taken_for_nothing(query: str, project: Project, as_lead: Client, line: LineItem):
    assert as_lead.get(at(project, f"new/{query}")).status_code == 200


def test_a_form_without_its_token_is_turned_away(project: Project, lead: User, line: LineItem):
    client = Client(enforce_csrf_checks=True)
    client.force_login(lead, backend="django.contrib.auth.backends.ModelBackend")
    assert client.post(at(project, "new/"), entry(line)).status_code == 403 and BookEntry.objects.count() == 0
