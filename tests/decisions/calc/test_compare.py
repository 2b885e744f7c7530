import json
from dataclasses import replace
from decimal import Decimal, localcontext
from fractions import Fraction
from math import prod
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from decisions.calc import compare, costs
from decisions.calc.compare import AdjustFacts, DecisionFacts, EffectFact, ItemFact, MustPassFact, OptionFacts
from tests.decisions.calc.builders import decisions, worked_decision
from tests.reference_values import reference
from tests.worked_tables import minor, table

OPTIONS = json.loads(Path(__file__).with_name("options.json").read_text("utf-8"))["options"]


def pence(pounds):
    return round(Decimal(str(pounds)) * 100)


@pytest.mark.parametrize("row", table("compare.md", "Results"), ids=lambda row: row["option"])
def test_options_as_worked_by_hand(row):
    found = next(o for o in compare.compare(worked_decision()).options if o.id == row["option"])
    assert (found.days_later, found.float_used) == (int(row["days later"]), int(row["float used"]))
    money = {
        "first cost": found.first_cost_minor,
        "cost of days": found.cost_of_days_minor,
        "correction": found.correction_minor,
        "running": found.running_minor,
        "expected total": found.expected_total_minor,
        "saved": found.saved_minor,
        "over budget": found.over_budget_minor,
    }
    assert money == {column: minor(row[column]) for column in money}


def _option(row):
    return OptionFacts(
        row["option"],
        items=(ItemFact("price", pence(row["price"])),),
        effects=tuple(EffectFact("elsewhere", pence(amount)) for amount in row["effects"]),
        extra_days=row["extra"],
        float_days=row["float"],
        adjust=AdjustFacts(Decimal(str(row["chance"])), (), pence(row["cost"]), row["days"], row["float"]),
        yearly_minor=pence(row["upkeep"]) // 10,
        years=10,
    )


@pytest.mark.parametrize("row", OPTIONS, ids=lambda row: f"{row['decision']}{row['option']}")
def test_options_of_a_whole_build(row):
    """Source: the made-up build of options.json."""
    facts = DecisionFacts((_option(row),), 90000, pence(row["original"]))
    found = compare.compare(facts).options[0]
    assert found.expected_total_minor == pence(row["all_in"])
    assert (found.cost_of_days_minor, found.correction_minor) == (
        pence(row["time_cost"]),
        pence(row["expected_cost_of_change"]),
    )
    assert found.price_saved_minor == pence(row["original"]) - pence(row["price"])
    assert found.saved_minor == found.price_saved_minor - pence(sum(row["effects"]))


@pytest.mark.parametrize("decision", sorted({row["decision"] for row in OPTIONS}))
def test_the_best_of_each_decision_of_a_whole_build(decision):
    """Source: the made-up build of options.json."""
    rows = [row for row in OPTIONS if row["decision"] == decision]
    best = compare.compare(DecisionFacts(tuple(map(_option, rows)), 90000)).best
    assert [row["option"] for row in rows if row["lowest_all_in"]] == [best]


@pytest.mark.parametrize("row", table("compare.md", "Axes"), ids=lambda row: row["allows / spread"])
def test_chances_from_the_table_of_the_normal_distribution(row):
    axes = tuple((Decimal(ratio), Decimal(1)) for ratio in row["allows / spread"].split(" and "))
    assert round(costs.passes_an_allowance(axes), 4) == Decimal(row["chance"])


axes_given = st.lists(st.tuples(st.decimals(0, 50, places=2), st.decimals("0.01", 50, places=2)), max_size=3).map(tuple)


@given(axes_given)
def test_chances_agree_with_a_statistics_library(axes):
    """Oracle: scipy's normal distribution."""
    expected = 1 - prod(1 - 2 * stats.norm.sf(float(allows) / float(spread)) for allows, spread in axes)
    assert float(costs.passes_an_allowance(axes)) == pytest.approx(expected, abs=2e-12)


@given(axes_given)
def test_a_chance_lies_between_nothing_and_certainty_and_grows_with_each_axis(axes):
    chance = costs.passes_an_allowance(axes)
    assert 0 <= chance <= 1
    assert chance <= costs.passes_an_allowance((*axes, (Decimal(1), Decimal(1))))


def pairs(id_, inputs, expected):
    case = reference("alternatives", id_)
    return list(zip(case["inputs"][inputs], case["expected"][expected], strict=True))


@pytest.mark.parametrize(("years", "factor"), pairs("alt-pv-01", "years", "UPV"))
def test_present_values_of_the_published_table(years, factor):
    """Source: named in tests/reference/alternatives.json, alt-pv-01 (uniform present value at 3 %)."""
    assert float(costs.annuity(years, Decimal("0.03"))) == pytest.approx(factor, abs=0.005)


@pytest.mark.parametrize(("case", "factor"), pairs("alt-pv-03", "cases", "factors"), ids=str)
def test_present_values_of_an_annuity(case, factor):
    """Source: named in tests/reference/alternatives.json, alt-pv-03."""
    rate, years = case
    assert float(costs.annuity(years, Decimal(str(rate)))) == pytest.approx(factor, abs=0.0005)


@given(st.integers(0, 60), st.decimals("0.001", 1, places=3))
def test_present_value_is_the_sum_of_each_year_on_its_own(years, rate):
    with localcontext(prec=60):
        expected = sum(1 / (1 + rate) ** year for year in range(1, years + 1))
    assert abs(costs.annuity(years, rate) - Fraction(expected)) < Fraction(1, 10**40)


def test_delay_costs_turn_a_cheaper_price_around_as_in_the_reference():
    """Source: named in tests/reference/alternatives.json, alt-td-01."""
    case = reference("alternatives", "alt-td-01")
    options = tuple(
        OptionFacts(key, items=(ItemFact("price", row["cost"] * 100),), extra_days=row["delay_days"])
        for key, row in case["inputs"].items()
        if key != "rate_per_day"
    )
    found = compare.compare(DecisionFacts(options, case["inputs"]["rate_per_day"] * 100))
    assert [row.expected_total_minor // 100 for row in found.options] == [
        case["expected"]["total_A"],
        case["expected"]["total_B"],
    ]
    assert found.best == case["expected"]["cheaper"]
    assert found.flips[-1].flips_at == case["expected"]["breakeven_day_rate"] * 100


@given(decisions())
def test_the_parts_add_up_to_the_total(facts):
    for row, option in zip(compare.compare(facts).options, facts.options, strict=True):
        assert (
            row.expected_total_minor
            == row.first_cost_minor + row.cost_of_days_minor + row.correction_minor + row.running_minor
        )
        assert abs(row.expected_total_minor - costs.exact_total(option, facts.cost_of_day_minor)) <= 1


@given(decisions())
def test_best_is_the_lowest_that_passes(facts):
    found = compare.compare(facts)
    open_ = [row for row in found.options if row.passes is not False]
    assert (
        found.best
        == min(open_, key=lambda row: row.expected_total_minor, default=replace(found.options[0], id=None)).id
    )
    assert sum(row.chance_cheapest for row in found.options) == (1 if open_ else 0)


@given(decisions(), st.integers(0, 10**6))
def test_what_every_option_costs_more_changes_nothing(facts, more):
    dearer = replace(
        facts, options=tuple(replace(o, items=(*o.items, ItemFact("common", more, True))) for o in facts.options)
    )
    before, after = compare.compare(facts), compare.compare(dearer)
    assert after.best == before.best
    assert [row.expected_total_minor - more for row in after.options] == [
        row.expected_total_minor for row in before.options
    ]


@pytest.mark.parametrize(
    ("check", "met"),
    [
        (MustPassFact("load", Decimal(5), at_most=Decimal(5)), True),
        (MustPassFact("load", Decimal("5.01"), at_most=Decimal(5)), False),
        (MustPassFact("height", Decimal(5), at_least=Decimal(5)), True),
        (MustPassFact("height", Decimal("4.99"), at_least=Decimal(5)), False),
        (MustPassFact("height", Decimal(9), Decimal(8), Decimal(5)), False),
        (MustPassFact("view", verdict=True), True),
        (MustPassFact("view", Decimal(9), Decimal(8), verdict=True), True),
        (MustPassFact("view", verdict=False), False),
        (MustPassFact("view"), None),
    ],
)
def test_must_pass_checks(check, met):
    assert costs.check_passes(check) is met


def test_a_failed_check_bars_the_cheapest():
    low = OptionFacts("low", items=(ItemFact("x", 1),), must_pass=(MustPassFact("load", Decimal(6), Decimal(5)),))
    high = OptionFacts("high", items=(ItemFact("x", 9),), must_pass=(MustPassFact("load"),))
    found = compare.compare(DecisionFacts((low, high)))
    assert (found.best, [row.passes for row in found.options]) == ("high", [False, None])
    assert [row.chance_cheapest for row in found.options] == [0, 1]
    assert (found.options[0].failed, found.options[1].unknown) == (("load",), ("load",))


def test_without_a_passing_option_there_is_no_best():
    barred = OptionFacts("a", must_pass=(MustPassFact("load", verdict=False),))
    assert compare.compare(DecisionFacts((barred,))).best is None


def test_equal_options_share_the_chance_and_the_earlier_is_best():
    found = compare.compare(DecisionFacts((OptionFacts("a"), OptionFacts("b"))))
    assert (found.best, [row.chance_cheapest for row in found.options]) == ("a", [Fraction(1, 2)] * 2)


def test_without_an_original_or_a_budget_nothing_is_saved_or_over():
    row = compare.compare(DecisionFacts((OptionFacts("a"),))).options[0]
    assert (row.saved_minor, row.price_saved_minor, row.over_budget_minor) == (None, None, None)


def test_shared_items_count_and_are_named_once():
    options = tuple(OptionFacts(key, items=(ItemFact("slab", 500, True), ItemFact(key, 100))) for key in "ab")
    found = compare.compare(DecisionFacts(options))
    assert (found.shared, found.options[0].first_cost_minor) == (("slab",), 600)


def test_adjusting_without_a_chance_costs_nothing():
    option = OptionFacts("a", adjust=AdjustFacts(cost_minor=10**6, days=50))
    assert compare.compare(DecisionFacts((option,), 90000)).options[0].expected_total_minor == 0
