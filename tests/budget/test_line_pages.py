"""What the lead does to a line, and to the budget's structure."""

import pytest
from django.test import Client
from django.urls import reverse

from budget.models import LineItem, Movement, Trade
from budget.services import lines
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY, signed_in


def address(name: str, project: Project, *args: int) -> str:
    return reverse(f"budget:{name}", args=[project.slug, *args])


@pytest.fixture
def line(project: Project) -> LineItem:
    return builders.line(project, budget=10_000)


@pytest.fixture
def client(lead: User) -> Client:
    return signed_in(lead)


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_a_trade_and_its_first_line(client: Client, project: Project):
    client.post(address("add_trade", project), {"code": "T07", "name": "Electrical"})
    trade = Trade.objects.get(code="T07")
    data = {
        "trade": trade.pk,
        "code": "L0701",
        "description": "Supply",
        "kind": "work",
        "added": "no",
        "amount": "£12,400.00",
    }
    client.post(address("add_line", project), data)
    line = LineItem.objects.get(code="L0701")
    assert (line.budget_minor, line.likely_minor, line.trade) == (12_400_00, 12_400_00, trade)


def test_work_added_since_moves_the_likely_final_and_not_the_first_budget(client: Client, project: Project):
    trade = builders.trade(project)
    data = {"trade": trade.pk, "code": "L0109", "description": "Bund", "kind": "work", "added": "yes", "amount": "700"}
    client.post(address("add_line", project), data)
    line = LineItem.objects.get(code="L0109")
    assert (line.budget_minor, line.likely_minor, Movement.objects.get().cause) == (0, 700_00, "scope")


def test_a_taken_code_is_refused_at_its_field(client: Client, project: Project, line: LineItem):
    data = {
        "trade": line.trade_id,
        "code": "L0101",
        "description": "Again",
        "kind": "work",
        "added": "no",
        "amount": "1",
    }
    answer = client.post(address("add_line", project), data)
    assert (
        answer.status_code == 422 and "Line code L0101 is taken" in words(answer) and 'value="Again"' in words(answer)
    )


def test_the_next_code_of_a_trade_is_suggested(client: Client, project: Project, line: LineItem):
    assert 'value="L0102"' in words(client.get(address("add_line", project) + f"?trade={line.trade_id}"))


def test_an_edit_over_somebody_elses_shows_what_stands(client: Client, project: Project, line: LineItem, lead: User):
    mine = {"description": "Mine", "unit": "m", "quantity": "2", "plug_rule": "median", "version": line.version}
    theirs = mine | {"description": "Theirs", "quantity": None}
    lines.edit_line(line, by=lead, now=NOW, today=TODAY, **theirs)
    answer = client.post(address("edit_line", project, line.pk), mine)
    assert answer.status_code == 422 and 'value="Mine"' in words(answer) and "now stands</span> Theirs" in words(answer)
    line.refresh_from_db()
    assert line.description == "Theirs"


def test_an_estimate_and_an_own_forecast_and_lifting_it(client: Client, project: Project, line: LineItem):
    client.post(
        address("estimate", project, line.pk), {"amount": "11,000", "basis": "call", "estimated_on": "2027-01-29"}
    )
    line.refresh_from_db()
    assert line.likely_minor == 11_000_00
    client.post(address("own_forecast", project, line.pk), {"amount": "13,000", "reason": "I know them"})
    line.refresh_from_db()
    assert (line.likely_minor, line.state) == (13_000_00, "own forecast")
    client.post(address("own_forecast", project, line.pk), {"amount": "", "reason": "was wrong"})
    line.refresh_from_db()
    assert (line.likely_minor, line.state) == (11_000_00, "unquoted")


def test_an_own_forecast_needs_a_figure_unless_one_stands(client: Client, project: Project, line: LineItem):
    answer = client.post(address("own_forecast", project, line.pk), {"amount": "", "reason": "because"})
    assert answer.status_code == 422 and "Give an amount" in words(answer)


def entries(*rows: tuple[str, str], **more: str) -> dict[str, str]:
    named = {
        f"scope-{n}-{field}": value
        for n, row in enumerate(rows)
        for field, value in zip(("name", "plug"), row, strict=True)
    }
    return {"scope-TOTAL_FORMS": str(len(rows)), "scope-INITIAL_FORMS": "0"} | named | more


def test_the_scope_list_is_written_in_order_and_rows_can_go(client: Client, project: Project, line: LineItem):
    url = address("scope", project, line.pk)
    client.post(url, entries(("Pump", "400"), ("Skips", "")))
    assert list(line.scope.values_list("name", "plug_minor")) == [("Pump", 400_00), ("Skips", None)]
    client.post(url, entries(("Pump", "400"), ("Skips", ""), **{"scope-0-DELETE": "on"}))
    assert list(line.scope.filter(removed_at=None).values_list("name", flat=True)) == ["Skips"]


def test_the_same_piece_twice_is_refused_and_kept_on_the_page(client: Client, project: Project, line: LineItem):
    answer = client.post(address("scope", project, line.pk), entries(("Pump", "1"), ("pump", "2")))
    assert "needs a name of its own" in words(answer) and 'value="pump"' in words(answer) and not line.scope.exists()


def test_a_further_row_is_offered_without_saving(client: Client, project: Project, line: LineItem):
    answer = client.post(address("scope", project, line.pk), entries(("Pump", "1"), more_rows="scope"))
    assert 'name="scope-1-name"' in words(answer) and not line.scope.exists()


def test_the_original_quote_changes_only_with_a_reason(client: Client, project: Project, line: LineItem):
    builders.quote(line, 9_000)
    other = builders.quote(line, 9_900, vendor="Other")
    url = address("original", project, line.pk)
    assert client.post(url, {"quote": other.pk, "reason": ""}).status_code == 422
    client.post(url, {"quote": other.pk, "reason": "the first left out the pump"})
    line.refresh_from_db()
    assert (line.original_minor, line.likely_minor) == (9_900_00, 9_000_00)
    assert "the first left out the pump" in words(client.get(address("line", project, line.pk)))


def test_the_vendors_page_lists_each_once(client: Client, project: Project, line: LineItem):
    builders.quote(line, 9_000, vendor="Aridlow")
    builders.quote(line, 9_100, vendor="  ARIDLOW ")
    assert "1 vendor has quoted" in words(client.get(address("vendors", project)))


def test_the_second_to_save_a_scope_list_is_told_and_changes_nothing(client: Client, project: Project, line: LineItem):
    url = address("scope", project, line.pk)
    was = client.get(url).context["was"]
    client.post(url, entries(("Pump", "400"), was=was))
    answer = client.post(url, entries(("Skips", ""), was=was))
    assert answer.status_code == 200 and "Somebody saved this scope list meanwhile" in words(answer)
    assert 'value="Skips"' in words(answer)
    assert list(line.scope.values_list("name", flat=True)) == ["Pump"]
