"""Entering decisions and their options; our rules."""

from decimal import Decimal

import pytest

from budget.models import LineItem
from decisions.models import CheckResult, Decision, MustPass
from decisions.services import drafts
from projects.faults import Refused, Stale
from projects.models import Project
from tests import builders
from tests.builders import NOW
from tests.decisions import building


@pytest.fixture
def tank(project: Project) -> Decision:
    return building.tank(project, checks=("Level",))


def who(decision: Decision) -> dict[str, object]:
    return {"by": builders.lead_of(decision.project), "now": NOW}


def a_line() -> LineItem:
    return LineItem.objects.get(code="L0303")


def test_codes_follow_one_another(project: Project):
    line = builders.line(project)
    codes = [building.decision(project, line, title=title).code for title in ("One", "Two")]
    assert codes == ["D01", "D02"]


def test_a_decision_needs_a_line_of_its_own_project(project: Project, outsider):
    elsewhere = builders.line(outsider.memberships.get().project)
    with pytest.raises(Refused) as fault:
        building.decision(project, elsewhere)
    assert fault.value.field == "lines"


def test_every_option_prices_the_same_work(tank: Decision):
    with pytest.raises(Refused, match="no price here|Price the option"):
        building.option(tank, "Empty")


def test_a_quantity_at_a_rate_is_worked_out_and_kept(tank: Decision):
    item = drafts.ItemDraft(a_line().pk, "concrete", quantity=Decimal("12.5"), rate=Decimal("3.333"))
    made = building.option(tank, "Kerbs", item)
    assert made.items.get().amount_minor == 41_66


def test_an_amount_that_contradicts_its_quantity_is_refused(tank: Decision):
    item = drafts.ItemDraft(a_line().pk, "concrete", amount_minor=1, quantity=Decimal(2), rate=Decimal(3))
    with pytest.raises(Refused, match="not the quantity at its rate"):
        building.option(tank, "Kerbs", item)


def test_an_effect_needs_a_line_of_the_project(tank: Decision, outsider):
    elsewhere = builders.line(outsider.memberships.get().project)
    effect = drafts.EffectDraft(elsewhere.pk, 100, "why")
    with pytest.raises(Refused) as fault:
        building.option(tank, "Kerbs", building.priced(a_line(), amount=1), effects=(effect,))
    assert fault.value.field == "effects"


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"adjust_chance": Decimal("1.01")}, "adjust_chance"),
        ({"extra_days": -1}, "extra_days"),
        ({"years": 101}, "years"),
    ],
)
def test_figures_out_of_range_name_their_field(tank: Decision, more: dict, field: str):
    with pytest.raises(Refused) as fault:
        building.option(tank, "Kerbs", building.priced(a_line(), amount=1), **more)
    assert fault.value.field == field


def test_a_second_editor_is_shown_what_stands(tank: Decision):
    option = building.key(tank, "B")
    draft = drafts.OptionDraft("Frame, galvanised", (building.priced(a_line(), amount=9),))
    drafts.edit_option(option, draft, version=option.version, **who(tank))
    with pytest.raises(Stale) as fault:
        drafts.edit_option(option, draft, version=option.version, **who(tank))
    assert fault.value.theirs["name"] == "Frame, galvanised"
    assert fault.value.theirs["version"] == option.version + 1


def test_new_bounds_are_held_against_values_given_before(tank: Decision):
    check = tank.must_passes.get()
    option = building.key(tank, "B")
    given = drafts.CheckDraft(check.pk, value=Decimal(30))
    draft = drafts.OptionDraft("Frame", (building.priced(a_line(), amount=9),), checks=(given,))
    drafts.edit_option(option, draft, version=option.version, **who(tank))
    bounded = drafts.MustPassDraft("Level", "mm", at_least=Decimal(36), id=check.pk)
    drafts.set_must_passes(Decision.objects.get(), [bounded], **who(tank))
    assert CheckResult.objects.get(option=option).verdict == CheckResult.Verdict.FAILS


def test_changed_checks_make_an_older_look_stale(tank: Decision):
    before = tank.version
    drafts.set_must_passes(tank, [drafts.MustPassDraft("Other")], **who(tank), version=before)
    with pytest.raises(Stale):
        drafts.set_must_passes(tank, [], **who(tank), version=before)
    assert MustPass.objects.get().name == "Other"


def test_a_recorded_decision_is_not_edited(tank: Decision):
    building.record(tank, "A")
    with pytest.raises(Refused, match="reopen it"):
        drafts.withdraw_option(building.key(tank, "B"), **who(tank))
