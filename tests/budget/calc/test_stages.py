from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc import stages
from budget.calc.stages import Advance, Stage, StagesDoNotAddUp
from tests.budget.calc.billed import STORY, pence
from tests.worked_tables import minor, table

AMOUNTS = st.integers(0, 10**12)


def _stage(cell):
    return Stage(cell, share=Decimal(cell[:-1])) if cell.endswith("%") else Stage(cell, amount_minor=minor(cell))


def _minors(cell):
    return tuple(minor(part) for part in cell.split("; "))


@pytest.mark.parametrize("row", table("stages.md", "Stages"), ids=lambda row: row["case"])
def test_stages_as_worked_by_hand(row):
    found = stages.amounts(minor(row["price"]), [_stage(cell) for cell in row["stages"].split("; ")])
    assert found == _minors(row["amounts"])
    assert stages.remaining(found, minor(row["billed"])) == _minors(row["still to be billed"])


DEPOSITS = [
    (invoice, quote["deposit_percent"])
    for invoice in STORY["invoices"]
    if (invoice["note"] or "").startswith("Deposit")
    for quote in STORY["quotes"]
    if (quote["line"], quote["vendor"], quote["state"]) == (invoice["line"], invoice["vendor"], "accepted")
]


@pytest.mark.parametrize(
    ("invoice", "percent"), DEPOSITS, ids=lambda found: found["id"] if isinstance(found, dict) else ""
)
def test_deposits_of_the_demo_are_what_its_story_bills(invoice, percent):
    """Source: the demo's own invoices, worked out apart from this program."""
    agreed = next(line["agreed_in_currency"] for line in STORY["lines"] if line["code"] == invoice["line"])
    plan = [Stage("Deposit", Decimal(percent)), Stage("On delivery", Decimal(100 - percent))]
    assert stages.amounts(pence(agreed), plan)[0] == pence(invoice["net_as_given"])


def test_the_demo_has_deposits_to_compare():
    assert len(DEPOSITS) == 5


@pytest.mark.parametrize(
    "plan",
    [
        [Stage("a", Decimal(50)), Stage("b", Decimal(49))],
        [Stage("a", Decimal(150)), Stage("b", Decimal(-50))],
        [Stage("a", amount_minor=101), Stage("b", Decimal(10))],
        [Stage("a", amount_minor=99)],
        [Stage("a", amount_minor=99), Stage("b", Decimal(0))],
        [],
    ],
)
def test_stages_that_cannot_come_to_the_price_are_refused(plan):
    with pytest.raises(StagesDoNotAddUp):
        stages.amounts(100, plan)


@pytest.mark.parametrize("stage", [Stage("a"), Stage("a", Decimal(100), 100)])
def test_a_stage_is_a_share_or_an_amount(stage):
    with pytest.raises(ValueError, match="one of the two"):
        stages.amounts(100, [stage])


def test_all_that_is_paid_is_at_risk_until_it_arrives():
    assert stages.exposed([Advance("a", 100, False), Advance("b", 70, True), Advance("c", -5, False)]) == 100


@given(AMOUNTS, st.lists(st.integers(0, 1000), max_size=5), st.lists(st.integers(0, 10**9), max_size=3))
def test_stages_come_to_the_price_and_agree_with_exact_shares(rest, cuts, fixed):
    """Brute force: each share of the rest in fractions, within a minor unit."""
    edges = [0, *sorted(cuts), 1000]
    tenths = [after - before for before, after in zip(edges, edges[1:], strict=False)]
    plan = [Stage("f", amount_minor=amount) for amount in fixed] + [Stage("s", Decimal(t) / 10) for t in tenths]
    found = stages.amounts(rest + sum(fixed), plan)
    assert sum(found) == rest + sum(fixed) and list(found[: len(fixed)]) == fixed
    for part, tenth in zip(found[len(fixed) :], tenths, strict=True):
        assert abs(part - Fraction(rest * tenth, 1000)) < 1


@given(st.lists(st.integers(0, 50), max_size=6), st.integers(-10, 400))
def test_what_remains_agrees_with_billing_unit_by_unit(parts, billed):
    """Brute force: every minor unit billed goes to the first stage that still wants one."""
    left = list(parts)
    for _ in range(max(0, billed)):
        place = next((n for n, part in enumerate(left) if part), None)
        if place is not None:
            left[place] -= 1
    assert stages.remaining(parts, billed) == tuple(left)


@given(st.lists(st.builds(Advance, st.just("a"), AMOUNTS, st.booleans()), max_size=6))
def test_what_arrives_is_no_longer_at_risk(advances):
    whole = sum(one.paid_minor for one in advances)
    here = sum(one.paid_minor for one in advances if one.arrived)
    assert stages.exposed(advances) == whole - here
