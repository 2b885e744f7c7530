import json
import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc import forecast
from budget.calc.forecast import ChangeFact, LineFacts, QuoteFact, TransferFact
from tests.worked_tables import minor, table

TODAY = date(2026, 11, 25)
LINES = json.loads(Path(__file__).with_name("lines.json").read_text("utf-8"))["lines"]
#: Where the data takes the mean of an even number of quotes, or counts expired ones, and our rule does not.
OUR_RULE_DIFFERS = {"L0801": 52350, "L0901": 37080, "L1201": 28400}


def line(id_="1", budget=90000, **facts):
    return LineFacts(id_, "concrete", budget, **facts)


def maybe(cell):
    return minor(cell) if cell else None


def _quote(number, text):
    amount, *marks = text.split()
    until = date.fromisoformat(f"2026-{marks[marks.index('until') + 1]}") if "until" in marks else None
    return QuoteFact(
        str(number), minor(amount), date(2026, 9, 1), "incomplete" not in marks, until, "preferred" in marks
    )


def _change(text):
    status, amount, *chance = text.split()
    return ChangeFact(minor(amount), status, Decimal(chance[1]) if chance else Decimal(1))


def _from_row(row):
    return LineFacts(
        row["line"],
        "any",
        minor(row["budget"]),
        kind=row["kind"],
        closed=row["state"] == "closed",
        own_forecast_minor=maybe(row["own forecast"]),
        quotes=tuple(_quote(number, text) for number, text in enumerate(filter(None, row["quotes"].split("; ")))),
        original_minor=maybe(row["original"]),
        estimate_minor=maybe(row["estimate"]),
        agreed_minor=maybe(row["agreed"]),
        changes=tuple(_change(text) for text in filter(None, row["changes"].split("; "))),
        gaps_minor=maybe(row["gaps"]) or 0,
        still_to_let_minor=maybe(row["to let"]) or 0,
        invoiced_minor=maybe(row["invoiced"]) or 0,
        moved_minor=maybe(row["moved"]) or 0,
    )


@pytest.mark.parametrize("row", table("forecast.md", "Lines"), ids=lambda row: row["line"])
def test_likely_finals_as_worked_by_hand(row):
    outcome = forecast.likely_final(_from_row(row), as_of=TODAY)
    likely, original = minor(row["likely final"]), maybe(row["original"])
    assert (outcome.state, outcome.likely_minor) == (row["state"], likely)
    assert outcome.over_budget_minor == likely - minor(row["budget"])
    assert outcome.against_original_minor == (None if original is None else likely - original)


def test_contingency_as_worked_by_hand():
    rows = table("forecast.md", "Contingency")
    lines = [line(row["line"], minor(row["budget"]), own_forecast_minor=minor(row["likely final"])) for row in rows]
    moves = [TransferFact("aside", "Slab", 25000), TransferFact("Paint", "aside", 4000)]
    seen = forecast.forecast([*lines, line("aside", 100000, kind="contingency")], moves, as_of=TODAY)
    assert seen.contingency == forecast.Contingency(100000, 21000, 79000, 17000)
    assert seen.contingency.uncovered_minor == sum(minor(row["over its moved budget"]) for row in rows)


def pence(pounds):
    return round(Decimal(str(pounds)) * 100)


def _of_the_build(row):
    return LineFacts(
        row["line"],
        row["trade"],
        pence(row["budget"]),
        closed=row["closed"],
        quotes=tuple(
            QuoteFact(str(n), pence(amount), TODAY, True, TODAY - timedelta(days=not valid), n == row["favoured"])
            for n, (amount, valid) in enumerate(row["quotes"])
        ),
        estimate_minor=None if row["estimate"] is None else pence(row["estimate"]),
        agreed_minor=None if row["agreed"] is None else pence(row["agreed"]),
        currency_minor=pence(row["currency"]),
        changes=(ChangeFact(pence(row["approved"]), "agreed"), ChangeFact(pence(row["likely"]), "proposed")),
        gaps_minor=pence(row["gaps"]),
        invoiced_minor=pence(row["invoiced"]),
    )


@pytest.mark.parametrize("row", LINES, ids=lambda row: row["line"])
def test_likely_finals_of_a_whole_build(row):
    """Source: the made-up build of lines.json."""
    expected = OUR_RULE_DIFFERS.get(row["line"], row["expected"])
    assert forecast.likely_final(_of_the_build(row), as_of=TODAY).likely_minor == pence(expected)


def test_total_of_a_whole_build():
    seen = forecast.forecast([_of_the_build(row) for row in LINES], as_of=TODAY)
    differs = sum(row["expected"] - OUR_RULE_DIFFERS[row["line"]] for row in LINES if row["line"] in OUR_RULE_DIFFERS)
    assert seen.totals.likely_minor == pence(sum(row["expected"] for row in LINES) - differs)
    assert sum(trade.likely_minor for trade in seen.by_trade.values()) == seen.totals.likely_minor


amounts = st.integers(0, 10**9)
maybe_amounts = st.none() | amounts
quote_facts = st.builds(
    QuoteFact,
    id=st.just("q"),
    levelled_minor=amounts,
    quoted_on=st.just(date(2026, 9, 1)),
    complete=st.booleans(),
    valid_until=st.none() | st.dates(TODAY - timedelta(2), TODAY + timedelta(2)),
    preferred=st.booleans(),
)
change_facts = st.builds(
    ChangeFact,
    amount_minor=st.integers(-(10**8), 10**8),
    status=st.sampled_from(["proposed", "agreed", "declined"]),
    chance=st.decimals(0, 1, places=3),
)
line_facts = st.builds(
    LineFacts,
    id=st.just("1"),
    trade=st.sampled_from(["concrete", "steel"]),
    budget_minor=amounts,
    kind=st.sampled_from(["work", "allowance", "contingency"]),
    closed=st.booleans(),
    own_forecast_minor=maybe_amounts,
    quotes=st.lists(quote_facts, max_size=5).map(tuple),
    original_minor=maybe_amounts,
    estimate_minor=maybe_amounts,
    agreed_minor=maybe_amounts,
    changes=st.lists(change_facts, max_size=3).map(tuple),
    gaps_minor=amounts,
    still_to_let_minor=amounts,
    invoiced_minor=amounts,
    effects_minor=st.integers(-(10**6), 10**6),
    moved_minor=st.integers(-(10**6), 10**6),
    currency_minor=st.integers(-(10**6), 10**6),
)


def by_the_book(facts):
    """Oracle: the rule read aloud, every candidate worked out before one is picked."""
    weights = {"agreed": lambda c: Decimal(1), "proposed": lambda c: c.chance, "declined": lambda c: Decimal(0)}
    changes = sum(
        int((c.amount_minor * weights[c.status](c)).quantize(Decimal(1), ROUND_HALF_UP)) for c in facts.changes
    )
    standing = sorted(q.levelled_minor for q in facts.quotes if q.complete and (q.valid_until or TODAY) >= TODAY)
    lower_middle = next((a for a in standing if sum(b <= a for b in standing) * 2 >= len(standing)), None)
    preferred = next((q.levelled_minor for q in facts.quotes if q.preferred), None)
    budget = facts.budget_minor + facts.moved_minor
    promised = (facts.agreed_minor or 0) + changes + facts.gaps_minor + facts.currency_minor
    candidates = [
        ("closed", facts.closed, facts.invoiced_minor),
        ("own forecast", facts.own_forecast_minor is not None, facts.own_forecast_minor),
        ("unquoted", facts.kind == "contingency", budget + facts.effects_minor),
        (
            "invoiced" if facts.invoiced_minor else "agreed",
            facts.agreed_minor is not None,
            max(promised, facts.invoiced_minor) + facts.still_to_let_minor + facts.effects_minor,
        ),
        ("quoted", preferred is not None, (preferred or 0) + facts.effects_minor),
        ("quoted", lower_middle is not None, (lower_middle or 0) + facts.effects_minor),
        ("unquoted", facts.estimate_minor is not None, (facts.estimate_minor or 0) + facts.effects_minor),
        ("unquoted", True, budget + facts.effects_minor),
    ]
    return next((state, amount) for state, holds, amount in candidates if holds)


@given(line_facts)
def test_likely_final_agrees_with_the_rule_read_aloud(facts):
    outcome = forecast.likely_final(facts, as_of=TODAY)
    assert (outcome.state, outcome.likely_minor) == by_the_book(facts)


lines_of_a_build = st.lists(line_facts, min_size=2, max_size=6).map(
    lambda rows: [replace(row, id=str(n)) for n, row in enumerate(rows)]
)


@given(lines_of_a_build, st.randoms(use_true_random=False))
def test_budget_and_bridge_make_the_likely_final(lines, dice):
    seen = forecast.forecast(lines, moves_between(lines, dice), as_of=TODAY)
    assert seen.totals.budget_minor + sum(step.amount_minor for step in seen.bridge) == seen.totals.likely_minor
    assert seen.bridge[-1].running_minor == seen.totals.likely_minor
    assert seen.totals.over_budget_minor == seen.totals.likely_minor - seen.totals.budget_minor


@given(lines_of_a_build, st.randoms(use_true_random=False))
def test_transfers_leave_the_budget_and_every_firm_line_alone(lines, dice):
    still = [replace(row, moved_minor=0) for row in lines]
    before, after = (forecast.forecast(still, moves, as_of=TODAY) for moves in ((), moves_between(still, dice)))
    assert after.totals.budget_minor == before.totals.budget_minor
    firm = [
        row.id
        for row in still
        if before.lines[row.id].state != "unquoted" or (row.estimate_minor is not None and row.kind == "work")
    ]
    assert {id_: after.lines[id_] for id_ in firm} == {id_: before.lines[id_] for id_ in firm}


def moves_between(lines, dice: random.Random):
    ids = [row.id for row in lines]
    return [TransferFact(*dice.sample(ids, 2), dice.randint(1, 10**6)) for _ in range(dice.randint(0, 4))]


def test_a_draw_does_not_count_twice():
    lines = [line("aside", 100000, kind="contingency"), line("slab", 500000, agreed_minor=520000)]
    seen = forecast.forecast(lines, [TransferFact("aside", "slab", 20000)], as_of=TODAY)
    assert (seen.totals.budget_minor, seen.totals.likely_minor) == (600000, 600000)
    assert seen.contingency.uncovered_minor == 0


def test_a_transfer_to_nowhere_is_refused():
    with pytest.raises(forecast.UnknownLine, match="roof"):
        forecast.forecast([line()], [TransferFact("1", "roof", 5)], as_of=TODAY)


def test_the_frozen_original_wins_over_the_quote_it_came_from():
    quotes = (QuoteFact("q", 70000, TODAY),)
    assert forecast.original_minor(line(quotes=quotes, original_quote="q")) == 70000
    assert forecast.original_minor(line(quotes=quotes, original_quote="q", original_minor=65000)) == 65000
    assert forecast.original_minor(line(quotes=quotes, original_quote="gone")) is None


def test_a_chance_of_many_decimals_is_not_cut_before_the_rounding():
    change = ChangeFact(10**16 + 1, "proposed", Decimal("0.50000000000000000001"))
    assert forecast.expected_changes([change]) == (10**16 + 1 + 1) // 2
