"""Money by month as a picture, and the sentences beside it: the figures are those of the calculation."""

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget import charts_cash
from budget import wording_cash as wording
from budget.calc import cash as rules
from budget.calc.cash import Planned, Source
from budget.models import FundingSource
from budget.selectors.cash import FundingRow, FundsFacts, Outlook

TODAY, OPENING = date(2027, 1, 29), date(2027, 5, 21)


@dataclass(frozen=True)
class Build:
    currency: str = "GBP"
    locale: str = "en-GB"
    opens_on: date | None = OPENING


PLANNED = (
    Planned("Slab 1", "invoice", 300_000, date(2027, 2, 12)),
    Planned("Panels, Order", "stage", 500_000, date(2027, 3, 5)),
    Planned("Slab, completion", "retention", 20_000, OPENING),
    Planned("Slab, defects", "retention", 20_000, date(2028, 5, 21)),
    Planned("not yet billed", "rest", 1_000_000),
)


def told(*, paid: int, promised: int, received: int, to_complete: int, risk: int = 0, spread: int = 0) -> FundsFacts:
    sources = [Source("Loan", promised, received)] if promised else []
    rows = tuple(FundingRow(FundingSource(name=row.name, amount_minor=promised), received, ()) for row in sources)
    funds = rules.funds(sources, cost_to_complete_minor=to_complete, paid_minor=paid)
    return FundsFacts(rows, to_complete + paid, paid, funds, risk, spread)


def outlook(planned: tuple[Planned, ...] = PLANNED, *, promised: int = 2_500_000, received: int = 900_000) -> Outlook:
    months = rules.by_month(planned, start=TODAY, end=OPENING)
    to_complete = sum(row.amount_minor for row in planned)
    funds = told(paid=100_000, promised=promised, received=received, to_complete=to_complete)
    short = rules.short_from(months, funds.funds.in_hand_minor)
    return Outlook((), (), 1_000_000, 1, 0, 0, OPENING, months, (), funds, short, 300_000, 800_000)


def drawn(seen: Outlook) -> dict[str, Any]:
    return charts_cash.months(seen, project=Build())  # type: ignore[arg-type]


def bars(figure: dict[str, Any]) -> list[dict[str, Any]]:
    return [trace for trace in figure["data"] if trace["type"] == "bar"]


def test_the_bars_of_a_month_are_what_goes_out_in_it():
    seen = outlook()
    sums = [sum(column) for column in zip(*(bar["y"] for bar in bars(drawn(seen))), strict=True)]
    assert sums == [month.total_minor for month in seen.months] and sum(sums) == 1_840_000


def test_the_line_rises_to_the_cost_to_complete():
    figure = drawn(outlook())
    assert figure["data"][-1]["y"][-1] == 1_840_000 and figure["data"][-1]["text"][-1] == "£18,400"


def test_a_kind_that_does_not_occur_is_left_out():
    figure = drawn(outlook(PLANNED[:1]))
    assert [bar["name"] for bar in bars(figure)] == ["invoices"]
    assert figure["table"]["head"][1:-3] == ["invoices"]


def test_the_chalk_line_stands_at_what_is_in_hand_and_a_dashed_one_at_all_that_is_promised():
    layout = drawn(outlook())["layout"]
    assert [(shape["y0"], shape["line"]["dash"]) for shape in layout["shapes"]] == [
        (800_000, "solid"),
        (2_400_000, "dash"),
    ]
    assert [note["text"] for note in layout["annotations"]] == ["in hand £8,000", "with all that is promised £24,000"]
    assert all(shape["line"]["color"] == "token:chalk" for shape in layout["shapes"])


def test_without_funding_no_line_is_drawn():
    assert drawn(outlook(promised=0, received=0))["layout"]["shapes"] == []


def test_every_level_is_within_the_picture():
    low, high = drawn(outlook())["layout"]["yaxis"]["range"]
    assert low <= 0 and high > 2_400_000


def test_a_month_after_a_gap_bears_its_year():
    ticks = drawn(outlook())["layout"]["xaxis"]["ticktext"]
    assert ticks == ["Jan<br>2027", "Feb", "Mar", "Apr", "May", "May<br>2028"]


def test_the_table_says_what_is_left_in_hand():
    """8,000 in hand; the cumulative of the last month is 18,400."""
    rows = drawn(outlook())["table"]["rows"]
    assert rows[-1] == ["May 2028", "£0.00", "£0.00", "£200.00", "£0.00", "£200.00", "£18,400.00", "−£10,400.00"]


@given(st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=6))
def test_whatever_is_paid_the_bars_add_up(amounts: list[int]):
    planned = tuple(Planned(f"Bill {place}", "rest", amount) for place, amount in enumerate(amounts))
    figure = drawn(outlook(planned))
    assert sum(sum(bar["y"]) for bar in bars(figure)) == sum(amounts) == figure["data"][-1]["y"][-1]


# --- the sentences ----------------------------------------------------------------------------------------------


def said(seen: Outlook) -> str:
    return wording.opening(seen, Build())  # type: ignore[arg-type]


def test_the_sentence_names_the_month_up_to_which_the_money_lasts():
    words = "£3,000 is approved and unpaid; £8,000 falls due in eight weeks; the money in hand lasts into March 2027."
    assert said(outlook()) == words


@pytest.mark.parametrize(
    ("received", "words"),
    [
        (100_000, "no money is in hand"),
        (1_939_999, "the money in hand lasts into May 2028"),
        (1_940_000, "the money in hand covers all that is still to be paid"),
    ],
)
def test_the_sentence_says_how_far_the_money_goes(received: int, words: str):
    assert words in said(outlook(received=received))


def test_the_sentence_says_that_nothing_is_promised():
    assert "no money is promised yet" in said(outlook(promised=0, received=0))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"promised": 900_000}, "£1,000 more is needed than anybody has promised."),
        ({"promised": 1_000_000, "risk": 50_000}, "not for the open risks: they are £500 short"),
        ({"promised": 1_100_000, "risk": 50_000, "spread": 60_000}, "not if every open price ends at its highest"),
        ({"promised": 1_100_000, "risk": 50_000, "spread": 50_000}, "It is enough, also when"),
    ],
)
def test_the_room_is_judged_in_three_steps(changes: dict[str, int], words: str):
    """1,000 paid and 9,000 to complete: 10,000 is needed."""
    facts = told(paid=100_000, received=0, to_complete=900_000, **changes)
    assert words in wording.room(facts, Build())  # type: ignore[arg-type]


def test_the_spread_says_up_to_when_and_why():
    seen = outlook()
    assert "spread evenly until the opening, Fri 21 May 2027" in wording.spread(seen, Build())  # type: ignore[arg-type]
    bare = replace(Build(), opens_on=None)
    assert "for the project has no opening date" in wording.spread(seen, bare)  # type: ignore[arg-type]
