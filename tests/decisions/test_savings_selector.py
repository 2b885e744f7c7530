"""The savings book as it is read: what each source brings, what comes true, and the proof of every line."""

from decimal import Decimal

import pytest

from budget.models import Change, KnockOn, LineItem
from budget.services import changes, closing, invoices, rates
from decisions.models import Saving, SavingKind
from decisions.selectors import book_entries, savings, savings_page, savings_proofs
from decisions.services import drafts, records
from projects.models import ExchangeRate, Project, Role
from tests import builders
from tests.budget import changing
from tests.builders import NOW, TODAY
from tests.decisions import book_building as building
from tests.decisions import building as decisions


def sums(project: Project) -> dict[str, int]:
    """{kind: whole major units} of everything that is no idea."""
    found: dict[str, int] = {}
    for entry in book_entries.read(project).standing:
        found[entry.kind] = found.get(entry.kind, 0) + entry.amount_minor // 100
    return found


def holds(project: Project) -> bool:
    """Every line is explained to the cent, and there is one to explain."""
    return bool(savings_proofs.proofs(project)) and savings_proofs.unproved(project) == []


def fresh(line: LineItem) -> LineItem:
    return LineItem.objects.select_related("project").get(pk=line.pk)


def change(line: LineItem, amount: int, **facts) -> Change:
    return changing.raised(line, amount, agree=True, role=Role.OWNER, **facts)


def with_effect(project: Project, amount: int = 1_900) -> LineItem:
    """D01 costs the engineer's line more; that line is let."""
    engineer = fresh(builders.line(project, "L1401", budget=6_000))
    builders.let(engineer, 5_000, vendor="Keel")
    effect = drafts.EffectDraft(engineer.pk, amount * 100, "extra design")
    decisions.record(decisions.tank(project, effects=(effect,)), "B")
    return fresh(engineer)


# --- What each source brings ------------------------------------------------------------------------------------


def test_a_decision_brings_its_kinds_once(project: Project):
    cut = records.SavingDraft(SavingKind.SCOPE_CUT, 1_200_00, "no ladder")
    avoided = records.SavingDraft(SavingKind.AVOIDED, 9_000_00, "breaking the slab")
    decisions.record(decisions.tank(project), "B", savings=(cut, avoided))
    assert sums(project) == {"same for less": 3_800, "scope cut": 1_200, "avoided": 9_000}
    seen = savings.book(project)
    assert (seen.counted_minor, seen.net_minor, seen.by_decisions_minor) == (3_800_00, 5_000_00, 3_800_00)
    assert holds(project)


def test_waiting_declined_and_reopened_decisions_bring_nothing(project: Project, owner):
    decision = decisions.tank(project, plinth=40_000, frame=30_000)
    waiting = decisions.record(decision, "B")
    assert Saving.objects.exists() and sums(project) == {}
    records.approve(waiting, verdict="approved", note="", by=owner, role=Role.OWNER, now=NOW, today=TODAY)
    assert sums(project) == {"same for less": 10_000}
    records.reopen(decision, reason="again", **building.who(project))
    assert sums(project) == {}


def test_an_effect_eats_until_a_change_takes_it_up_and_is_never_counted_with_it(project: Project):
    engineer = with_effect(project)
    assert sums(project) == {"same for less": 5_000, "effect": -1_900} and holds(project)
    taken_up = changing.raised(engineer, 2_000, knock_on_id=KnockOn.objects.get().pk, paid_from="saving")
    assert sums(project) == {"same for less": 5_000} and holds(project)
    changes.agree(taken_up, note="", role=Role.OWNER, **building.who(project))
    assert sums(project) == {"same for less": 5_000, "overage": -2_000} and holds(project)
    (row,) = savings_page.savings_page(project).rows
    assert (row.decision.code, row.promised_minor, row.eaten_minor, row.left_minor) == ("D01", 5_000_00, -2_000_00, 3_000_00)  # fmt: skip


def test_the_effects_of_a_record_are_its_knock_ons(project: Project):
    with_effect(project)
    frozen = Saving.objects.get(kind=SavingKind.EFFECT).amount_minor
    read = [entry.amount_minor for entry in book_entries.read(project).entries if entry.kind == SavingKind.EFFECT]
    assert sum(read) == frozen == -1_900_00


@pytest.mark.parametrize(
    ("amount", "facts", "kind"),
    [
        (500, {"reason": "unforeseen", "paid_from": "contingency"}, "overage"),
        (500, {"reason": "site error", "paid_from": "back-charge"}, "overage"),
        (500, {"reason": "owner's wish", "paid_from": "owner"}, "addition"),
        (-500, {"reason": "scope cut", "paid_from": "credit"}, "scope cut"),
        (-500, {"reason": "owner's wish", "paid_from": "owner"}, "scope cut"),
    ],
)
def test_an_agreed_change_counts_by_its_purse_and_sign(project: Project, amount: int, facts: dict, kind: str):
    builders.line(project, "L9901", budget=8_000, kind="contingency")
    change(building.let(project), amount, **facts)
    assert sums(project) == {kind: -amount}


@pytest.mark.parametrize("deed", ["decline", "withdraw"])
def test_a_change_that_is_not_agreed_does_not_count(project: Project, deed: str):
    line = building.let(project)
    building.enter(line)
    raised = changing.raised(line, 500, chance=Decimal("0.6"))
    assert sums(project) == {"same for less": 3_000} and holds(project)
    assert savings_page.savings_page(project).may_eat_minor == 300_00
    getattr(changes, deed)(raised, note="no", **building.who(project))
    assert sums(project) == {"same for less": 3_000} and holds(project)
    assert savings_page.savings_page(project).may_eat_minor == 0


@pytest.mark.parametrize(("priced", "more"), [(1_260, {}), (1_500, {"overage": -240}), (1_000, {"spared": 260})])
def test_a_change_that_prices_a_gap_counts_by_its_difference(project: Project, priced: int, more: dict):
    line = changing.let_with_gap(project, gap=1_260)
    change(line, priced, gap_id=changing.gap_on(line).pk)
    assert sums(project) == {"carried": -1_260} | more
    assert savings.book(project).net_minor == sum(more.values()) * 100
    assert holds(project)


def test_a_proposed_change_in_place_of_a_gap_is_part_of_the_proof(project: Project):
    line = changing.let_with_gap(project, gap=1_260)
    changing.raised(line, 1_260, gap_id=changing.gap_on(line).pk, chance=Decimal("0.8"))
    (row,) = savings_proofs.proofs(project)
    assert (row.proof.likely_changes_minor, row.proof.plugs_minor, row.proof.unexplained_minor) == (
        1_008_00,
        1_260_00,
        0,
    )


def abroad(project: Project) -> LineItem:
    """Let for 10,000 EUR at 0.86, half of it billed at 0.87; the euro stands at 0.90."""
    ExchangeRate.objects.create(project=project, currency="EUR", rate=Decimal("0.86"), rated_on=TODAY, entered_at=NOW)
    line = fresh(builders.line(project, budget=10_000))
    builders.let(line, 10_000, vendor="Brunn", currency="EUR", rate=Decimal("0.86"))
    builders.approved(line, 5_000, vendor="Brunn", currency="EUR", rate=Decimal("0.87"))
    rates.set_today(project, currency="EUR", rate=Decimal("0.90"), rated_on=TODAY, **building.who(project))
    return fresh(line)


def test_exchange_rates_eat_and_are_realised_by_what_is_billed(project: Project):
    abroad(project)
    (entry,) = book_entries.read(project).standing
    assert (entry.kind, entry.amount_minor, entry.realised_minor) == ("currency", -250_00, -50_00)
    assert entry.state == "part realised" and holds(project)


# --- What comes true --------------------------------------------------------------------------------------------


def states(project: Project) -> list[tuple[str, int]]:
    return [(entry.state, entry.realised_minor) for entry in book_entries.read(project).standing]


def test_a_saving_comes_true_with_the_bills_and_is_banked_when_the_line_is_closed(project: Project):
    line = building.let(project)
    building.enter(line)
    assert states(project) == [("contracted", 0)]
    billed = builders.approved(line, 5_666, vendor="Norrowby")
    assert states(project) == [("part realised", 999_90)]  # 5,666 of 17,000 is 33.33 %
    invoices.query(billed, "wrong quantity", **building.who(project))
    assert states(project) == [("contracted", 0)]
    again = invoices.take_up(billed, "right after all", **building.who(project))
    invoices.approve(again, role=Role.OWNER, note="seen", **building.who(project))
    builders.approved(line, 11_334, vendor="Norrowby", number="N-2")
    assert states(project) == [("part realised", 3_000_00)]
    closing.close_line(fresh(line), note="final account", **building.who(project))
    assert states(project) == [("banked", 3_000_00)] and holds(project)


def test_a_change_is_realised_by_the_invoices_that_name_it(project: Project):
    line = building.let(project)
    agreed = change(line, 800)
    builders.approved(line, 300, vendor="Norrowby", change=agreed)
    builders.approved(line, 2_000, vendor="Norrowby", number="N-2")
    assert states(project) == [("part realised", -300_00)]


def test_a_decision_of_two_lines_comes_true_over_both(project: Project):
    one, two = (builders.line(project, code, budget=10_000) for code in ("L1", "L2"))
    quotes = [builders.quote(line, amount, vendor=vendor) for line, amount, vendor in
              ((one, 9_000, "A"), (two, 9_000, "B"), (one, 6_000, "C"), (two, 8_000, "D"))]  # fmt: skip
    decision = decisions.decision(project, one, two)
    for name, first, second in (("Dear", 0, 1), ("Cheap", 2, 3)):
        items = (decisions.priced(one, quote=quotes[first]), decisions.priced(two, quote=quotes[second]))
        decisions.option(decision, name, *items)
    decisions.record(decision, "B")
    builders.approved(fresh(one), 3_500, vendor="C")
    assert states(project) == [("part realised", 1_000_00)]  # 3,500 of 14,000 is a quarter of 4,000
    (row,) = savings_proofs.proofs(project)
    assert [line.code for line in row.lines] == ["L1", "L2"] and row.holds


# --- The proof ----------------------------------------------------------------------------------------------------


def test_what_nobody_entered_is_left_unexplained_and_said(project: Project):
    line = building.let(project)
    building.enter(line, 2_500)
    assert savings_proofs.unproved(project) == [("L0102", 500_00)]
    (row,) = savings_proofs.proofs(project)
    assert (row.hint, row.can_enter) == ("saved, and not in the book yet", True)


def test_a_line_billed_over_its_agreement_is_left_unexplained(project: Project):
    line = building.let(project)
    building.enter(line)
    builders.approved(line, 17_500, vendor="Norrowby")
    (row,) = savings_proofs.proofs(project)
    assert (row.proof.unexplained_minor, row.can_enter) == (-500_00, False)


def test_a_line_closed_below_what_was_promised_says_so(project: Project):
    line = building.let(project)
    building.enter(line)
    builders.approved(line, 16_000, vendor="Norrowby")
    closing.close_line(fresh(line), note="final account", **building.who(project))
    (row,) = savings_proofs.proofs(project)
    assert (row.proof.unexplained_minor, row.hint) == (1_000_00, "closed for less than was promised")


def test_an_estimate_that_a_decision_chose_is_proved_too(project: Project):
    line = builders.line(project, budget=10_000)
    quote = builders.quote(line, 9_000)
    decision = decisions.decision(project, line)
    decisions.option(decision, "Bought", decisions.priced(line, quote=quote))
    decisions.option(decision, "Made on site", decisions.priced(line, amount=6_000))
    decisions.record(decision, "B")
    assert states(project) == [("decided", 0)] and sums(project) == {"same for less": 3_000} and holds(project)


def test_what_was_saved_is_told_apart_by_how_it_came_about(project: Project):
    decisions.record(decisions.tank(project), "B")
    line = building.let(project, agreed=16_000)
    for amount, how in ((3_000, "better quote"), (600, "negotiated"), (400, "")):
        building.enter(line, amount, how=how, what=how or "somehow")
    told = [(part.label, part.amount_minor) for part in savings.book(project).counted]
    assert told == [
        ("decisions", 5_000_00), ("a better quote", 3_000_00), ("the price talked down", 600_00),
        ("lines let without a decision", 400_00),
    ]  # fmt: skip


# --- The page -----------------------------------------------------------------------------------------------------


def test_the_rows_and_what_stands_beside_are_the_whole_book(project: Project):
    with_effect(project)
    line = building.let(project)
    building.enter(line, 2_000)
    building.enter(line, 1_000, kind="moved", what="Done by the plumber")
    building.enter(line, 0, state="idea", what="Third maker")
    change(line, 400)
    page = savings_page.savings_page(project)
    assert sum(row.left_minor for row in page.rows) == page.book.net_minor
    assert sum(row.promised_minor for row in page.rows) == page.promised_minor
    assert [row.entry.what for row in page.ideas] == ["Third maker"]
    assert [row.entry.kind for row in page.beside] == ["moved"]
    assert [row.name for row in page.rows] == ["D01 How to carry the tank", "L0102 Work L0102"]
    assert page.explained == len(page.proofs) == 3


@pytest.mark.parametrize("count", [1, 5])
def test_the_page_takes_twelve_queries_whatever_its_size(project: Project, count: int, django_assert_num_queries):
    with_effect(project)
    for number in range(count):
        line = building.let(project, f"L{number}")
        building.enter(line, 2_000)
        change(line, 400)
    with django_assert_num_queries(12):
        page = savings_page.savings_page(project)
    assert len(page.rows) == count + 1


def test_another_build_is_another_book(project: Project, outsider):
    building.enter(building.let(project))
    other = Project.objects.exclude(pk=project.pk).get()
    assert sums(other) == {} and savings.book(other).counted_minor == 0 and savings_proofs.proofs(other) == ()
