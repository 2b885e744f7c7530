from decimal import Decimal
from fractions import Fraction
from itertools import product
from math import prod, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from budget.calc import reserve
from budget.calc.reserve import RiskFact, Triangle, Unpriced
from tests.budget.calc.billed import STORY, pence
from tests.reference_values import reference
from tests.worked_tables import minor, table

DAY = pence(STORY["cost_of_one_day"]["used_for_days_that_move_opening"])
RISKS = st.lists(
    st.builds(
        RiskFact,
        st.just("R"),
        st.integers(0, 100).map(lambda part: Decimal(part) / 100),
        st.integers(0, 10**9),
        st.integers(0, 30),
    ),
    max_size=6,
)
TRIANGLES = st.lists(st.integers(0, 10**9), min_size=3, max_size=3).map(lambda found: Triangle(*sorted(found)))


def near(found, expected, tolerance):
    return abs(found - expected) <= max(tolerance.get("abs", 0), tolerance.get("rel", 0) * abs(expected))


@pytest.mark.parametrize("row", table("reserve.md", "Risks"), ids=lambda row: row["risk"])
def test_risks_as_worked_by_hand(row):
    risk = RiskFact(row["risk"], Decimal(row["chance"]), minor(row["cost"]), int(row["days"]))
    assert reserve.expected_minor(risk, DAY) == minor(row["on average"])


@pytest.mark.parametrize("row", table("reserve.md", "Lines without a firm price"), ids=lambda row: row["line"])
def test_spreads_as_worked_by_hand(row):
    highest = minor(row["highest quote"]) if row["highest quote"] else None
    line = Unpriced(row["line"], minor(row["likely"]), highest, row["firm"] == "yes")
    assert reserve.unpriced_spread([line]) == minor(row["spread"])


@pytest.mark.parametrize("row", table("reserve.md", "Cover"), ids=lambda row: row["left"])
def test_cover_as_worked_by_hand(row):
    found = reserve.cover(*(minor(row[name]) for name in ("left", "open risk", "spread")))
    assert (str(found.ratio).lower(), found.signal) == (row["ratio"], row["signal"])


def story_risks():
    return [RiskFact(r["id"], Decimal(str(r["chance"])), pence(r["cost"]), r["days"]) for r in STORY["risks"]]


def test_each_risk_of_the_demo_costs_what_its_story_states():
    """Source: the demo's own figures, worked out apart from this program."""
    found = {risk.code: reserve.expected_minor(risk, DAY) for risk in story_risks()}
    assert found == {row["id"]: pence(row["expected_cost"]) for row in STORY["risks"]}


def test_the_open_risk_of_the_demo_is_that_of_its_story():
    """Source: as above."""
    stated = pence(STORY["contingency"]["open_risk_expected_cost"])
    assert (reserve.register(story_risks(), DAY).expected_minor, len(story_risks())) == (stated, 14)


def test_a_register_of_the_reference():
    """Source: named in tests/reference/contingency.json, ctg-06 (standard probability, from memory)."""
    case = reference("contingency", "ctg-06")
    risks = [RiskFact("R", Decimal(str(r["p"])), r["impact"] * 100) for r in case["inputs"]["risks"]]
    found, expected, tolerance = reserve.register(risks), case["expected"], case["tolerance"]
    assert found.expected_minor == expected["emv"] * 100
    assert near(found.deviation_minor / 100, expected["sd"], tolerance)
    assert near(float(found.none_chance), expected["p_none"], tolerance)
    assert found.worst_minor == expected["worst"] * 100


def test_triangular_lines_of_the_reference():
    """Source: named in tests/reference/contingency.json, ctg-01 (standard probability, from memory)."""
    case = reference("contingency", "ctg-01")
    found = reserve.total([Triangle(*(part * 100 for part in line)) for line in case["inputs"]["lines"]])
    expected, tolerance = case["expected"], case["tolerance"]
    assert near(found.mean_minor / 100, expected["mean"], tolerance)
    assert near(found.deviation_minor / 100, expected["sd"], tolerance)
    for chance, name in ((Decimal("0.5"), "p50_normal"), (Decimal("0.8"), "p80_normal")):
        whole = reserve.at_confidence(found.mean_minor, found.deviation_minor, 0, chance)
        assert near(whole / 100, expected[name], tolerance)


def test_the_moments_of_two_triangles_of_the_reference():
    """Source: named in tests/reference/contingency.json, ctg-08 (from memory), its mean and variance."""
    case = reference("contingency", "ctg-08")
    lines = [Triangle(*(part * 1000 for part in line)) for line in case["inputs"]["lines"]]
    found = reserve.total(lines)
    assert found.mean_minor == case["expected"]["mean"] * 1000
    spread = reserve.deviation_of_sum([reserve.deviation(line) for line in lines])
    assert near(float(spread / 1000) ** 2, case["expected"]["variance"], case["tolerance"])


@pytest.mark.parametrize("place", range(3))
def test_correlated_sums_of_the_reference(place):
    """Source: named in tests/reference/contingency.json, ctg-03 (from memory)."""
    case = reference("contingency", "ctg-03")
    found = reserve.deviation_of_sum(
        [Decimal(one) for one in case["inputs"]["sd"]], Decimal(str(case["inputs"]["rho"][place]))
    )
    assert near(float(found), case["expected"]["sd"][place], case["tolerance"])
    assert near(float(found) ** 2, case["expected"]["variance"][place], case["tolerance"])


@pytest.mark.parametrize("place", range(4))
def test_contingency_to_a_confidence_of_the_reference(place):
    """Source: named in tests/reference/contingency.json, ctg-05 (from memory)."""
    case = reference("contingency", "ctg-05")
    mean, spread, base = (case["inputs"][name] * 100 for name in ("mean", "sd", "base"))
    found = reserve.at_confidence(mean, spread, base, Decimal(str(case["inputs"]["confidence"][place])))
    assert near(found / 100, case["expected"]["contingency"][place], case["tolerance"])


@pytest.mark.parametrize("confidence", [Decimal(0), Decimal(1), Decimal(-1)])
def test_no_sum_makes_certain(confidence):
    with pytest.raises(ValueError, match="between 0 and 1"):
        reserve.at_confidence(1, 1, 1, confidence)


@given(RISKS, st.integers(0, 10**6))
def test_a_register_agrees_with_trying_every_outcome(risks, day):
    """Brute force over all outcomes: each risk happens or does not."""
    found = reserve.register(risks, day)
    mean = square = none = Fraction(0)
    for happens in product([False, True], repeat=len(risks)):
        chance = prod(Fraction(r.chance if yes else 1 - r.chance) for r, yes in zip(risks, happens, strict=True))
        cost = sum(r.cost_minor + r.days * day for r, yes in zip(risks, happens, strict=True) if yes)
        mean, square = mean + chance * cost, square + chance * cost**2
        none += 0 if any(happens) else chance
    assert abs(found.expected_minor - mean) <= Fraction(len(risks), 2)
    assert abs(found.deviation_minor - sqrt(square - mean**2)) <= 1
    assert abs(Fraction(found.none_chance) - none) <= Fraction(1, 10**6)


@given(RISKS, st.integers(0, 10**6))
def test_the_average_is_never_beyond_the_worst(risks, day):
    found = reserve.register(risks, day)
    assert 0 <= found.expected_minor <= found.worst_minor and 0 <= found.none_chance <= 1


@given(TRIANGLES.filter(lambda cost: cost.high_minor > cost.low_minor))
def test_a_triangle_agrees_with_scipy(cost):
    width = cost.high_minor - cost.low_minor
    shape = stats.triang((cost.likely_minor - cost.low_minor) / width, cost.low_minor, width)
    assert float(reserve.deviation(cost)) == pytest.approx(shape.std(), rel=1e-6)
    assert reserve.total([cost]).mean_minor == pytest.approx(shape.mean(), abs=1)


@given(st.lists(TRIANGLES, min_size=1, max_size=5), st.integers(0, 100))
def test_moving_together_never_makes_a_sum_surer(costs, percent):
    apart, together = reserve.total(costs), reserve.total(costs, Decimal(percent) / 100)
    as_one = sum(reserve.deviation(cost) for cost in costs)
    assert apart.mean_minor == together.mean_minor
    assert apart.deviation_minor <= together.deviation_minor <= as_one + 1


@given(st.integers(1, 999))
def test_confidence_agrees_with_scipy(thousandths):
    found = reserve.at_confidence(0, 10**6, 0, Decimal(thousandths) / 1000)
    assert found == pytest.approx(stats.norm.ppf(thousandths / 1000) * 10**6, abs=1)


@given(st.integers(-(10**9), 10**9), st.integers(0, 10**9), st.integers(0, 10**9))
def test_the_ratio_shown_never_looks_better_than_its_signal(left, risk, spread):
    found = reserve.cover(left, risk, spread)
    if found.ratio is None:
        assert risk + spread == 0
    else:
        worst = "red" if found.ratio < 1 else "amber" if found.ratio < Decimal("1.5") else "well"
        assert found.signal == worst
        assert 0 <= Fraction(left, risk + spread) - Fraction(found.ratio) < Fraction(1, 100)


def test_only_a_wish_never_draws():
    assert [
        cause for cause in ("unforeseen condition", "owner's wish", "scope gap") if not reserve.may_draw(cause)
    ] == ["owner's wish"]
