"""The Choices pages: what they say, who may see and do what, and how much they ask of the database."""

import re
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from budget.models import LineItem
from budget.services import lines
from decisions.models import CheckResult, Decision, Record
from decisions.selectors import overview, pages
from decisions.services import drafts, records
from projects.models import Project, Role, User
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building


def words(response) -> str:
    """What a reader reads: no tags, single spaces."""
    text = re.sub(r"<(script|style|template|datalist)\b.*?</\1>", " ", response.content.decode(), flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)).replace(" ,", ",").replace(" .", ".")


def sentence(response) -> str:
    return re.sub(r"\s+", " ", re.search(r"<h1[^>]*>(.*?)</h1>", response.content.decode(), re.DOTALL)[1]).strip()


def page(project: Project, name: str, *args: int) -> str:
    return reverse(f"decisions:{name}", args=[project.slug, *args])


@pytest.fixture
def tank(project: Project) -> Decision:
    return building.tank(project, checks=("Carries the load",))


@pytest.fixture
def as_lead(lead: User) -> Client:
    return builders.signed_in(lead)


def test_an_empty_list_says_what_to_do_next(project: Project, as_lead: Client):
    shown = as_lead.get(page(project, "list"))
    assert "Nothing has been put to a decision yet" in sentence(shown)
    assert page(project, "new") in shown.content.decode()


def test_the_list_answers_in_one_sentence(tank: Decision, as_lead: Client, project: Project):
    line = builders.line(project, "L0401")
    late = building.decision(project, line, title="Gallery", need_by=building.later(-4))
    building.record(tank, "B")
    shown = as_lead.get(page(project, "list"))
    assert sentence(shown) == "1 decision open, 1 overdue; the one taken saves £5,000 against the original quotes."
    assert late.title in words(shown)


def test_the_list_names_the_cheapest_and_by_how_much(tank: Decision, as_lead: Client, project: Project):
    text = words(as_lead.get(page(project, "list")))
    assert "B Frame is expected to cost £15,000, £5,000 less than A" in text


def test_the_decision_opens_with_its_answer(tank: Decision, as_lead: Client, project: Project):
    shown = as_lead.get(page(project, "decision", tank.pk))
    assert sentence(shown) == "B Frame is expected to cost £15,000, £5,000 less than A, the next."
    text = words(shown)
    assert "What would change our mind" in text and "A wins with the price of A at £15,000 or less" in text


def test_a_cheaper_option_that_fails_is_named_and_not_best(tank: Decision, as_lead: Client, project: Project):
    CheckResult.objects.filter(option=building.key(tank, "B")).update(verdict="fails")
    said = sentence(as_lead.get(page(project, "decision", tank.pk)))
    assert said.startswith("A Plinth is expected to cost £20,000")
    assert "B would cost £15,000, but fails a check." in said


def test_float_is_told_in_words(project: Project, as_lead: Client):
    decision = building.tank(project, extra_days=6, float_days=9)
    text = words(as_lead.get(page(project, "decision", decision.pk)))
    assert "uses 6 of 9 days of float, opening unmoved" in text


def test_a_quote_that_runs_out_soon_is_shown_with_its_days(project: Project, as_lead: Client):
    line = builders.line(project, "L0801")
    quote = builders.quote(line, 9_000, valid_until=building.later(2))
    decision = building.decision(project, line)
    building.option(decision, "One", building.priced(line, quote=quote))
    text = words(as_lead.get(page(project, "decision", decision.pk)))
    assert "2 days left" in text and "A: Aridlow, £9,000" in text


def test_names_are_escaped(project: Project, as_lead: Client):
    line = builders.line(project)
    decision = building.decision(project, line, title="<b>Bold</b>")
    building.option(decision, "<script>x</script>", building.priced(line, amount=1))
    html = as_lead.get(page(project, "decision", decision.pk)).content.decode()
    assert "<script>x</script>" not in html and "<b>Bold</b>" not in html


# --- How much is asked of the database ---------------------------------------------------------------------


def many_options(project: Project, count: int, code: str) -> Decision:
    line, other = builders.line(project, code), builders.line(project, f"{code}x")
    decision = building.decision(project, line, title=code, checks=("One", "Two"))
    for number in range(count):
        quote = builders.quote(line, 9_000 + number, vendor=f"Vendor {number}")
        effect = drafts.EffectDraft(other.pk, number, "why")
        axis = drafts.AxisDraft("up", Decimal(5), Decimal(2))
        building.option(
            decision, f"Option {number}", building.priced(line, quote=quote), effects=(effect,), axes=(axis,)
        )
    return Decision.objects.get(pk=decision.pk)


@pytest.mark.parametrize("count", [1, 7])
def test_a_decision_takes_fifteen_queries_whatever_its_size(
    project: Project, as_lead: Client, count: int, django_assert_max_num_queries
):
    decision = many_options(project, count, "L9")
    as_lead.get(page(project, "decision", decision.pk))  # the day's look at quotes that ran out is taken
    with django_assert_max_num_queries(15):
        assert as_lead.get(page(project, "decision", decision.pk)).status_code == 200


@pytest.mark.parametrize("count", [1, 4])
def test_the_list_takes_fourteen_queries_whatever_its_length(project: Project, count: int, django_assert_num_queries):
    for number in range(count):
        many_options(project, 2, f"L{number}")
    building.record(building.tank(project), "B")
    with django_assert_num_queries(14):
        found = overview.choices(project, today=TODAY)
    assert (len(found.open), len(found.taken)) == (count, 1)


def test_a_recorded_decision_takes_no_more(project: Project, django_assert_num_queries):
    decision = building.tank(project)
    building.record(decision, "B")
    with django_assert_num_queries(9):
        pages.decision_page(pages.find_decision(project, decision.pk), today=TODAY)


# --- Who may --------------------------------------------------------------------------------------------------

WRITING = ("new", "edit", "checks", "add_option", "record", "reopen")


@pytest.mark.parametrize("name", WRITING)
@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_only_the_lead_writes(tank: Decision, project: Project, request, name: str, who: str):
    client = builders.signed_in(request.getfixturevalue(who))
    args = [] if name == "new" else [tank.pk]
    assert client.get(page(project, name, *args)).status_code == 403
    assert client.get(page(project, "decision", tank.pk)).status_code == 200


def test_an_outsider_learns_nothing(tank: Decision, project: Project, outsider: User):
    client = builders.signed_in(outsider)
    assert client.get(page(project, "decision", tank.pk)).status_code == 404
    own = outsider.memberships.get().project
    assert client.get(page(own, "decision", tank.pk)).status_code == 404
    assert client.get(page(own, "edit_option", tank.pk, tank.options.first().pk)).status_code == 404


def test_only_an_owner_answers(project: Project, as_lead: Client, owner: User):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    building.record(decision, "B")
    there = page(project, "answer", decision.pk)
    assert as_lead.post(there, {"verdict": "approved"}).status_code == 403
    shown = builders.signed_in(owner).get(page(project, "decision", decision.pk))
    assert "Approve" in words(shown)
    assert builders.signed_in(owner).post(there, {"verdict": "approved", "note": ""}).status_code == 302
    assert Decision.objects.get().state == Decision.State.DECIDED


def test_declining_without_a_note_says_so_at_the_note(project: Project, owner: User):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    building.record(decision, "B")
    shown = builders.signed_in(owner).post(page(project, "answer", decision.pk), {"verdict": "declined", "note": ""})
    assert shown.status_code == 422 and "Say why" in words(shown)


# --- Entering ---------------------------------------------------------------------------------------------------


def rows(prefix: str, *found: dict[str, str]) -> dict[str, str]:
    data = {f"{prefix}-TOTAL_FORMS": str(len(found)), f"{prefix}-INITIAL_FORMS": "0"}
    return data | {f"{prefix}-{place}-{name}": value for place, row in enumerate(found) for name, value in row.items()}


def test_a_decision_is_opened_with_lines_and_checks(project: Project, as_lead: Client):
    builders.line(project, "L0303")
    data = {"title": "How to carry the tank", "question": "", "need_by": "2027-02-19"}
    data |= rows("lines", {"line": "l0303"}) | rows("checks", {"name": "Slip test", "at_least": "36", "unit": "PTV"})
    assert as_lead.post(page(project, "new"), data).status_code == 302
    made = Decision.objects.get()
    assert [line.code for line in made.lines.all()] == ["L0303"]
    assert made.must_passes.get().at_least == 36


def test_an_unknown_line_is_refused_and_nothing_typed_is_lost(project: Project, as_lead: Client):
    data = {"title": "How to carry the tank"} | rows("lines", {"line": "L7"}) | rows("checks")
    shown = as_lead.post(page(project, "new"), data)
    assert shown.status_code == 422 and "There is no line" in words(shown)
    assert 'value="How to carry the tank"' in shown.content.decode()


def test_a_row_is_added_without_script_and_nothing_is_judged(project: Project, as_lead: Client):
    data = {"title": "", "more_rows": "checks"} | rows("lines", {"line": ""}) | rows("checks")
    shown = as_lead.post(page(project, "new"), data)
    assert shown.status_code == 200 and 'name="checks-0-name"' in shown.content.decode()
    assert "field__error" not in shown.content.decode()


def option_data(line: LineItem, **more: str) -> dict[str, str]:
    price = {"price": "", "amount": "14,000.50"} | {k: more.pop(k) for k in ("price", "amount") if k in more}
    return {"name": "Kerbs"} | rows("items", price) | rows("effects") | rows("axes") | more


def test_an_option_is_entered_with_figures_as_people_write_them(project: Project, as_lead: Client):
    decision = building.tank(project)
    line, other = LineItem.objects.get(code="L0303"), builders.line(project, "L1401")
    data = option_data(
        line, adjust_chance="20 %", adjust_cost="9,800", ladder="grind or patch", yearly_cost="180", years="10"
    )
    data |= rows("effects", {"line": other.code, "amount": "-600", "why": "bearers"})
    assert as_lead.post(page(project, "add_option", decision.pk), data).status_code == 302
    made = building.key(decision, "C")
    assert made.items.get().amount_minor == 14_000_50
    assert (made.adjust_chance, made.adjust_cost_minor, made.adjust_how) == (Decimal("0.2"), 9_800_00, "grind or patch")
    assert made.effects.get().amount_minor == -600_00


def test_a_quote_is_chosen_for_a_line(project: Project, as_lead: Client):
    decision = building.tank(project)
    line = LineItem.objects.get(code="L0303")
    quote = builders.quote(line, 17_000, vendor="Ostlewick")
    data = option_data(line, price=f"{line.pk}:{quote.pk}", amount="")
    assert as_lead.post(page(project, "add_option", decision.pk), data).status_code == 302
    assert building.key(decision, "C").items.get().quote == quote


def test_a_quote_and_an_estimate_at_once_are_refused_at_the_price(project: Project, as_lead: Client):
    decision = building.tank(project)
    line = LineItem.objects.get(code="L0303")
    data = option_data(line, price=f"{line.pk}:{line.quote_lines.first().quote_id}")
    shown = as_lead.post(page(project, "add_option", decision.pk), data)
    assert shown.status_code == 422 and "one of the two" in words(shown)


def test_a_quote_of_another_project_is_refused(project: Project, as_lead: Client, outsider: User):
    decision = building.tank(project)
    elsewhere = builders.line(outsider.memberships.get().project)
    quote = builders.quote(elsewhere, 5)
    line = LineItem.objects.get(code="L0303")
    data = option_data(line, price=f"{line.pk}:{quote.pk}", amount="")
    assert as_lead.post(page(project, "add_option", decision.pk), data).status_code == 422


def test_the_second_to_save_sees_what_the_first_saved(project: Project, as_lead: Client):
    decision = building.tank(project)
    line, option = LineItem.objects.get(code="L0303"), building.key(decision, "B")
    there = page(project, "edit_option", decision.pk, option.pk)
    seen = str(option.version)
    assert as_lead.post(there, option_data(line, note="mine", version=seen)).status_code == 302
    shown = as_lead.post(there, option_data(line, note="yours", version=seen))
    text = words(shown)
    assert shown.status_code == 422 and "now stands" in text and "mine" in text and "yours" in text
    again = re.search(r'name="version" value="(\d+)"', shown.content.decode())[1]
    assert as_lead.post(there, option_data(line, note="yours", version=again)).status_code == 302


def test_an_option_is_taken_off_and_brought_back(tank: Decision, project: Project, as_lead: Client):
    option = building.key(tank, "A")
    as_lead.post(page(project, "take_off", tank.pk, option.pk))
    assert "Off the table" in words(as_lead.get(page(project, "decision", tank.pk)))
    as_lead.post(page(project, "bring_back", tank.pk, option.pk))
    assert "Off the table" not in words(as_lead.get(page(project, "decision", tank.pk)))
    assert as_lead.get(page(project, "take_off", tank.pk, option.pk)).status_code == 405


# --- Recording ----------------------------------------------------------------------------------------------------


def record_data(decision: Decision, letter: str, **more: str) -> dict[str, str]:
    option = building.key(decision, letter)
    return {
        "option": str(option.pk),
        "version": str(decision.version),
        "reason": "can be levelled",
        "step": "show",
    } | more


def test_recording_shows_first_and_does_on_confirming(project: Project, as_lead: Client):
    decision = building.tank(project)
    there, data = page(project, "record", decision.pk), record_data(decision, "B")
    shown = as_lead.post(there, data)
    text = words(shown)
    assert "accepted Norrowby, £15,000 for L0303" in text and "declined Quillstone" in text
    assert "£5,000 saved against the original quote" in text and not Record.objects.exists()
    seen = re.search(r'name="seen" value="(\w+)"', shown.content.decode())[1]
    assert as_lead.post(there, data | {"step": "confirm", "seen": seen}).status_code == 302
    assert Record.objects.get().option.key == "B"


def test_the_preview_says_that_and_why_it_waits(project: Project, as_lead: Client):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    text = words(as_lead.post(page(project, "record", decision.pk), record_data(decision, "B")))
    assert "It will wait for an owner" in text and "It commits £30,000; you may commit £25,000" in text


def test_the_way_back_from_the_preview_keeps_what_was_typed(project: Project, as_lead: Client):
    decision = building.tank(project)
    shown = as_lead.post(page(project, "record", decision.pk), record_data(decision, "B", step="change"))
    assert shown.status_code == 200 and "can be levelled" in shown.content.decode()


def test_a_price_that_moves_between_the_two_steps_is_shown_anew(project: Project, as_lead: Client):
    decision = building.tank(project)
    there, data = page(project, "record", decision.pk), record_data(decision, "B")
    seen = re.search(r'name="seen" value="(\w+)"', as_lead.post(there, data).content.decode())[1]
    line = LineItem.objects.get(code="L0303")
    lines.set_scope(line, [("Grout", 700_00)], by=builders.lead_of(project), now=NOW, today=TODAY)
    shown = as_lead.post(there, data | {"step": "confirm", "seen": seen})
    assert shown.status_code == 422 and "has moved since you saw" in words(shown)


def test_an_unanswered_check_is_overruled_on_the_form(tank: Decision, project: Project, as_lead: Client):
    CheckResult.objects.update(verdict="unknown")
    check = tank.must_passes.get()
    there = page(project, "record", tank.pk)
    refused = as_lead.post(there, record_data(tank, "B"))
    assert refused.status_code == 422 and "overrule the check with a reason" in words(refused)
    shown = as_lead.post(there, record_data(tank, "B", **{f"overrule-{check.pk}": "letter of the engineer"}))
    assert shown.status_code == 200 and "Nothing is recorded yet" in sentence(shown)


def test_an_agreed_price_is_read_in_the_currency_of_the_quote(project: Project, as_lead: Client):
    line = builders.line(project, "L0502", budget=100_000)
    euro = builders.quote(line, 20_000, vendor="Verralis", currency="EUR", rate=Decimal("0.86"))
    decision = building.decision(project, line)
    building.option(decision, "One", building.priced(line, quote=euro))
    building.option(decision, "Two", building.priced(line, amount=18_000))
    decision.refresh_from_db()
    data = record_data(decision, "A", **{f"amount-{line.pk}": "€19,000"})
    shown = as_lead.post(page(project, "record", decision.pk), data)
    assert shown.status_code == 200 and "£16,340" in sentence(shown)  # 19,000 × 0.86


def test_reopening_says_what_it_reverses_and_asks_why(project: Project, as_lead: Client):
    decision = building.tank(project)
    building.record(decision, "A")
    there = page(project, "reopen", decision.pk)
    text = words(as_lead.get(there))
    assert "Reopening D01 takes A Plinth back" in text and "+£5,000.00" in text
    assert as_lead.post(there, {"reason": ""}).status_code == 422
    assert as_lead.post(there, {"reason": "slab is out of level"}).status_code == 302
    assert "taken back by" in words(as_lead.get(page(project, "decision", decision.pk)))


# --- The record ---------------------------------------------------------------------------------------------------


def test_the_record_says_why_a_cheaper_option_was_turned_down(tank: Decision, project: Project, as_lead: Client):
    CheckResult.objects.filter(option=building.key(tank, "B")).update(verdict="fails")
    made = building.record(tank, "A")
    text = words(as_lead.get(page(project, "sheet", made.pk)))
    assert "it was turned down because it fails: Carries the load" in text
    assert "The hash matches what is stored." in text and made.sha256 in text


def test_a_record_altered_behind_the_programs_back_is_told(project: Project, as_lead: Client):
    made = building.record(building.tank(project), "B")
    with connection.cursor() as cursor:
        cursor.execute("UPDATE decisions_record SET frozen = REPLACE(frozen, 'levelled', 'bevelled')")
    assert "does not match what is stored" in words(as_lead.get(page(project, "sheet", made.pk)))


def test_the_record_keeps_what_was_seen_when_prices_move_later(project: Project, as_lead: Client):
    decision = building.tank(project)
    made = building.record(decision, "B")
    option = building.key(decision, "A")
    type(option).objects.filter(pk=option.pk).update(name="Renamed")
    text = words(as_lead.get(page(project, "sheet", made.pk)))
    assert "Plinth" in text and "Renamed" not in text


def test_a_superseded_record_points_to_the_one_that_stands(project: Project, as_lead: Client):
    decision = building.tank(project)
    first = building.record(decision, "B")
    records.reopen(decision, reason="wrong feet", by=builders.lead_of(project), now=NOW, today=TODAY)
    building.record(Decision.objects.get(), "A")
    text = words(as_lead.get(page(project, "sheet", first.pk)))
    assert "superseded by record 2" in text and "taken back" in text and "wrong feet" in text


def test_every_role_may_read_the_record(project: Project, viewer: User):
    made = building.record(building.tank(project), "B")
    assert viewer.memberships.get().role == Role.VIEWER
    assert builders.signed_in(viewer).get(page(project, "sheet", made.pk)).status_code == 200


def test_an_owner_is_told_that_a_quote_ran_out_while_it_waited(project: Project, owner: User):
    decision = building.tank(project, plinth=40_000, frame=30_000)
    building.record(decision, "B")
    Project.objects.filter(pk=project.pk).update(held_on=building.later(31))
    text = words(builders.signed_in(owner).get(page(project, "decision", decision.pk)))
    assert "ran out B: Norrowby, £30,000" in text and "cannot be approved" in text
    assert "A: Quillstone" not in text


def test_the_chance_is_given_or_worked_out_not_both(project: Project, as_lead: Client):
    decision = building.tank(project)
    data = option_data(LineItem.objects.get(code="L0303"), adjust_chance="5")
    data |= rows("axes", {"name": "up", "allows": "25", "spread": "10"})
    there = page(project, "add_option", decision.pk)
    refused = as_lead.post(there, data)
    assert refused.status_code == 422 and "one of the two" in words(refused)
    assert as_lead.post(there, data | {"adjust_chance": ""}).status_code == 302
    made = building.key(decision, "C")
    assert [(axis.name, axis.allows, axis.spread) for axis in made.axes.all()] == [("up", 25, 10)]


def test_a_chance_from_movements_is_shown_with_what_it_rests_on(project: Project, as_lead: Client):
    """2(1 − Φ(2.5)) = 1.2419 %, from the normal table of any textbook."""
    axis = drafts.AxisDraft("up", Decimal(25), Decimal(10))
    decision = building.tank(project, axes=(axis,), adjust_cost_minor=1_900_00)
    text = words(as_lead.get(page(project, "decision", decision.pk)))
    assert "1.24%" in text and "up: ±25, spread 10" in text
