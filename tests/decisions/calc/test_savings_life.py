from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from decisions.calc import savings_life
from tests.budget.calc.billed import LINES, STORY, pence
from tests.worked_tables import minor, table

#: What the story calls a saving that was bought: the same function for less, however it came about.
BOUGHT = ("true saving", "better quote", "negotiated")
NEVER = ("never counted", "idea")
SAVINGS = [row for row in STORY["savings_and_overages"] if row["kind"] in BOUGHT]
PROOFS = STORY["check_values"]["reconciliation_original_quote_to_forecast"]
AMOUNTS = st.integers(-(10**9), 10**9)


@pytest.mark.parametrize("row", table("savings-life.md", "Realised"), ids=lambda row: row["saving"])
def test_savings_realised_as_worked_by_hand(row):
    share = savings_life.invoiced_share(minor(row["invoiced"]), minor(row["agreed"]))
    assert str(share) == row["share"]
    assert savings_life.realised_minor(minor(row["saving"]), share) == minor(row["realised"])


@pytest.mark.parametrize("row", table("savings-life.md", "How far it has come"), ids=lambda row: row["state"])
def test_states_as_worked_by_hand(row):
    found = savings_life.state(
        row["stage"], let=row["let"] == "yes", invoiced_minor=minor(row["invoiced"]), closed=row["closed"] == "yes"
    )
    assert found == row["state"]


def realised(row):
    line = LINES[row["line"]]
    share = savings_life.invoiced_share(pence(line["invoiced_net"]), pence(line["agreed_in_base_at_budget_rate"]))
    return savings_life.realised_minor(pence(row["amount"]), share)


@pytest.mark.parametrize("row", SAVINGS, ids=lambda row: row["id"])
def test_savings_of_the_demo_come_true_as_its_story_tells(row):
    """Source: the demo's own figures, worked out apart from this program."""
    assert realised(row) == pence(row["realised"])


def test_what_is_realised_of_the_demo_adds_up_to_its_story():
    """Source: as above."""
    assert sum(map(realised, SAVINGS)) == pence(STORY["check_values"]["savings"]["realised_of_that"])


@pytest.mark.parametrize("row", SAVINGS, ids=lambda row: row["id"])
def test_states_of_the_demo_are_those_of_its_story(row):
    """Source: as above; the story says closed for banked."""
    line = LINES[row["line"]]
    found = savings_life.state(
        "decided", let=True, invoiced_minor=pence(line["invoiced_net"]), closed=line["state"] == "closed"
    )
    assert found == {"closed": "banked"}.get(row["state"], row["state"])


@pytest.mark.parametrize("proof", PROOFS, ids=lambda proof: proof["line"])
def test_the_entries_of_the_demo_explain_each_line_that_is_let(proof):
    """Source: as above; the entries are added up from the story's book and not taken from its proof."""
    line = LINES[proof["line"]]
    entries = sum(
        pence(row["amount"])
        for row in STORY["savings_and_overages"]
        if row["line"] == proof["line"] and row["state"] not in NEVER
    )
    figures = {"entries": entries, "moved": pence(proof["moved_to_another_line"])}
    figures |= {"likely_changes": pence(line["likely_changes"]), "plugs": pence(proof["plug_not_fully_likely"])}
    original, likely = pence(line["reference_quote_levelled"]), pence(line["forecast_final"])
    assert savings_life.unexplained(original, likely, **figures) == 0


def test_every_line_that_is_let_has_a_proof():
    let = [line for line in LINES.values() if line["state"] in ("agreed", "part-invoiced", "closed")]
    assert len(PROOFS) == len(let) == 40


@given(st.integers(-(10**6), 10**7), st.integers(1, 10**7))
def test_a_share_agrees_with_the_decimal_library(invoiced, agreed):
    exact = Fraction(min(max(invoiced, 0), agreed), agreed) * 10_000
    whole = (Decimal(exact.numerator * 2 + exact.denominator) / (2 * exact.denominator)).to_integral_value(
        "ROUND_FLOOR"
    )
    found = savings_life.invoiced_share(invoiced, agreed)
    assert found == whole.scaleb(-4) and 0 <= found <= 1


@given(AMOUNTS, st.integers(0, 10_000))
def test_what_is_realised_is_half_a_minor_unit_off_at_most(saving, steps):
    share = Decimal(steps).scaleb(-4)
    expected = (Decimal(saving) * share).quantize(Decimal(1), ROUND_HALF_UP)
    assert savings_life.realised_minor(saving, share) == expected
    assert savings_life.realised_minor(-saving, share) == -expected


@given(st.lists(st.integers(0, 10**6), max_size=6), st.integers(1, 10**7))
def test_a_saving_never_goes_back_as_bills_come_in(bills, agreed):
    order = [savings_life.DECIDED, savings_life.CONTRACTED, savings_life.PART_REALISED, savings_life.BANKED]
    steps = [savings_life.state("decided", let=False, invoiced_minor=0, closed=False)]
    shares, billed = [], 0
    for bill in [0, *bills]:
        billed += bill
        steps.append(savings_life.state("decided", let=True, invoiced_minor=billed, closed=False))
        shares.append(savings_life.invoiced_share(billed, agreed))
    steps.append(savings_life.state("decided", let=True, invoiced_minor=billed, closed=True))
    places = [order.index(step) for step in steps]
    assert places == sorted(places) and places[-1] == 3 and shares == sorted(shares)


@given(AMOUNTS, AMOUNTS, AMOUNTS, AMOUNTS, AMOUNTS)
def test_one_more_entry_explains_exactly_itself(original, likely, entries, moved, more):
    """Brute force: walking from the original quote to the likely final step by step."""
    walked = original - entries - moved
    figures = {"moved": moved, "likely_changes": 0, "plugs": 0}
    assert savings_life.unexplained(original, likely, entries=entries, **figures) == walked - likely
    assert savings_life.unexplained(original, likely, entries=entries + more, **figures) == walked - likely - more


@pytest.mark.parametrize(
    ("state", "expected"),
    [("banked", "1.0000"), ("part realised", "0.9000"), ("contracted", "0.0000"), ("idea", "0.0000")],
)
def test_all_of_a_saving_is_realised_once_its_lines_are_closed(state, expected):
    """Our rule, ADR 0127: a line that closes below its agreement has still saved all that it was let for less."""
    assert str(savings_life.realised_share(state, 900, 1000)) == expected
