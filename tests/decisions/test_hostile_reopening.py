"""Reopening a decision after the world has moved on."""

from datetime import timedelta
from typing import Any

import pytest

from budget.models import LineItem, OwnForecast, Quote, QuoteLine
from budget.services import agreements, ledger, lines, quotes
from decisions.models import Decision
from decisions.services import records
from projects.faults import Refused
from projects.models import Project, Role, User
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building


@pytest.fixture
def who(lead: User) -> dict[str, Any]:
    return {"by": lead, "now": NOW, "today": TODAY}


@pytest.fixture
def tank(project: Project) -> Decision:
    return building.tank(project)


def line_of(decision: Decision) -> LineItem:
    return LineItem.objects.select_related("project").get(decision_lines__decision=decision)


def test_an_own_forecast_comes_back_when_nobody_entered_another(tank: Decision, who: dict) -> None:
    lines.forecast_own(line_of(tank), amount_minor=111, reason="a feeling", **who)
    building.record(tank, "B")
    records.reopen(tank, reason="not yet", **who)
    assert line_of(tank).likely_minor == 111


def test_a_newer_own_forecast_is_not_written_over(tank: Decision, who: dict) -> None:
    line = line_of(tank)
    lines.forecast_own(line, amount_minor=111, reason="a feeling", **who)
    building.record(tank, "B")
    lines.forecast_own(line, amount_minor=222, reason="a better one", **who)
    records.reopen(tank, reason="not yet", **who)
    assert line_of(tank).likely_minor == 222 and OwnForecast.objects.filter(amount_minor=111).count() == 1
    assert ledger.unreconciled(line.project) == []


def test_quotes_that_ran_out_meanwhile_do_not_count_again(tank: Decision, who: dict) -> None:
    building.record(tank, "B")
    records.reopen(tank, reason="not yet", **who | {"today": TODAY + timedelta(days=60)})
    line = line_of(tank)
    assert (line.state, line.likely_minor) == ("unquoted", line.budget_minor)
    assert ledger.unreconciled(line.project) == []


def test_a_preferred_quote_that_was_declined_is_preferred_again(tank: Decision, who: dict) -> None:
    first, second = Quote.objects.order_by("pk")
    quotes.prefer(QuoteLine.objects.get(quote=first), preferred=True, **who)
    building.record(tank, "B")
    records.reopen(tank, reason="not yet", **who)
    assert line_of(tank).likely_minor == 2_000_000
    quotes.prefer(QuoteLine.objects.get(quote=second), preferred=True, **who)
    assert QuoteLine.objects.filter(preferred=True).count() == 1 and line_of(tank).likely_minor == 1_500_000


def test_a_decision_is_reopened_once(tank: Decision, who: dict) -> None:
    building.record(tank, "B")
    records.reopen(tank, reason="not yet", **who)
    with pytest.raises(Refused, match="nothing to take back"):
        records.reopen(tank, reason="not yet", **who)


def test_an_option_whose_quote_was_accepted_elsewhere_cannot_be_recorded(tank: Decision, who: dict) -> None:
    second = Quote.objects.order_by("pk")[1]
    agreements.accept_quote(second, role=Role.LEAD, **who)
    with pytest.raises(Refused):
        building.record(Decision.objects.get(pk=tank.pk), "B")
    assert Decision.objects.get(pk=tank.pk).state == Decision.State.OPEN
    assert ledger.unreconciled(tank.project) == []


def test_one_quote_for_two_lines_is_taken_by_one_decision(project: Project, who: dict) -> None:
    first, second = builders.line(project, "L0101"), builders.line(project, "L0102")
    rows = (quotes.QuotedLine(first.pk, 100_000), quotes.QuotedLine(second.pk, 200_000))
    both = quotes.log_quote(project, quotes.QuoteDraft("Aridlow", "GBP", TODAY, rows), **who)
    made = [building.decision(project, line) for line in (first, second)]
    for decision, line in zip(made, (first, second), strict=True):
        building.option(decision, "Theirs", building.priced(line, quote=both))
        building.option(decision, "Ours", building.priced(line, amount=900))
    building.record(made[0], "A")
    with pytest.raises(Refused):
        building.record(made[1], "A")
    building.record(made[1], "B")
    assert ledger.unreconciled(project) == []
