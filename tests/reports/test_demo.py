"""The demo's stated figures come out of the services and selectors, not out of the file.

The scenario is invented, and so are its figures; they were worked out apart from this program, which makes them an
independent check.
"""

from decimal import Decimal
from functools import cache
from typing import Any

import pytest

from budget.models import LineItem, Quote, QuoteLine, Vendor
from budget.selectors.overview import overview
from budget.services import ledger
from decisions.models import Decision, Option, Record, Saving, SavingKind
from decisions.selectors import board as boards
from decisions.services import records
from projects.models import Project
from reports.demo import scenario

pytestmark = pytest.mark.django_db
minor = scenario.minor


@cache
def told() -> dict[str, Any]:
    return scenario.read()


def test_counts_are_the_scenarios(demo: Project) -> None:
    stated = told()["check_values"]
    seen = overview(demo)
    assert (seen.total.lines, Quote.objects.filter(project=demo).count()) == (stated["lines"], stated["quotes"])
    assert Vendor.objects.filter(project=demo).count() == stated["vendors"]
    assert Decision.objects.filter(project=demo).count() == stated["decisions"]
    assert Option.objects.filter(decision__project=demo).count() == stated["options"]


def test_budget_contingency_and_agreed_totals(demo: Project) -> None:
    stated, seen = told()["check_values"], overview(demo)
    assert seen.total.budget == minor(stated["baseline_total"])
    assert seen.contingency is not None and seen.contingency.start == minor(stated["contingency"])
    assert seen.total.agreed == minor(stated["agreed_total"])
    assert seen.total.changes == minor(stated["approved_changes_total"])
    assert seen.total.invoiced == minor(stated["invoiced_net_total"])
    assert seen.total.likely == minor(stated["forecast_total"])
    assert seen.total.over_budget == minor(stated["forecast_less_baseline"])


def test_every_trade_has_the_stated_figures(demo: Project) -> None:
    seen = {row.code: row.figures for row in overview(demo).trades}
    names = ("baseline", "agreed", "approved_changes", "invoiced", "forecast", "variance")
    for stated in told()["check_values"]["by_trade"]:
        figures = seen[stated["trade"]]
        assert figures.lines == stated["lines"]
        assert (
            figures.budget, figures.agreed, figures.changes, figures.invoiced, figures.likely, figures.over_budget,
        ) == tuple(minor(stated[name]) for name in names), stated["name"]  # fmt: skip


def test_every_quote_is_levelled_to_the_cent(demo: Project) -> None:
    kept = {row.quote.reference: row for row in QuoteLine.objects.filter(quote__project=demo).select_related("quote")}
    for stated in told()["quotes"]:
        row = kept[stated["id"]]
        assert (row.net_minor, row.levelled_minor) == (minor(stated["net_in_base"]), minor(stated["levelled_total"])), (
            stated["id"]
        )


def test_original_quotes_are_the_stated_ones(demo: Project) -> None:
    lines = {line.code: line for line in LineItem.objects.filter(project=demo)}
    for stated in told()["lines"]:
        original = stated["reference_quote_levelled"]
        assert lines[stated["code"]].original_minor == (None if original is None else minor(original))


def test_every_likely_final_is_the_stated_one_to_the_cent(demo: Project) -> None:
    lines = {line.code: line for line in LineItem.objects.filter(project=demo)}
    for stated in told()["lines"]:
        assert lines[stated["code"]].likely_minor == minor(stated["forecast_final"]), stated["code"]


def test_every_options_all_in_figure_is_its_expected_total(demo: Project) -> None:
    checked = 0
    for stated in told()["decisions"]:
        decision = Decision.objects.get(project=demo, code=stated["id"])
        outcomes = {row.id: row for row in boards.board(decision, today=demo.held_on).comparison.options}
        for option in stated["options"]:
            assert outcomes[option["key"]].expected_total_minor == minor(option["all_in_figure"]), (
                stated["id"],
                option["key"],
            )
            checked += 1
    assert checked == told()["check_values"]["options"]


def test_the_cheapest_option_is_the_stated_one_unless_a_must_have_bars_it(demo: Project) -> None:
    for stated in told()["decisions"]:
        decision = Decision.objects.get(project=demo, code=stated["id"])
        best = boards.board(decision, today=demo.held_on).comparison.best
        assert best == ("C" if stated["id"] == "D03" else stated["lowest_all_in"])


def test_scope_cut_is_named_and_kept_out_of_the_same_for_less(demo: Project) -> None:
    cuts = Saving.objects.filter(record__decision__project=demo, kind=SavingKind.SCOPE_CUT)
    assert [row.amount_minor for row in cuts] == [400000]


def test_records_above_the_limit_were_approved_and_their_hashes_hold(demo: Project) -> None:
    for record in Record.objects.filter(decision__project=demo):
        assert records.hash_of(record.frozen) == record.sha256
        assert record.needs_approval and record.approval.verdict == "approved"


def test_the_ledger_of_the_demo_reconciles(demo: Project) -> None:
    assert ledger.unreconciled(demo) == []
    seen = overview(demo)
    assert seen.total.budget + sum(step.amount for step in seen.bridge) == seen.total.likely


def test_planted_quote_with_tax_inside_is_found_net(demo: Project) -> None:
    row = QuoteLine.objects.select_related("quote").get(quote__project=demo, quote__reference="Q087")
    assert row.quote.tax_inside_percent == Decimal(20)
    assert row.net_minor == 3590000
