"""Recording, approving and reopening. Source of the rules: docs of the project, design rules 4 and 5 of money (ours)."""

import json

import pytest

from budget.models import Agreement, LineItem, Movement, Quote
from budget.services import agreements, ledger, lines
from decisions.models import Approval, Decision, Record, RecordDeclined, Saving, SavingKind, Taking
from decisions.selectors.doings import doings
from decisions.services import drafts, records
from projects.append_only import WrittenOnce
from projects.faults import Refused, Stale
from projects.models import Project, Role, TrailEntry, User
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building


def likely(project: Project, code: str = "L0303") -> int:
    return LineItem.objects.get(project=project, code=code).likely_minor


def answer(record: Record, owner: User, verdict: str = "approved", note: str = "", today=TODAY) -> Approval:
    return records.approve(record, verdict=verdict, note=note, by=owner, role=Role.OWNER, now=NOW, today=today)


def test_recording_accepts_the_quote_and_moves_the_line(project: Project):
    decision = building.tank(project)
    assert likely(project) == 15_000_00  # of two quotes the lower middle
    made = building.record(decision, "A")
    line = LineItem.objects.get(code="L0303")
    assert (line.agreed_minor, line.likely_minor) == (20_000_00, 20_000_00)
    moved = Movement.objects.get(source="record", source_id=made.pk)
    assert (moved.cause, moved.amount_minor) == ("decision", 5_000_00)
    assert ledger.unreconciled(project) == []


def test_the_other_quotes_are_declined_and_named(project: Project):
    decision = building.tank(project)
    made = building.record(decision, "B")
    states = dict(Quote.objects.values_list("vendor__name", "state"))
    assert states == {"Quillstone": "declined", "Norrowby": "accepted"}
    assert [tie.quote.vendor.name for tie in RecordDeclined.objects.filter(record=made)] == ["Quillstone"]


def test_the_saving_is_measured_against_the_original_quote(project: Project):
    made = building.record(building.tank(project), "B")
    saving = Saving.objects.get(record=made)
    assert (saving.kind, saving.amount_minor) == (SavingKind.SAME_FOR_LESS, 5_000_00)
    results = json.loads(made.frozen)["results"]
    assert (results["saved_minor"], results["over_budget_minor"]) == (5_000_00, -1_000_00)


def test_a_price_talked_down_counts_in_both_yardsticks(project: Project):
    decision = building.tank(project)
    line = LineItem.objects.get(code="L0303")
    made = building.record(decision, "B", amounts={line.pk: 14_400_00})
    results = json.loads(made.frozen)["results"]
    assert (results["price_minor"], results["saved_minor"], likely(project)) == (14_400_00, 5_600_00, 14_400_00)


def test_a_dearer_option_is_an_extra(project: Project):
    made = building.record(building.tank(project, plinth=15_000, frame=18_000), "B")
    saving = Saving.objects.get(record=made)
    assert (saving.kind, saving.amount_minor) == (SavingKind.EXTRA, -3_000_00)


def test_a_named_scope_cut_is_taken_off_the_same_for_less(project: Project):
    cut = records.SavingDraft(SavingKind.SCOPE_CUT, 1_200_00, "no ladder")
    made = building.record(building.tank(project), "B", savings=(cut,))
    kinds = dict(Saving.objects.filter(record=made).values_list("kind", "amount_minor"))
    assert kinds == {SavingKind.SCOPE_CUT: 1_200_00, SavingKind.SAME_FOR_LESS: 3_800_00}


def test_kinds_that_do_not_add_up_are_refused(project: Project):
    same, cut = records.SavingDraft(SavingKind.SAME_FOR_LESS, 4_999_99), records.SavingDraft(SavingKind.SCOPE_CUT, 1)
    decision = building.tank(project)
    with pytest.raises(Refused) as fault:
        building.record(decision, "B", savings=(same,))
    assert fault.value.field == "savings"
    assert building.record(decision, "B", savings=(same, cut)).savings.count() == 2


def test_an_avoided_cost_is_recorded_and_never_summed(project: Project):
    avoided = records.SavingDraft(SavingKind.AVOIDED, 9_000_00, "breaking the slab")
    made = building.record(building.tank(project), "B", savings=(avoided,))
    kinds = dict(Saving.objects.filter(record=made).values_list("kind", "amount_minor"))
    assert kinds == {SavingKind.AVOIDED: 9_000_00, SavingKind.SAME_FOR_LESS: 5_000_00}


@pytest.mark.parametrize("draft", [(SavingKind.EFFECT, 5_000_00), (SavingKind.EXTRA, 5_000_00), ("gift", 5_000_00)])
def test_a_kind_that_cannot_be_chosen_or_has_the_wrong_sign_is_refused(project: Project, draft: tuple[str, int]):
    with pytest.raises(Refused, match="kind|below zero"):
        building.record(building.tank(project), "B", savings=(records.SavingDraft(*draft),))


def test_effects_move_other_lines_and_eat_the_saving(project: Project):
    design = builders.line(project, "L1401", budget=2_000)
    effect = drafts.EffectDraft(design.pk, 1_900_00, "extra design")
    made = building.record(building.tank(project, effects=(effect,)), "B")
    assert likely(project, "L1401") == 3_900_00
    assert Saving.objects.get(record=made, kind=SavingKind.EFFECT).amount_minor == -1_900_00
    assert json.loads(made.frozen)["results"]["commits_minor"] == 16_900_00


def test_what_is_spared_elsewhere_does_not_lower_what_is_committed(project: Project):
    other = builders.line(project, "L0503", budget=20_000)
    spared = drafts.EffectDraft(other.pk, -14_500_00, "no seams")
    made = building.record(building.tank(project, plinth=40_000, frame=30_000, effects=(spared,)), "B")
    assert (made.commits_minor, made.needs_approval) == (30_000_00, True)


def test_a_decision_without_a_reason_or_with_one_option_is_refused(project: Project):
    decision = building.tank(project)
    with pytest.raises(Refused) as fault:
        building.record(decision, "B", reason="  ")
    assert fault.value.field == "reason"
    drafts.withdraw_option(building.key(decision, "A"), by=builders.lead_of(project), now=NOW)
    with pytest.raises(Refused, match="two options"):
        building.record(decision, "B")
    assert not Record.objects.exists()


def test_a_failed_or_unanswered_check_bars_until_it_is_overruled(project: Project):
    decision = building.tank(project, checks=("Carries 1.3 x full load",), verdict="unknown")
    check = decision.must_passes.get()
    with pytest.raises(Refused) as fault:
        building.record(decision, "B")
    assert fault.value.field == f"overrule-{check.pk}"
    made = building.record(decision, "B", overruled={check.pk: "engineer's letter of 3 March"})
    overruled = json.loads(made.frozen)["choice"]["overruled"]
    assert overruled == [{"check": check.name, "verdict": "unknown", "reason": "engineer's letter of 3 March"}]


def test_above_the_limit_it_waits_and_moves_nothing(project: Project, owner: User):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    before = likely(project)
    made = building.record(decision, "B")
    assert made.needs_approval
    assert Decision.objects.get(pk=decision.pk).state == Decision.State.WAITING
    assert (likely(project), Agreement.objects.count(), Taking.objects.count()) == (before, 0, 0)


def test_at_the_limit_it_takes_effect_at_once(project: Project):
    made = building.record(building.tank(project, plinth=40_000, frame=25_000), "B")
    assert not made.needs_approval and Taking.objects.filter(record=made).exists()


def test_an_owner_approves_and_it_takes_effect(project: Project, owner: User):
    made = building.record(building.tank(project, plinth=40_000, frame=30_000), "B")
    answer(made, owner)
    assert likely(project) == 30_000_00
    assert Decision.objects.get().state == Decision.State.DECIDED
    assert TrailEntry.objects.filter(verb="approved", by=owner).exists()
    with pytest.raises(Refused, match="does not wait"):
        answer(made, owner)


def test_declining_needs_a_note_and_opens_the_decision_again(project: Project, owner: User):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    made = building.record(decision, "B")
    with pytest.raises(Refused) as fault:
        answer(made, owner, "declined")
    assert fault.value.field == "note"
    answer(made, owner, "declined", "ask for a second quote")
    assert Decision.objects.get().state == Decision.State.OPEN
    again = building.record(Decision.objects.get(), "B")
    assert again.number == 2


def test_a_role_whose_limit_is_lower_may_not_approve(project: Project):
    made = building.record(building.tank(project, plinth=40_000, frame=30_000), "B")
    lead = builders.lead_of(project)
    with pytest.raises(Refused, match="above what your role"):
        records.approve(made, verdict="approved", note="", by=lead, role=Role.LEAD, now=NOW, today=TODAY)


def test_a_price_that_moved_while_it_waited_is_not_approved(project: Project, owner: User):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    made = building.record(decision, "B")
    line = LineItem.objects.get(code="L0303")
    lines.set_scope(line, [("Grout", 700_00)], by=owner, now=NOW, today=TODAY)
    with pytest.raises(Refused, match="moved since it was recorded"):
        answer(made, owner)


def test_a_quote_that_ran_out_while_it_waited_cannot_be_approved(project: Project, owner: User):
    made = building.record(building.tank(project, plinth=40_000, frame=30_000), "B")
    with pytest.raises(Refused, match="ran out"):
        answer(made, owner, today=building.later(31))
    assert Decision.objects.get().state == Decision.State.WAITING


@pytest.mark.parametrize("frame", [15_000, 30_000])
def test_a_quote_that_ran_out_is_refused_whether_or_not_an_owner_is_needed(project: Project, frame: int):
    decision = building.tank(project, plinth=40_000, frame=frame)
    asked = building.as_lead(project) | {"today": building.later(31)}
    with pytest.raises(Refused, match="ran out"):
        records.record(decision, building.choose(decision, "B"), **asked)
    assert not Record.objects.exists()


def test_one_line_is_not_claimed_by_two_decisions(project: Project):
    first = building.tank(project)
    line = LineItem.objects.get(code="L0303")
    second = building.decision(project, line, title="Again")
    building.option(second, "One", building.priced(line, amount=1))
    building.option(second, "Two", building.priced(line, amount=2))
    building.record(first, "B")
    with pytest.raises(Refused, match="counted twice"):
        building.record(second, "A")


def test_an_estimate_does_not_settle_a_line_that_is_let(project: Project, owner: User):
    line = builders.line(project, "L0303")
    quote = builders.quote(line, 9_000)
    decision = building.decision(project, line)
    building.option(decision, "One", building.priced(line, amount=8_000))
    building.option(decision, "Two", building.priced(line, amount=8_500))
    agreements.accept_quote(quote, by=owner, role=Role.OWNER, now=NOW, today=TODAY)
    with pytest.raises(Refused, match="is let to Aridlow"):
        building.record(decision, "A")


def test_somebody_who_looked_at_an_older_version_is_told(project: Project):
    decision = building.tank(project)
    seen = decision.version
    line = LineItem.objects.get(code="L0303")
    building.option(decision, "Kerbs", building.priced(line, amount=14_000))
    with pytest.raises(Stale):
        records.record(decision, building.choose(decision, "B"), **building.as_lead(project), version=seen)


def test_reopening_reverses_everything_and_deletes_nothing(project: Project):
    design = builders.line(project, "L1401", budget=2_000)
    effect = drafts.EffectDraft(design.pk, 1_900_00, "extra design")
    decision = building.tank(project, effects=(effect,))
    before = (likely(project), likely(project, "L1401"), Movement.objects.count())
    building.record(decision, "B")
    records.reopen(decision, reason="the slab is out of level", by=builders.lead_of(project), now=NOW, today=TODAY)
    assert (likely(project), likely(project, "L1401")) == before[:2]
    assert Movement.objects.count() > before[2] and Agreement.objects.count() == 1
    assert set(Quote.objects.values_list("state", flat=True)) == {"open"}
    assert ledger.unreconciled(project) == []


def test_reopening_asks_why_and_only_once(project: Project):
    decision = building.tank(project)
    who = {"by": builders.lead_of(project), "now": NOW, "today": TODAY}
    with pytest.raises(Refused, match="nothing to take back"):
        records.reopen(decision, reason="x", **who)
    building.record(decision, "B")
    with pytest.raises(Refused) as fault:
        records.reopen(decision, reason=" ", **who)
    assert fault.value.field == "reason"


def test_a_waiting_record_is_taken_back_without_a_trace_in_the_ledger(project: Project):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    count = Movement.objects.count()
    building.record(decision, "B")
    records.reopen(decision, reason="second thoughts", by=builders.lead_of(project), now=NOW, today=TODAY)
    assert Movement.objects.count() == count and Decision.objects.get().state == Decision.State.OPEN


def test_a_rehearsal_tells_what_recording_then_does_and_leaves_nothing(project: Project):
    decision = building.tank(project)
    choice, who = building.choose(decision, "B"), building.as_lead(project)
    shown = records.rehearse(decision, choice, **who)
    assert not Record.objects.exists() and not Agreement.objects.exists()
    made = records.record(decision, choice, **who, seen=shown.seen)
    done = doings(made)
    assert (shown.doings.moved, shown.doings.savings, shown.doings.declined) == (
        done.moved,
        done.savings,
        done.declined,
    )
    assert [row.amount_minor for row in shown.doings.accepted] == [15_000_00]


def test_a_rehearsal_above_the_limit_shows_what_an_approval_would_do(project: Project, owner: User):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    shown = records.rehearse(decision, building.choose(decision, "B"), **building.as_lead(project))
    assert shown.waits and [row.amount_minor for row in shown.doings.accepted] == [30_000_00]
    assert not Record.objects.exists()


def test_what_was_shown_is_what_is_recorded_or_it_is_refused(project: Project, owner: User):
    decision = building.tank(project)
    choice, who = building.choose(decision, "B"), building.as_lead(project)
    shown = records.rehearse(decision, choice, **who)
    lines.set_scope(LineItem.objects.get(code="L0303"), [("Grout", 700_00)], by=owner, now=NOW, today=TODAY)
    with pytest.raises(Stale, match="moved since you saw"):
        records.record(decision, choice, **who, seen=shown.seen)


def test_a_record_is_never_written_again(project: Project):
    made = building.record(building.tank(project), "B")
    made.reason = "something else"
    with pytest.raises(WrittenOnce):
        made.save()
    with pytest.raises(WrittenOnce):
        Record.objects.filter(pk=made.pk).update(reason="x")


def test_an_effect_on_the_decisions_own_line_counts_against_its_budget(project: Project):
    """Deferring a purchase saves against the quote and ends over the budget: both are said."""
    decision = building.tank(project)
    line = LineItem.objects.get(code="L0303")
    later = drafts.EffectDraft(line.pk, 17_000_00, "bought after opening")
    building.option(decision, "Hire", building.priced(line, amount=4_000), effects=(later,))
    made = building.record(decision, "C")
    results = json.loads(made.frozen)["results"]
    assert (results["saved_minor"], results["over_budget_minor"]) == (16_000_00, 5_000_00)
    assert likely(project) - line.budget_minor == results["over_budget_minor"]
