"""Every flip is held against a search: the input is set to many values, and the options are compared anew at each."""

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decisions.calc import compare, costs, flips
from decisions.calc.facts import AdjustFacts, DecisionFacts, ItemFact, MustPassFact, OptionFacts
from tests.decisions.calc.builders import decisions, worked_decision
from tests.reference_values import reference
from tests.worked_tables import minor, table


def best(facts):
    """The best option by exact totals, as the search sees it."""
    totals = [costs.exact_total(option, facts.cost_of_day_minor) for option in facts.options]
    open_ = [all(costs.check_passes(check) is not False for check in option.must_pass) for option in facts.options]
    return compare.best_place(list(zip(open_, totals, strict=True)))


def altered(facts, flip, value):
    """The decision with one input set to another value."""
    if flip.option is None:
        return replace(facts, cost_of_day_minor=value)
    return replace(
        facts, options=tuple(_altered(o, flip.input, value) if o.id == flip.option else o for o in facts.options)
    )


def _altered(option, name, value):
    place = int(found[0]) if (found := re.findall(r"\[(\d+)\]", name)) else 0
    plain = {
        "days.extra": "extra_days",
        "days.float": "float_days",
        "yearly_cost": "yearly_minor",
        "years": "years",
        "discount": "discount",
    }
    if name in plain:
        return replace(option, **{plain[name]: value})
    if name.startswith("adjust."):
        return replace(option, adjust=_adjusted(option.adjust, name, place, value))
    rows, field = {"i": ("items", "amount_minor"), "e": ("effects", "amount_minor"), "m": ("must_pass", "value")}[
        name[0]
    ]
    return replace(option, **{rows: _with(getattr(option, rows), place, lambda row: replace(row, **{field: value}))})


def _adjusted(adjust, name, place, value):
    if "axes" in name:
        change = (lambda axis: (value, axis[1])) if name.endswith("allows") else (lambda axis: (axis[0], value))
        return replace(adjust, axes=_with(adjust.axes, place, change))
    fields = {"chance": "chance", "cost": "cost_minor", "days": "days", "float": "float_days"}
    return replace(adjust, **{fields[name.removeprefix("adjust.")]: value})


def _with(rows, place, change):
    return (*rows[:place], change(rows[place]), *rows[place + 1 :])


def found(facts, kind):
    return [flip for flip in flips.find_flips(facts, best(facts)) if flip.kind == kind]


@pytest.mark.parametrize("row", table("compare.md", "Flips"), ids=lambda row: f"{row['option']} {row['input']}")
def test_flips_as_worked_by_hand(row):
    seen = compare.compare(worked_decision()).flips
    flip = next(flip for flip in seen if (flip.option, flip.input) == (row["option"], row["input"]))
    read = {"none": lambda _: None}.get(row["flips at"], minor if flip.kind == "money" else int)
    assert flip.flips_at == read(row["flips at"])


@settings(max_examples=40)
@given(decisions())
def test_whole_numbers_flip_where_a_count_from_now_first_sees_another_best(facts):
    """Oracle: every whole number is tried, outward from now, up to a bound past which only slow growth could flip."""
    now = best(facts)
    for flip in found(facts, "whole"):
        values = sorted(range(60 if flip.input != "years" else 40), key=lambda value: abs(value - flip.now))
        first = next((value for value in values if best(altered(facts, flip, value)) != now), None)
        if flip.flips_at is None or flip.flips_at <= values[-1]:
            assert first == flip.flips_at, flip
        else:
            assert first is None, flip


@settings(max_examples=50)
@given(decisions())
def test_money_flips_there_and_nowhere_nearer(facts):
    """Oracle: the best just past the value differs; at sixteen places before it, and at all sorts of places without one, it does not."""
    now = best(facts)
    for flip in found(facts, "money"):
        lowest = -(10**6) if flip.input.startswith("effects") else 0
        if flip.flips_at is None:
            tried = [lowest, 0, 1, 100, 10**4, 10**5, 10**7, 10**9, flip.now]
            assert {best(altered(facts, flip, value)) for value in tried} == {now}, flip
            continue
        gap = flip.flips_at - flip.now
        past = [
            flip.flips_at + step
            for step in (-1, 0, 1)
            if flip.flips_at + step >= lowest or flip.input.startswith("effects")
        ]
        assert {best(altered(facts, flip, value)) for value in past} - {now}, flip
        before = [flip.now + round(gap * part / 16) for part in range(16)]
        assert {best(altered(facts, flip, v)) for v in before if abs(v - flip.flips_at) > 1} <= {now}, flip


@settings(max_examples=50)
@given(decisions())
def test_numbers_flip_there_and_nowhere_nearer(facts):
    """Oracle: as for money; a step of one in a hundred thousand counts as just past."""
    now = best(facts)
    for flip in found(facts, "number"):
        lowest, highest = _range_of(flip)
        if flip.flips_at is None:
            tried = [lowest + (highest - lowest) * part / 16 for part in range(17)]
            assert {best(altered(facts, flip, value)) for value in tried} <= {now}, flip
            continue
        step = Decimal("0.00001")
        past = [value for value in (flip.flips_at - step, flip.flips_at, flip.flips_at + step) if _allowed(flip, value)]
        assert {best(altered(facts, flip, value)) for value in past} - {now}, flip
        before = [flip.now + (flip.flips_at - flip.now) * part / 16 for part in range(16)]
        assert {best(altered(facts, flip, v)) for v in before if abs(v - flip.flips_at) > step} <= {now}, flip


def _allowed(flip, value):
    """Whether the range of the input has the value: a spread is above 0, a chance or rate from 0 to 1."""
    if "must_pass" in flip.input:
        return True
    return value > 0 if "spread" in flip.input else value >= 0 if "axes" in flip.input else 0 <= value <= 1


def _range_of(flip):
    if "axes" in flip.input:
        return (Decimal("0.001"), Decimal(20))
    return (Decimal(-1000), Decimal(1000)) if "must_pass" in flip.input else (Decimal(0), Decimal(1))


def test_break_even_number_of_adjustments_as_in_the_reference():
    """Source: named in tests/reference/alternatives.json, alt-be-01; an adjustment a year, so years stand for adjustments."""
    case = reference("alternatives", "alt-be-01")
    options = tuple(
        OptionFacts(
            key, items=(ItemFact("fixed", row["fixed"] * 100),), yearly_minor=row["per_adjustment"] * 100, years=150
        )
        for key, row in case["inputs"].items()
    )
    totals = [costs.exact_total(replace(option, years=case["expected"]["n"]), 0) for option in options]
    assert totals == [case["expected"]["cost_at_n"] * 100] * 2


def test_a_leak_has_to_be_likelier_than_one_in_eight():
    """Source: the made-up build of options.json, decision D02: buried 38,160, trench 41,960; worked by hand: 3,800 / 30,400."""
    buried = OptionFacts("buried", items=(ItemFact("pipes", 3816000),), adjust=AdjustFacts(Decimal("0.1"), (), 3040000))
    trench = OptionFacts("trench", items=(ItemFact("pipes", 4196000),))
    seen = {
        flip.input: flip.flips_at
        for flip in compare.compare(DecisionFacts((buried, trench))).flips
        if flip.option == "buried"
    }
    assert seen["adjust.chance"] == Decimal("0.125")


def test_what_all_options_share_flips_nothing():
    options = tuple(
        OptionFacts(key, items=(ItemFact("slab", 500, True), ItemFact(key, price)))
        for key, price in (("a", 1), ("b", 9))
    )
    seen = {(flip.option, flip.input): flip.flips_at for flip in compare.compare(DecisionFacts(options)).flips}
    assert seen["a", "items[0].amount"] is None
    assert seen["a", "items[1].amount"] == 9


def test_one_option_alone_flips_only_by_failing():
    alone = OptionFacts(
        "a", items=(ItemFact("x", 5),), must_pass=(MustPassFact("load", Decimal(5), Decimal(7), Decimal(1)),)
    )
    seen = {flip.input: flip.flips_at for flip in compare.compare(DecisionFacts((alone,))).flips}
    assert seen == {
        "items[0].amount": None,
        "days.extra": None,
        "days.float": None,
        "must_pass[0].value": 7,
        "cost_of_day": None,
    }


def test_a_barred_option_comes_back_where_it_meets_its_bound():
    low = OptionFacts("low", items=(ItemFact("x", 1),), must_pass=(MustPassFact("load", Decimal(9), Decimal(7)),))
    seen = compare.compare(DecisionFacts((low, OptionFacts("high", items=(ItemFact("x", 9),)))))
    assert {flip.flips_at for flip in seen.flips if flip.option == "low" and flip.kind == "number"} == {7}
    assert {flip.flips_at for flip in seen.flips if flip.option == "low" and flip.kind == "money"} == {None}


@given(st.decimals("0.1", 3, places=2), st.decimals("0.1", 3, places=2))
def test_an_allowance_flips_where_the_chance_does(allows, spread):
    """Oracle: the chance at the allowance found equals the chance at which the totals meet."""
    axis = AdjustFacts(axes=((allows, spread),), cost_minor=100_000)
    facts = DecisionFacts((OptionFacts("a", adjust=axis), OptionFacts("b", items=(ItemFact("x", 25_000),))))
    flip = next(flip for flip in compare.compare(facts).flips if flip.input == "adjust.axes[0].allows")
    assert float(costs.passes_an_allowance(((flip.flips_at, spread),))) == pytest.approx(0.25, abs=1e-7)


def test_axes_beside_one_that_always_fails_flip_nothing():
    """Two axes of which one has no allowance at all: whatever the other does, the correction is sure."""
    axes = ((Decimal(0), Decimal(1)), (Decimal(2), Decimal(1)))
    stuck = OptionFacts("a", adjust=AdjustFacts(axes=axes, cost_minor=1000))
    seen = compare.compare(DecisionFacts((stuck, OptionFacts("b", items=(ItemFact("x", 500),))))).flips
    found_ = {flip.input: flip.flips_at for flip in seen if flip.option == "a"}
    assert found_["adjust.axes[1].allows"] is found_["adjust.axes[1].spread"] is found_["adjust.axes[0].spread"] is None
    assert found_["adjust.axes[0].allows"] > 0
