"""The pages that tie work to money and to answers, and the rows of what an option does to the plan."""

import pytest
from django.test import Client
from django.urls import reverse

from decisions.models import ActivityLine, DecisionActivity, Option, OptionPlan
from projects.models import Project, User
from tests import builders
from tests.decisions import building

pytestmark = pytest.mark.django_db


def rows(prefix: str, *found: dict[str, object]) -> dict[str, str]:
    """A formset as a browser sends it."""
    sent = {f"{prefix}-TOTAL_FORMS": str(len(found)), f"{prefix}-INITIAL_FORMS": "0"}
    return sent | {
        f"{prefix}-{place}-{name}": str(value) for place, row in enumerate(found) for name, value in row.items()
    }


@pytest.fixture
def as_lead(lead: User, project: Project) -> Client:
    return builders.signed_in(lead)


def test_lines_of_an_activity_are_chosen_by_code(project: Project, as_lead: Client):
    pour, line = builders.activity(project, "A1"), builders.line(project, "L0301")
    address = reverse("sequence_lines:lines", args=[project.slug, pour.pk])
    assert "L0301" in as_lead.get(address).content.decode()
    answer = as_lead.post(address, rows("lines", {"line": "L0301"}))
    assert answer.status_code == 302
    assert list(ActivityLine.objects.values_list("activity", "line")) == [(pour.pk, line.pk)]


def test_a_line_that_is_not_there_is_named(project: Project, as_lead: Client):
    pour = builders.activity(project, "A1")
    address = reverse("sequence_lines:lines", args=[project.slug, pour.pk])
    answer = as_lead.post(address, rows("lines", {"line": "L0999"}))
    assert answer.status_code == 422 and "There is no line “L0999”" in answer.content.decode()


def test_work_waits_for_an_answer(project: Project, as_lead: Client):
    asked = building.tank(project)
    answer = builders.activity(project, "A1", 0, kind="decision")
    frame = builders.activity(project, "A2", 5)
    address = reverse("decisions:work", args=[project.slug, asked.pk])
    sent = {"answer": answer.pk} | rows("works", {"work": "A2"})
    assert as_lead.post(address, sent).status_code == 302
    assert set(DecisionActivity.objects.values_list("activity", flat=True)) == {answer.pk, frame.pk}
    shown = as_lead.get(address).content.decode()
    assert f'<option value="{answer.pk}" selected>' in shown and 'value="A2 · Work A2"' in shown


def option_form(project: Project, **more: object) -> dict[str, str]:
    return (
        {name: str(value) for name, value in ({"name": "Kerbs"} | more).items()}
        | rows("items", {"price": f"{project.lines.get(code='L0303').pk}:", "amount": "14,000"})
        | rows("effects")
        | rows("axes")
    )


def test_what_an_option_does_to_the_plan_is_entered_in_rows(project: Project, as_lead: Client):
    asked = building.tank(project)
    for code in ("A1", "A2", "A3"):
        builders.activity(project, code, 5)
    builders.calendar(project, "Crew")
    address = reverse("decisions:add_option", args=[project.slug, asked.pk])
    changed = rows(
        "changed",
        {"activity": "A1", "what": "takes", "days": 8},
        {"activity": "A2", "what": "waits", "after": "A1"},
        {"activity": "A3", "what": "out"},
    )
    added = rows("added", {"code": "N1", "name": "Second lift", "days": 2, "after": "A1", "before": "A2"})
    answer = as_lead.post(address, option_form(project) | changed | added)
    assert answer.status_code == 302, answer.content.decode()
    plan = OptionPlan.objects.get(option__name="Kerbs")
    assert plan.changes == {
        "duration": {"A1": 8},
        "links": [{"id": "A2", "after": "A1"}, {"id": "A2", "after": "N1"}],
        "remove": ["A3"],
        "add": [{"id": "N1", "name": "Second lift", "duration": 2, "after": [{"id": "A1"}]}],
    }
    shown = as_lead.get(
        reverse("decisions:edit_option", args=[project.slug, asked.pk, plan.option_id])
    ).content.decode()
    for name in ("Second lift", 'value="A2"', 'name="changed-2-activity"', 'value="N1"'):
        assert name in shown


def test_a_circle_is_refused_with_its_members_named(project: Project, as_lead: Client):
    asked = building.tank(project)
    builders.activity(project, "A1", 5)
    builders.activity(project, "A2", 5, after=["A1"])
    address = reverse("decisions:add_option", args=[project.slug, asked.pk])
    changed = rows("changed", {"activity": "A1", "what": "waits", "after": "A2"})
    answer = as_lead.post(address, option_form(project) | changed | rows("added"))
    told = answer.content.decode()
    assert answer.status_code == 422 and "in a circle" in told and not Option.objects.filter(name="Kerbs").exists()
    assert 'value="A1"' in told  # what was typed is still there


def test_days_by_hand_and_the_plan_are_not_said_both(project: Project, as_lead: Client):
    asked = building.tank(project)
    builders.activity(project, "A1", 5)
    address = reverse("decisions:add_option", args=[project.slug, asked.pk])
    changed = rows("changed", {"activity": "A1", "what": "takes", "days": 8})
    answer = as_lead.post(address, option_form(project, extra_days=3) | changed | rows("added"))
    assert answer.status_code == 422 and "one of the two" in answer.content.decode()


def test_a_project_without_a_plan_asks_for_days_by_hand(project: Project, as_lead: Client):
    asked = building.tank(project)
    address = reverse("decisions:add_option", args=[project.slug, asked.pk])
    assert "changed-TOTAL_FORMS" not in as_lead.get(address).content.decode()
    assert as_lead.post(address, option_form(project, extra_days=3)).status_code == 302
    assert Option.objects.get(name="Kerbs").extra_days == 3


def test_a_milestone_that_may_not_come_before_a_day_shows_that_day(project: Project, as_lead: Client):
    asked = building.tank(project)
    builders.activity(project, "A1", 0, kind="milestone")
    address = reverse("decisions:add_option", args=[project.slug, asked.pk])
    changed = rows("changed", {"activity": "A1", "what": "not before", "on": "2027-03-01"})
    assert as_lead.post(address, option_form(project) | changed | rows("added")).status_code == 302
    plan = OptionPlan.objects.get(option__name="Kerbs")
    assert plan.changes == {"not_before": {"A1": "2027-03-02"}}  # the engine lets work begin the day after
    shown = as_lead.get(
        reverse("decisions:edit_option", args=[project.slug, asked.pk, plan.option_id])
    ).content.decode()
    assert 'value="2027-03-01"' in shown


def test_a_row_that_is_added_in_the_page_offers_the_same(project: Project, as_lead: Client):
    """The page adds rows from a blank one, which has to know the calendars and the quotes as the others do."""
    asked = building.tank(project)
    builders.calendar(project, "Crew on nights")
    builders.activity(project, "A1", 5)
    shown = as_lead.get(reverse("decisions:add_option", args=[project.slug, asked.pk])).content.decode()
    blank = shown.split("<template data-row-blank>")
    assert any("Crew on nights" in part.split("</template>")[0] for part in blank[1:])
    assert any("Quillstone" in part.split("</template>")[0] for part in blank[1:])
