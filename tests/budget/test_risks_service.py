"""The register of risks: entering, saying anew, closing, and what is turned away."""

from decimal import Decimal

import pytest

from budget.models import Change, Risk
from budget.services import risks
from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry, User
from tests import builders
from tests.budget import reserving
from tests.budget.reserving import change, let, who


@pytest.fixture
def project(lead: User) -> Project:
    return reserving.build(lead)


def draft(**changes) -> risks.RiskDraft:
    facts = {"what": "Leak after the pour", "chance": Decimal("0.04"), "cost_minor": 24_000_00, "days": 9}
    return risks.RiskDraft(**(facts | changes))


def add(project: Project, by: User, **changes) -> Risk:
    return risks.add_risk(project, draft(**changes), **who(by))


def test_a_risk_gets_the_next_free_code(project: Project, lead: User):
    add(project, lead, code="R07")
    assert add(project, lead).code == "R08"
    assert add(project, lead, code="Rain").code == "Rain" and add(project, lead).code == "R09"


def test_a_taken_code_is_refused_whatever_its_case(project: Project, lead: User):
    add(project, lead, code="R07")
    with pytest.raises(Refused, match="r07 is taken"):
        add(project, lead, code="r07")


def test_a_risk_keeps_who_watches_it_and_how(project: Project, lead: User):
    line = builders.line(project)
    risk = add(project, lead, line_id=line.pk, owner=" Site lead ", response="Hold pressure through the pour")
    assert (risk.line, risk.owner, risk.response, risk.state) == (
        line,
        "Site lead",
        "Hold pressure through the pour",
        "open",
    )


HOSTILE = {
    "no words": ({"what": "  "}, "what"),
    "not a number": ({"chance": Decimal("NaN")}, "chance"),
    "above certain": ({"chance": Decimal("1.01")}, "chance"),
    "below impossible": ({"chance": Decimal("-0.1")}, "chance"),
    "endless": ({"chance": Decimal("Infinity")}, "chance"),
    "too fine": ({"chance": Decimal("0." + "1" * 60)}, "chance"),
    "a gain": ({"cost_minor": -1}, "cost"),
    "absurd": ({"cost_minor": 10**18}, "cost"),
    "days back": ({"days": -1}, "days"),
    "an age": ({"days": 100_000}, "days"),
    "a novel": ({"response": "x" * 301}, "response"),
    "a long code": ({"code": "R" * 13}, "code"),
}


@pytest.mark.parametrize("what", HOSTILE)
def test_what_no_register_holds_is_refused_at_its_field(project: Project, lead: User, what: str):
    changes, field = HOSTILE[what]
    with pytest.raises(Refused) as fault:
        add(project, lead, **changes)
    assert fault.value.field == field and Risk.objects.count() == 0


def test_a_line_of_another_build_is_not_there(project: Project, lead: User, outsider: User):
    theirs = builders.line(builders.project(outsider, name="Theirs"))
    with pytest.raises(Refused, match="no such line"):
        add(project, lead, line_id=theirs.pk)


def test_an_edit_is_told_with_the_figures_after_it(project: Project, lead: User):
    risk = add(project, lead)
    risks.edit_risk(risk, draft(chance=Decimal("0.5"), response="Test again"), version=1, **who(lead))
    risk.refresh_from_db()
    told = TrailEntry.objects.get(subject="risk", verb="edited").details
    assert (risk.chance, risk.version, told["chance"], told["response"]) == (Decimal("0.5"), 2, "0.5", "Test again")


def test_the_second_of_two_edits_is_told_what_stands(project: Project, lead: User):
    risk = add(project, lead)
    risks.edit_risk(risk, draft(days=3), version=1, **who(lead))
    with pytest.raises(Stale) as fault:
        risks.edit_risk(risk, draft(days=5), version=1, **who(lead))
    assert (fault.value.theirs["days"], fault.value.theirs["version"]) == (3, 2)


def shut(risk: Risk, by: User, state: str = Risk.State.CLOSED, **terms) -> Risk:
    return risks.close_risk(risk, **({"state": state, "note": "the test held"} | who(by) | terms))


def test_a_risk_that_happened_names_its_change(project: Project, lead: User):
    made = change(let(project), 500)
    risk = shut(add(project, lead), lead, Risk.State.HAPPENED, change_id=made.pk)
    assert (risk.state, risk.change) == ("happened", made)


def test_a_risk_that_passed_became_no_change(project: Project, lead: User):
    made = change(let(project), 500)
    with pytest.raises(Refused, match="Only a risk that happened"):
        shut(add(project, lead), lead, change_id=made.pk)


def test_a_change_of_another_build_is_not_there(project: Project, lead: User, outsider: User):
    theirs = change(let(builders.project(outsider, name="Theirs")), 500)
    with pytest.raises(Refused, match="no such change"):
        shut(add(project, lead), lead, Risk.State.HAPPENED, change_id=theirs.pk)
    assert Change.objects.count() == 1


def test_how_it_went_has_to_be_said(project: Project, lead: User):
    with pytest.raises(Refused, match="how it went"):
        shut(add(project, lead), lead, note=" ")


def test_an_open_state_closes_nothing(project: Project, lead: User):
    with pytest.raises(Refused, match="whether it happened"):
        shut(add(project, lead), lead, Risk.State.OPEN)


def test_a_closed_risk_is_neither_closed_nor_edited_again(project: Project, lead: User):
    risk = shut(add(project, lead), lead)
    with pytest.raises(Refused, match="is closed already"):
        shut(risk, lead)
    with pytest.raises(Refused, match="is closed already"):
        risks.edit_risk(risk, draft(), version=risk.version, **who(lead))
