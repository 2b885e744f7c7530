"""Changes: what they move the day they are written down, who may agree to them, and what they stand in place of.

Sums are worked by hand in the tests; the rules are the project's own (docs/adr/0105, 0106, 0122), after common practice.
"""

from datetime import timedelta
from decimal import Decimal

import pytest

from budget.models import Change, LineItem, Movement
from budget.services import changes, lines
from projects.faults import Refused, Stale
from projects.models import Project, Role, TrailEntry, User
from tests import builders
from tests.budget import changing, reserving
from tests.budget.changing import agree, gap_on, let_with_gap, price, raised
from tests.budget.reserving import let, likely, pot, who, whole
from tests.builders import NOW, TODAY


@pytest.fixture
def project(lead: User) -> Project:
    """The lead may agree to 2,000 alone; 8,000 are set aside."""
    return changing.build(lead)


def steps(change: Change) -> list[tuple[str, int]]:
    return [(step.verb, step.amount_minor // 100) for step in change.steps.order_by("pk")]


def moved(line: LineItem) -> list[tuple[str, int]]:
    """The movements that changes brought a line [whole major units]."""
    rows = Movement.objects.filter(line=line, source="change").order_by("pk")
    return [(row.cause, row.amount_minor // 100) for row in rows]


def test_a_proposed_change_moves_the_likely_final_by_its_chance_the_day_it_is_written_down(project: Project):
    """1,260 at 80 % is 1,008."""
    line = let(project, agreed=9_000)
    made = raised(line, 1_260, chance=Decimal("0.8"))
    assert likely(line) == 10_008 and moved(line) == [("change", 1_008)]
    row = Movement.objects.get(source="change")
    assert (row.source_id, row.occurred_on, row.note) == (made.pk, TODAY, "C01 Isolation valves: proposed")
    assert whole(project)


def test_agreeing_counts_the_rest_and_declining_takes_it_out(project: Project, lead: User):
    line = let(project, agreed=9_000)
    agree(raised(line, 1_260, chance=Decimal("0.8")), lead)
    changes.decline(raised(line, 500, title="Other"), note="not needed", **who(lead))
    assert moved(line) == [("change", 1_008), ("change", 252), ("change", 500), ("change", -500)]
    assert likely(line) == 10_260 and reserving.fresh(line).changes_minor == 126_000 and whole(project)


def test_a_cut_lowers_the_likely_final(project: Project):
    line = let(project, agreed=9_000)
    raised(line, -700, title="Plain grates", reason="scope cut", paid_from="credit", agree=True)
    assert likely(line) == 8_300 and whole(project)


def test_days_alone_are_a_change_that_moves_no_money(project: Project):
    line = let(project, agreed=9_000)
    made = raised(line, 0, days=2)
    assert (made.days, likely(line), moved(line)) == (2, 9_000, [])


def test_every_step_keeps_its_figures(project: Project, lead: User):
    made = raised(let(project), 1_000, is_ceiling=True, chance=Decimal("0.5"))
    price(made, 900, lead, chance=Decimal("0.9"), note="as quoted")
    agree(made, lead, note="go on", amount_minor=88_000)
    changes.reopen(made, reason="sum is wrong", **who(lead))
    assert steps(made) == [("raised", 1_000), ("priced", 900), ("agreed", 880), ("reopened", 880)]
    summaries = TrailEntry.objects.filter(subject="change").order_by("pk").values_list("summary", flat=True)
    assert list(summaries)[-2:] == [
        "Agreed to change C01 Isolation valves: go on",
        "Took change C01 Isolation valves up again: sum is wrong",
    ]


def test_codes_go_on_from_the_highest_and_one_is_used_once(project: Project):
    line = let(project)
    raised(line, 100, title="a", code="C09")
    assert raised(line, 100, title="b").code == "C10"
    with pytest.raises(Refused, match="Change c10 is there already") as refusal:
        raised(line, 100, title="c", code="c10")
    assert refusal.value.field == "code"


# --- where it may be ---------------------------------------------------------------------------------------------


def test_a_line_that_is_not_let_is_refused_with_the_mend(project: Project):
    line = builders.line(project, "L0301")
    with pytest.raises(Refused, match="is not let yet.*accept it, enter an estimate.*add a line") as refusal:
        raised(line)
    assert refusal.value.field == "line" and not Change.objects.exists()


def test_a_closed_line_takes_no_change_and_none_of_its_changes_is_taken_up_again(project: Project, lead: User):
    line = let(project)
    made = raised(line, 500)
    changes.withdraw(made, note="", **who(lead))
    reserving.close(line, lead)
    with pytest.raises(Refused, match="is closed; open it again"):
        raised(line, 100, title="Other")
    with pytest.raises(Refused, match="is closed; open it again"):
        changes.reopen(made, reason="needed after all", **who(lead))


def test_a_line_of_another_project_is_no_line_here(project: Project, lead: User):
    other = let(changing.build(lead), "L0101")
    with pytest.raises(Refused, match="no such line"):
        changes.raise_change(project, changing.draft(other), role=Role.LEAD, **who(lead))
    assert not Change.objects.exists()


# --- who may ------------------------------------------------------------------------------------------------------


def test_within_the_limit_a_change_may_be_agreed_in_the_same_breath(project: Project):
    line = let(project)
    made = raised(line, 2_000, agree=True, chance=Decimal("0.5"))
    assert (made.state, made.decided_on) == ("agreed", TODAY) and steps(made) == [("raised", 2_000), ("agreed", 2_000)]
    assert moved(line) == [("change", 2_000)]


def test_above_the_limit_it_waits_although_it_was_to_be_agreed(project: Project):
    made = raised(let(project), 2_001, agree=True)
    assert made.state == "proposed" and steps(made) == [("raised", 2_001)]


def test_above_the_limit_the_lead_is_told_and_an_owner_may(project: Project, lead: User, owner: User):
    made = raised(let(project), 2_001)
    with pytest.raises(Refused, match="above your limit of £2,000"):
        agree(made, lead, role=Role.LEAD)
    assert agree(made, owner).state == "agreed"


@pytest.mark.parametrize("role", [Role.BOOKKEEPER, Role.VIEWER, "nobody"])
@pytest.mark.parametrize("amount", [1, -500])
def test_no_other_role_agrees_to_anything(project: Project, lead: User, role: str, amount: int):
    made = raised(let(project), amount)
    with pytest.raises(Refused, match="Your role agrees to no changes"):
        agree(made, lead, role=role)
    assert raised(made.line, amount, title="Other", role=role, agree=True).state == "proposed"


def test_a_credit_needs_no_limit_however_large(project: Project, lead: User):
    assert agree(raised(let(project), -5_000), lead, role=Role.LEAD).state == "agreed"


def test_the_price_it_is_agreed_at_is_the_one_the_limit_looks_at(project: Project, lead: User):
    made = raised(let(project), 500)
    with pytest.raises(Refused, match="above your limit"):
        agree(made, lead, role=Role.LEAD, amount_minor=200_001)
    assert Change.objects.get().amount_minor == 50_000


# --- who pays -----------------------------------------------------------------------------------------------------


def test_agreeing_draws_the_contingency_once(project: Project, lead: User):
    """9,000 agreed and 1,170: the line ends at 10,170, and 6,830 of the 8,000 are left. Together they are 17,000."""
    line = let(project, agreed=9_000)
    made = raised(line, 1_170, paid_from="contingency")
    assert likely(pot(project)) == 8_000
    agree(made, lead)
    assert (likely(line), likely(pot(project))) == (10_170, 6_830) and whole(project)
    assert moved(pot(project)) == [("transfer", -1_170)]


def test_taking_it_up_again_gives_the_draw_back(project: Project, lead: User):
    line = let(project, agreed=9_000)
    made = agree(raised(line, 1_000, paid_from="contingency", chance=Decimal("0.6")), lead)
    changes.reopen(made, reason="the price was another", **who(lead))
    assert (likely(line), likely(pot(project))) == (9_600, 8_000) and whole(project)
    assert Change.objects.get().decided_on is None


def test_what_the_contingency_does_not_hold_is_not_agreed(project: Project, owner: User):
    made = raised(let(project), 8_001, paid_from="contingency")
    with pytest.raises(Refused, match="Only £8,000 is left"):
        agree(made, owner)
    assert Change.objects.get().state == "proposed" and steps(made) == [("raised", 8_001)]


def test_a_wish_is_never_paid_from_the_contingency(project: Project):
    with pytest.raises(Refused, match="wish is never paid from the contingency") as refusal:
        raised(let(project), 500, reason="owner's wish", paid_from="contingency")
    assert refusal.value.field == "paid_from" and not Change.objects.exists()


def test_a_wish_does_not_come_to_draw_when_it_is_agreed(project: Project, lead: User):
    made = raised(let(project), 500, reason="owner's wish", paid_from="owner")
    with pytest.raises(Refused, match="wish is never paid from the contingency"):
        agree(made, lead, paid_from="contingency")
    assert (Change.objects.get().state, Change.objects.get().paid_from) == ("proposed", "owner")


# --- a ceiling ----------------------------------------------------------------------------------------------------


def test_what_was_agreed_up_to_a_ceiling_is_priced_below_it_and_the_draw_follows(project: Project, lead: User):
    line = let(project, agreed=9_000)
    made = agree(raised(line, 1_000, is_ceiling=True, paid_from="contingency"), lead)
    priced = price(made, 830, lead, note="nine hours")
    assert (priced.state, priced.is_ceiling) == ("agreed", False)
    assert (likely(line), likely(pot(project))) == (9_830, 7_170) and whole(project)


@pytest.mark.parametrize(("ceiling", "amount"), [(True, 1_001), (False, 900)])
def test_an_agreed_price_is_not_changed_behind_the_back_of_who_agreed(
    project: Project, lead: User, ceiling: bool, amount: int
):
    made = agree(raised(let(project), 1_000, is_ceiling=ceiling), lead)
    with pytest.raises(Refused, match="is agreed at £1,000; take it up again"):
        price(made, amount, lead)


# --- in place of a gap or an effect -------------------------------------------------------------------------------


def test_a_change_takes_the_place_of_the_gap_it_prices(project: Project, lead: User):
    """9,000 agreed with valves left open at 1,260; the change at 80 % counts 1,008 in place of them, never both."""
    line = let_with_gap(project, agreed=9_000, gap=1_260)
    assert likely(line) == 10_260
    made = raised(line, 1_260, chance=Decimal("0.8"), gap_id=gap_on(line).pk)
    assert likely(line) == 10_008 and moved(line) == [("change", -252)]
    changes.decline(made, note="they are in the price", **who(lead))
    assert likely(line) == 10_260 and whole(project)


def test_a_gap_is_priced_by_one_change(project: Project, lead: User):
    line = let_with_gap(project)
    first = raised(line, 1_260, gap_id=gap_on(line).pk)
    with pytest.raises(Refused, match="C01 Isolation valves prices this already"):
        raised(line, 900, title="Valves", gap_id=gap_on(line).pk)
    changes.withdraw(first, note="", **who(lead))
    raised(line, 900, title="Valves", gap_id=gap_on(line).pk)
    with pytest.raises(Refused, match="C02 Valves prices this already"):
        changes.reopen(first, reason="it was right", **who(lead))


def test_a_gap_of_another_line_is_refused(project: Project):
    line, other = let_with_gap(project), let(project, "L0301")
    with pytest.raises(Refused, match="not part of the line"):
        raised(other, 900, gap_id=gap_on(line).pk)


def test_a_change_takes_the_place_of_a_decisions_effect(project: Project, lead: User):
    """A decision made the engineer's line 1,900 dearer; the change that puts it into the agreement adds nothing."""
    line = let(project, agreed=9_000)
    effect = changing.effect_on(line, 1_900)
    assert likely(line) == 10_900
    made = raised(line, 1_900, title="Extra design", paid_from="saving", knock_on_id=effect.pk, agree=True)
    assert (made.state, likely(line), moved(line)) == ("agreed", 10_900, []) and whole(project)


def test_a_change_stands_in_place_of_one_thing(project: Project):
    line = let_with_gap(project)
    effect = changing.effect_on(line, 300)
    with pytest.raises(Refused, match="not of both"):
        raised(line, 900, gap_id=gap_on(line).pk, knock_on_id=effect.pk)


# --- twice, at once, and not at all -------------------------------------------------------------------------------


def test_a_second_answer_is_refused(project: Project, lead: User):
    made = agree(raised(let(project), 500), lead)
    for deed in (lambda: agree(made, lead), lambda: changes.decline(made, note="no", **who(lead))):
        with pytest.raises(Refused, match="C01 Isolation valves is agreed already"):
            deed()
    assert steps(made) == [("raised", 500), ("agreed", 500)] and whole(project)


def test_a_form_sent_twice_is_noticed(project: Project, lead: User):
    draft = changing.draft(let(project))
    for again, expected in ((False, 1), (True, 2)):
        changes.raise_change(project, draft, role=Role.LEAD, again=again, **who(lead))
        assert Change.objects.count() == expected
    with pytest.raises(Refused, match="C01 Isolation valves looks like the same change") as refusal:
        changes.raise_change(project, draft, role=Role.LEAD, again=False, **who(lead))
    assert refusal.value.field == "again" and Change.objects.count() == 2


def test_an_answer_to_figures_that_have_moved_meanwhile_is_not_taken(project: Project, lead: User, owner: User):
    made = raised(let(project), 500)
    price(made, 1_900, lead)
    with pytest.raises(Stale, match="proposed at £1,900 by now") as refusal:
        agree(made, owner, version=made.version)
    assert refusal.value.theirs["amount"] == 190_000 and Change.objects.get().state == "proposed"


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"title": "   "}, "title"),
        ({"title": "x" * 201}, "title"),
        ({"reason": "because"}, "reason"),
        ({"paid_from": "my pocket"}, "paid_from"),
        ({"chance": Decimal("NaN")}, "chance"),
        ({"chance": Decimal("Infinity")}, "chance"),
        ({"chance": Decimal("1.0001")}, "chance"),
        ({"chance": Decimal("-0.1")}, "chance"),
        ({"chance": Decimal("1E-999999")}, "chance"),
        ({"days": 3_651}, "days"),
        ({"days": -3_651}, "days"),
        ({"note": "x" * 2_001}, "note"),
        ({"code": "C" * 13}, "code"),
        ({"raised_on": TODAY + timedelta(days=1)}, "raised_on"),
        ({"gap_id": 10**9}, "stands_for"),
        ({"knock_on_id": 10**9}, "stands_for"),
    ],
)
def test_absurd_facts_are_refused_at_their_field(project: Project, facts: dict, field: str):
    line = let(project)
    with pytest.raises(Refused) as refusal:
        raised(line, 500, **facts)
    assert refusal.value.field == field
    assert not Change.objects.exists() and not TrailEntry.objects.filter(subject="change").exists()


@pytest.mark.parametrize(("amount", "facts"), [(0, {}), (10**16, {}), (-(10**16), {}), (-5, {"is_ceiling": True})])
def test_an_absurd_amount_is_refused_at_the_amount(project: Project, amount: int, facts: dict):
    line = let(project)
    with pytest.raises(Refused) as refusal:
        raised(line, amount, **facts)
    assert refusal.value.field == "amount" and not Change.objects.exists()


def test_a_reason_is_asked_for_where_somebody_is_told_no(project: Project, lead: User):
    made = raised(let(project), 500)
    with pytest.raises(Refused, match="Say why, so that") as refusal:
        changes.decline(made, note=" ", **who(lead))
    assert refusal.value.field == "note"
    changes.withdraw(made, note="", **who(lead))
    with pytest.raises(Refused, match="Say why it is taken up again"):
        changes.reopen(made, reason="", **who(lead))


def test_it_is_not_agreed_before_it_was_asked_for(project: Project, lead: User):
    made = raised(let(project), 500, raised_on=TODAY - timedelta(days=3))
    with pytest.raises(Refused) as refusal:
        agree(made, lead, on=TODAY - timedelta(days=4))
    assert refusal.value.field == "on"
    assert agree(made, lead, on=TODAY - timedelta(days=3)).decided_on == TODAY - timedelta(days=3)


def test_files_of_the_project_go_with_it_and_others_do_not(project: Project, lead: User):
    own, foreign = builders.attachment(project), builders.attachment(changing.build(lead))
    made = raised(let(project), 500, attachment_ids=(own.pk, foreign.pk))
    assert [row.attachment for row in made.attachments.all()] == [own]


def test_an_own_forecast_stands_over_a_change(project: Project, lead: User):
    line = let(project, agreed=9_000)
    lines.forecast_own(line, amount_minor=950_000, reason="feeling", by=lead, now=NOW, today=TODAY)
    raised(line, 1_000)
    assert likely(line) == 9_500 and moved(line) == [] and whole(project)


def test_the_worked_case_of_the_rule(project: Project, lead: User):
    """docs/adr/0122: 10,260 with the gap, 10,008 with the change in its place, 10,260 agreed, and 6,740 left of 8,000."""
    line = let_with_gap(project, agreed=9_000, gap=1_260)
    seen = [likely(line)]
    made = raised(line, 1_260, chance=Decimal("0.8"), gap_id=gap_on(line).pk, paid_from="contingency")
    seen.append(likely(line))
    agree(made, lead)
    assert [*seen, likely(line), likely(pot(project))] == [10_260, 10_008, 10_260, 6_740] and whole(project)
