"""The parts of a reason add up to the likely final that the forecast gives, whatever the line."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget.calc import forecast, reasons
from budget.calc.forecast import ChangeFact, LineFacts, QuoteFact

TODAY = date(2027, 1, 29)
MONEY = st.integers(0, 10_000_000)
MAYBE = st.none() | MONEY
QUOTES = st.lists(
    st.builds(
        QuoteFact,
        id=st.text("abc", min_size=1, max_size=3),
        levelled_minor=MONEY,
        quoted_on=st.just(TODAY),
        complete=st.booleans(),
        valid_until=st.none() | st.integers(-5, 5).map(lambda days: TODAY + timedelta(days=days)),
        preferred=st.booleans(),
    ),
    max_size=5,
).map(tuple)
CHANGES = st.lists(
    st.builds(ChangeFact, MONEY, st.sampled_from(["proposed", "agreed", "declined"]), st.just(Decimal("0.5"))),
    max_size=3,
).map(tuple)
LINES = st.builds(
    LineFacts, id=st.just("1"), trade=st.just("t"), budget_minor=MONEY, kind=st.sampled_from(["work", "contingency"]),
    closed=st.booleans(), own_forecast_minor=MAYBE, quotes=QUOTES, estimate_minor=MAYBE, agreed_minor=MAYBE, changes=CHANGES,
    gaps_minor=MONEY, still_to_let_minor=MONEY, invoiced_minor=MONEY, effects_minor=st.integers(-1000, 1000),
    moved_minor=st.integers(-1000, 1000), currency_minor=st.integers(-1000, 1000),
)  # fmt: skip


@given(LINES)
def test_the_parts_add_up_to_the_likely_final(line: LineFacts):
    reason = reasons.why(line, as_of=TODAY)
    assert sum(part.amount_minor for part in reason.parts) == forecast.likely_final(line, as_of=TODAY).likely_minor


def quote(key: str, levelled: int, **more) -> QuoteFact:
    return QuoteFact(key, levelled, TODAY, **more)


# Worked by hand from the rules of the likely final, in their order; no outside source.
WORKED = [
    (LineFacts("1", "t", 900), "budget", None, 0),
    (LineFacts("1", "t", 900, estimate_minor=800), "estimate", None, 0),
    (LineFacts("1", "t", 900, quotes=(quote("a", 700), quote("b", 600))), "middle", "b", 2),
    (LineFacts("1", "t", 900, quotes=(quote("a", 700, preferred=True), quote("b", 600))), "preferred", "a", 0),
    (LineFacts("1", "t", 900, quotes=(quote("a", 7, complete=False),), estimate_minor=800), "estimate", None, 0),
    (LineFacts("1", "t", 900, agreed_minor=650, quotes=(quote("a", 700),)), "agreed", None, 0),
    (LineFacts("1", "t", 900, agreed_minor=650, invoiced_minor=651), "invoiced beyond", None, 0),
    (LineFacts("1", "t", 900, agreed_minor=650, own_forecast_minor=1), "own forecast", None, 0),
    (LineFacts("1", "t", 900, kind="contingency", agreed_minor=650), "set aside", None, 0),
    (LineFacts("1", "t", 900, closed=True, own_forecast_minor=1), "closed", None, 0),
]


@pytest.mark.parametrize(("line", "rule", "quote_id", "among"), WORKED)
def test_the_first_rule_that_applies_is_named(line: LineFacts, rule: str, quote_id: str | None, among: int):
    reason = reasons.why(line, as_of=TODAY)
    assert (reason.rule, reason.quote_id, reason.among) == (rule, quote_id, among)


def test_what_is_agreed_and_what_is_only_likely_are_told_apart():
    changes = (ChangeFact(500, "agreed"), ChangeFact(1_000, "proposed", Decimal("0.4")), ChangeFact(9_000, "declined"))
    line = LineFacts("1", "tanks", 10_000, agreed_minor=9_000, changes=changes, currency_minor=-70)
    parts = {part.kind: part.amount_minor for part in reasons.why(line, as_of=TODAY).parts}
    assert parts == {"agreed": 9_000, "changes": 500, "likely changes": 400, "currency": -70}
