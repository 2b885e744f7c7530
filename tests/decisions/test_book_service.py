"""Own entries of the savings book: what may be entered, how far it goes, and what is refused as counted twice."""

from datetime import timedelta
from typing import Any

import pytest

from budget.models import Agreement, LineItem
from budget.services import agreements, lines
from decisions.models import BookEntry, Decision, SavingKind
from decisions.selectors import savings
from decisions.services import book
from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import book_building as building
from tests.decisions import building as decisions


def refused(deed: Any, *words: str, field: str = "") -> str:
    """The message of a refusal; nothing was written."""
    rows = BookEntry.objects.count(), TrailEntry.objects.count()
    with pytest.raises(Refused) as fault:
        deed()
    assert (BookEntry.objects.count(), TrailEntry.objects.count()) == rows
    assert fault.value.field == field and all(word in fault.value.message for word in words), fault.value.message
    return fault.value.message


def bought(project: Project) -> int:
    return savings.book(project).counted_minor


def test_a_line_let_without_a_decision_bears_an_own_entry(project: Project):
    made = building.enter(building.let(project), 3_000, how="better quote")
    assert (made.kind, made.state, made.how) == ("same for less", "decided", "better quote")
    assert bought(project) == 3_000_00
    noted = TrailEntry.objects.filter(project=project, subject="saving").get()
    assert (noted.verb, noted.subject_id) == ("entered", made.pk)
    assert noted.summary == "Entered into the savings book: L0102 Second maker"


def test_two_entries_share_what_the_line_saved(project: Project):
    line = building.let(project, agreed=16_500)
    building.enter(line, 3_000)
    building.enter(line, 500, what="Talked down", how="negotiated")
    assert bought(project) == 3_500_00


def test_an_entry_never_passes_what_the_line_saved(project: Project):
    line = building.let(project)
    refused(
        lambda: building.enter(line, 3_001),
        "£3,001 would be counted twice", "original quote of £20,000", "price of £17,000", "£3,000 of the difference is not",
        field="amount",
    )  # fmt: skip


def test_what_is_left_is_what_nobody_has_claimed(project: Project):
    line = building.let(project)
    building.enter(line, 2_000)
    refused(lambda: building.enter(line, 1_001, what="More"), "£1,000 of the difference", field="amount")
    assert building.enter(line, 1_000, what="More").amount_minor == 1_000_00


def test_gaps_and_what_is_still_to_let_are_part_of_the_price(project: Project):
    other = builders.line(project, budget=18_000)
    builders.quote(other, 20_000, vendor="Quillstone")
    second = builders.quote(other, 15_000, vendor="Norrowby")
    terms = agreements.Terms(still_to_let={other.pk: 1_200_00})
    agreements.accept_quote(second, role="owner", terms=terms, **building.who(project))
    refused(lambda: building.enter(other, 3_801), "price of £16,200", "£3,800", field="amount")
    assert building.enter(other, 3_800).amount_minor == 3_800_00


@pytest.mark.parametrize("kind", [kind for kind in book.KINDS if kind not in (SavingKind.AVOIDED, SavingKind.EXTRA)])
def test_every_kind_shares_out_the_same_difference(project: Project, kind: str):
    line = building.let(project)
    building.enter(line, 2_000)
    refused(lambda: building.enter(line, 1_001, kind=kind, what="Other"), field="amount")
    assert building.enter(line, 1_000, kind=kind, what="Other").kind == kind


def test_a_cost_avoided_is_recorded_and_never_summed(project: Project):
    line = builders.line(project)
    building.enter(line, 9_000, kind="avoided", what="Breaking the slab")
    seen = savings.book(project)
    assert (seen.counted_minor, seen.net_minor, seen.beside[0].amount_minor) == (0, 0, 9_000_00)


def test_an_extra_is_below_zero_and_only_where_the_line_was_let_above_its_original(project: Project):
    dear = building.let(project, second=21_000)
    refused(lambda: building.enter(dear, 500, kind="extra"), "below zero", field="amount")
    refused(lambda: building.enter(dear, -1_001, kind="extra"), "−£1,000 of the difference", field="amount")
    building.enter(dear, -1_000, kind="extra")
    cheap = building.let(project, "L0103")
    refused(lambda: building.enter(cheap, -1, kind="extra"), field="amount")
    assert (bought(project), savings.book(project).net_minor) == (0, -1_000_00)


def test_a_line_that_is_not_let_has_ideas_only(project: Project):
    line = builders.line(project)
    builders.quote(line, 9_000)
    refused(lambda: building.enter(line, 100), "is not let yet", field="state")
    idea = building.enter(line, 0, state="idea")
    priced = building.advance(idea, "priced", amount_minor=100_00)
    refused(lambda: building.advance(priced, "decided"), "is not let yet", field="state")
    assert bought(project) == 0


def test_a_line_without_an_original_quote_saves_nothing(project: Project):
    line = building.let(project)
    LineItem.objects.filter(pk=line.pk).update(original_minor=None)
    line.refresh_from_db()
    refused(lambda: building.enter(line, 100), "no original quote", field="line")


def test_an_idea_becomes_priced_and_decided_and_only_then_counts(project: Project):
    line = building.let(project)
    idea = building.enter(line, 0, state="idea")
    priced = building.advance(idea, "priced", amount_minor=2_500_00, note="by telephone")
    assert (bought(project), priced.follows_id, priced.amount_minor) == (0, idea.pk, 2_500_00)
    decided = building.advance(priced, "decided")
    assert (bought(project), decided.amount_minor, decided.what) == (2_500_00, 2_500_00, idea.what)
    assert BookEntry.objects.count() == 3


def test_going_further_is_held_to_what_is_left(project: Project):
    line = building.let(project)
    idea = building.enter(line, 2_000, state="priced", what="Other maker")
    building.enter(line, 1_500)
    refused(lambda: building.advance(idea, "decided"), "£1,500 of the difference", field="amount")
    assert building.advance(idea, "decided", amount_minor=1_500_00).state == "decided"


def test_an_entry_never_goes_back_and_never_nowhere(project: Project):
    priced = building.enter(building.let(project), 100, state="priced")
    refused(lambda: building.advance(priced, "idea"), "never back", field="state")
    refused(lambda: building.advance(priced, "priced"), "Nothing would change", field="state")
    refused(lambda: building.advance(priced, "banked"), "never back", field="state")
    decided = building.advance(priced, "decided")
    refused(lambda: building.advance(decided, "decided", amount_minor=1), "It is decided", field="state")


def test_who_comes_second_is_told(project: Project):
    idea = building.enter(building.let(project), 100, state="priced")
    building.advance(idea, "decided")
    for late in (lambda: building.advance(idea, "decided"), lambda: building.take_back(idea)):
        with pytest.raises(Stale, match="in the meantime"):
            late()
    assert BookEntry.objects.count() == 2


def test_what_is_taken_back_counts_no_more_and_stays_readable(project: Project):
    made = building.enter(building.let(project))
    gone = building.take_back(made, "entered on the wrong line")
    assert (gone.amount_minor, gone.reverses_id, gone.note) == (-3_000_00, made.pk, "entered on the wrong line")
    assert bought(project) == 0 and BookEntry.objects.count() == 2
    with pytest.raises(Stale):
        building.take_back(made)
    assert building.enter(made.line).amount_minor == 3_000_00  # free to be claimed again


def test_taking_back_asks_why(project: Project):
    made = building.enter(building.let(project))
    refused(lambda: building.take_back(made, "  "), "Say why", field="reason")


def test_a_follower_is_taken_back_whole(project: Project):
    decided = building.advance(building.enter(building.let(project), 100, state="priced"), "decided")
    building.take_back(decided)
    assert bought(project) == 0 and book.book_entries.standing_own(project).count() == 0


# --- Decisions ------------------------------------------------------------------------------------------------


def test_a_decision_has_claimed_all_that_its_line_saved(project: Project):
    decisions.record(decisions.tank(project), "B")
    line = LineItem.objects.select_related("project").get(code="L0303")
    refused(lambda: building.enter(line, 1), "£0 of the difference", field="amount")
    assert bought(project) == 5_000_00


def test_an_idea_of_a_decision_is_entered_once_and_never_decided_here(project: Project):
    decision = decisions.tank(project)
    line = LineItem.objects.select_related("project").get(code="L0303")
    idea = building.enter(line, 0, kind="deferral", state="idea", decision_id=decision.pk, what="Hire it")
    twin = {"kind": "deferral", "state": "priced", "what": "hire IT"}
    refused(lambda: building.enter(line, 5, **twin), "stands in the book", field="what")
    words = {"decision_id": decision.pk, "what": "Hire another"}
    refused(lambda: building.enter(line, 5, state="decided", **words), "D01", field="decision")
    priced = building.advance(idea, "priced", amount_minor=100_00)
    refused(lambda: building.advance(priced, "decided"), "stands in its record", field="decision")


def test_an_idea_leaves_the_book_once_its_decision_is_taken_and_comes_back_with_it(project: Project):
    decision = decisions.tank(project)
    line = LineItem.objects.select_related("project").get(code="L0303")
    building.enter(line, 0, state="idea", decision_id=decision.pk)
    decisions.record(decision, "B")
    assert [entry.own for entry in book.book_entries.read(project).entries] == [None]
    decisions.records.reopen(decision, reason="again", **building.who(project))
    assert [entry.what for entry in book.book_entries.read(project).entries] == ["Second maker"]


def test_a_decision_is_refused_while_an_own_entry_claims_its_line(project: Project):
    decision = decisions.tank(project)
    line = LineItem.objects.select_related("project").get(code="L0303")
    quote = line.quote_lines.order_by("-pk")[0].quote
    accepted = agreements.accept_quote(quote, role="owner", **building.who(project))
    entry = building.enter(line, 5_000)
    agreements.reverse_agreement(accepted, reason="put to a decision", **building.who(project))
    with pytest.raises(Refused, match="would count it twice"):
        decisions.record(decision, "B")
    assert Decision.objects.get(pk=decision.pk).state == Decision.State.OPEN
    building.take_back(entry)
    decisions.record(decision, "B")
    assert bought(project) == 5_000_00


def test_an_entry_waits_when_its_line_is_no_longer_let(project: Project):
    line = building.let(project)
    building.enter(line)
    agreements.reverse_agreement(Agreement.objects.get(), reason="broke off", **building.who(project))
    (entry,) = book.book_entries.read(project).entries
    assert entry.is_idea and not entry.counted and bought(project) == 0


# --- Hostile ----------------------------------------------------------------------------------------------------

BAD: dict[str, tuple[dict[str, Any], str]] = {
    "an unknown kind": ({"kind": "gift"}, "kind"),
    "a kind that decisions enter": ({"kind": "effect"}, "kind"),
    "an unknown state": ({"state": "banked"}, "state"),
    "an unknown way": ({"how": "luck"}, "how"),
    "no words": ({"what": "   "}, "what"),
    "too many words": ({"what": "x" * 201}, "what"),
    "nothing": ({"amount_minor": 0}, "amount"),
    "priced at nothing": ({"amount_minor": 0, "state": "priced"}, "amount"),
    "below zero": ({"amount_minor": -1}, "amount"),
    "larger than any build": ({"amount_minor": 10**18}, "amount"),
    "no line": ({"line_id": 0}, "line"),
    "no decision": ({"decision_id": 10**9}, "decision"),
}


@pytest.mark.parametrize("name", BAD)
def test_nonsense_is_refused_at_its_field(name: str, project: Project):
    line = building.let(project)
    changes, field = BAD[name]
    refused(lambda: building.enter(line, **changes), field=field)


def test_lines_and_decisions_of_another_build_are_not_there(project: Project, outsider: Any):
    other = Project.objects.exclude(pk=project.pk).get()
    theirs = builders.line(other, "X1")
    foreign = builders.decision(theirs)
    line = building.let(project)
    for changes, field in (
        ({"line_id": theirs.pk}, "line"),
        ({"decision_id": foreign.pk, "state": "idea"}, "decision"),
    ):
        refused(lambda changes=changes: building.enter(line, **changes), field=field)


def test_a_day_to_come_is_refused(project: Project):
    line = building.let(project)
    tomorrow = TODAY + timedelta(days=1)
    refused(
        lambda: book.add_entry(project, building.draft(line), on=tomorrow, **building.who(project)), field="on"
    )  # fmt: skip


def test_a_removed_line_takes_its_ideas_with_it(project: Project):
    line = builders.line(project)
    building.enter(line, 0, state="idea")
    deed = lines.Deed(builders.lead_of(project), NOW, TODAY, "scope")
    lines.take_off(project, [line], deed=deed)
    assert book.book_entries.read(project).entries == ()
    refused(lambda: building.enter(line, 0, state="idea", what="More"), field="line")
