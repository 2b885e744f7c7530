"""The owners' page: what it tells, to whom, and how much it asks of the database."""

import re
from typing import Any

import pytest
from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext

from budget.services import lines
from decisions.models import Decision
from decisions.services import records
from projects.models import Project, User
from reports.demo import load
from reports.selectors import owners
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building


def words(response) -> str:
    """What a reader reads: no tags, single spaces."""
    text = re.sub(r"<(script|style)\b.*?</\1>", " ", response.content.decode(), flags=re.DOTALL)
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text))


def at(project: Project) -> str:
    return f"/p/{project.slug}/owners/"


def told(project: Project) -> owners.Content:
    return owners.content(project, on=TODAY, last=None)


@pytest.fixture(scope="module")
def demo_content(django_db_setup: None, django_db_blocker: Any) -> Any:
    """What the owners of the demo are told; built once, inside a transaction that is rolled back."""
    with django_db_blocker.unblock(), transaction.atomic():
        demo = load.load()
        yield owners.content(demo, on=demo.held_on, last=None)
        transaction.set_rollback(True)


def test_a_build_without_a_budget_says_so(project: Project, lead: User) -> None:
    assert "There is no budget yet" in words(builders.signed_in(lead).get(at(project)))


def test_likely_final_and_bridge_add_up(project: Project) -> None:
    building.record(building.tank(project), "B")
    page = told(project)
    assert page["total"]["budget"] + sum(step["amount"] for step in page["bridge"]) == page["total"]["likely"]
    assert page["total"]["likely"] == 1_500_000


def test_the_reason_is_the_largest_cause_that_pulls_the_same_way(project: Project) -> None:
    building.record(building.tank(project), "B")
    line = builders.line(project, "L2", budget=1_000)
    lines.forecast_own(line, amount_minor=150_000, reason="dearer", by=builders.lead_of(project), now=NOW, today=TODAY)
    page = told(project)
    assert page["total"]["over_budget"] == -50_000
    assert page["reason"]["amount"] == min(step["amount"] for step in page["bridge"])


def test_a_decision_tells_option_reason_both_yardsticks_and_what_was_turned_down(project: Project) -> None:
    building.record(building.tank(project), "B", reason="can still be levelled")
    (row,) = told(project)["taken"]
    assert (row["option"], row["reason"]) == ("B Frame", "can still be levelled")
    assert (row["against_original_minor"], row["over_minor"]) == (-500_000, -100_000)
    assert row["rejected"] == {"name": "A Plinth", "dearer_minor": 500_000, "fails": []}


def test_a_cheaper_option_that_was_barred_is_named_with_the_check_it_fails(project: Project) -> None:
    decision = building.tank(project, checks=("Carries the load",), verdict="fails")
    building.record(decision, "A")
    (row,) = told(project)["taken"]
    assert row["rejected"] == {"name": "B Frame", "dearer_minor": -500_000, "fails": ["Carries the load"]}


def test_an_overruled_check_is_told_to_the_owners(project: Project, owner: User) -> None:
    decision = building.tank(project, checks=("Carries the load",), verdict="fails")
    check = decision.must_passes.get()
    building.record(decision, "B", overruled={check.pk: "the engineer agreed a smaller load"})
    page = words(builders.signed_in(owner).get(at(project)))
    assert "Does not pass “Carries the load”; overruled: the engineer agreed a smaller load" in page


def test_a_saving_that_is_no_saving_stands_beside_and_is_not_added(project: Project) -> None:
    drafts = (records.SavingDraft("same for less", 300_000), records.SavingDraft("scope cut", 200_000))
    building.record(building.tank(project), "B", savings=drafts)
    page = told(project)
    assert page["savings"]["counted_minor"] == 300_000
    assert [(part["kind"], part["amount_minor"]) for part in page["savings"]["kept"]] == [("scope cut", 200_000)]


@pytest.fixture
def waiting(project: Project) -> Decision:
    """A decision above what the lead may commit."""
    decision = building.tank(project, plinth=40_000, frame=30_000)
    building.record(decision, "B")
    return Decision.objects.get(pk=decision.pk)


def test_a_decision_that_waits_is_asked_of_the_owner_with_a_way_to_answer(
    waiting, project: Project, owner: User
) -> None:
    response = builders.signed_in(owner).get(at(project))
    assert "1 thing waits for an owner" in words(response) and "Look and answer" in words(response)
    assert f"/p/{project.slug}/choices/{waiting.pk}/#answer" in response.content.decode()


@pytest.mark.parametrize("who", ["lead", "bookkeeper", "viewer"])
def test_nobody_else_is_asked(waiting, who: str, project: Project, request: pytest.FixtureRequest) -> None:
    page = words(builders.signed_in(request.getfixturevalue(who)).get(at(project)))
    assert "1 thing waits for an owner" in page and "Look and answer" not in page


def test_the_largest_three_are_named_in_their_order(project: Project, lead: User) -> None:
    for code, over in (("L1", 100), ("L2", 400), ("L3", 300), ("L4", 200), ("L5", -50)):
        line = builders.line(project, code, budget=1_000)
        amount = (1_000 + over) * 100
        lines.forecast_own(line, amount_minor=amount, reason="seen", by=lead, now=NOW, today=TODAY)
    page = told(project)
    assert [(row["code"], row["over"]) for row in page["over"]] == [("L2", 40_000), ("L3", 30_000), ("L4", 20_000)]
    assert page["saved"] == []


def test_lines_without_an_original_quote_are_never_called_saved(project: Project) -> None:
    builders.line(project, "L1")
    building.record(building.tank(project), "B")
    assert [(row["code"], row["extra"]) for row in told(project)["saved"]] == [("L0303", -500_000)]


def test_contingency_is_kept_apart(lead: User) -> None:
    project = builders.project(lead, contingency=5_000, name="With contingency")
    builders.line(project, budget=10_000)
    page = told(project)
    assert page["contingency"] == {"start": 500_000, "left": 500_000} and page["total"]["likely"] == 1_000_000


def test_dates_of_a_content_become_dates_again_for_a_page() -> None:
    shown = owners.shown(
        {"on": "2027-01-29", "code": "2027-01-29", "rows": [{"taken_on": "2027-01-28", "reason": "on"}]}
    )
    assert (shown["on"], shown["code"]) == (TODAY, "2027-01-29")
    assert (shown["rows"][0]["taken_on"].day, shown["rows"][0]["reason"]) == (28, "on")


def asked(client: Client, address: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert client.get(address).status_code == 200
    return len(seen)


def test_the_page_asks_a_stated_number_of_times_whatever_the_size(project: Project, lead: User) -> None:
    client = builders.signed_in(lead)
    building.record(building.tank(project), "B")
    client.post(f"{at(project)}issue/")
    asked(client, at(project))
    once = asked(client, at(project))
    for number in range(8):
        line = builders.line(project, f"L{number}")
        builders.quote(line, 9_000)
        decision = builders.decision(line)
        choice = records.Choice(decision.options.get(key="A").pk, "cheaper")
        records.record(decision, choice, by=lead, role="lead", now=NOW, today=TODAY)
    assert asked(client, at(project)) == once <= 44


def test_an_outsider_finds_nothing(project: Project, outsider: User) -> None:
    assert builders.signed_in(outsider).get(at(project)).status_code == 404


def test_the_paper_of_today_is_a_pdf(project: Project, owner: User) -> None:
    builders.line(project)
    answer = builders.signed_in(owner).get(f"{at(project)}pdf/")
    assert answer["Content-Type"] == "application/pdf" and answer.content.startswith(b"%PDF-")
    assert answer["Content-Disposition"] == 'inline; filename="owners-2027-01-29.pdf"'


def test_the_contingency_is_told_with_its_cover_and_funds_against_what_is_to_be_paid(
    demo_content: owners.Content,
) -> None:
    pot, funds = demo_content["reserve"], demo_content["funds"]
    assert (pot["left"], pot["risk"], pot["signal"]) == (69_320_00, 20_231_00, "amber")
    assert pot["open"] == pot["risk"] + pot["spread"]
    assert (
        funds["room"] == funds["promised"] - funds["likely"] == funds["available"] - funds["to_complete"] == 93_858_00
    )
    assert funds["room_after_risk"] == 73_627_00


def test_a_change_above_the_leads_limit_is_asked_of_the_owners(demo_content: owners.Content) -> None:
    assert [row["code"] for row in demo_content["changes"]] == ["C11", "C13"]
    assert owners.for_page(demo_content)["asks"] == len(demo_content["asked"]) + 2


def test_a_report_of_before_still_opens_without_what_it_did_not_tell(project: Project) -> None:
    building.record(building.tank(project), "B")
    old = {key: part for key, part in told(project).items() if key not in owners.NOT_YET}
    page = owners.for_page(old)
    assert (page["reserve"], page["funds"], page["weeks"], page["asks"]) == (None, None, [], 0)
