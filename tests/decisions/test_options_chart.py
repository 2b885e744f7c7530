"""Options side by side as a picture."""

import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from decisions import charts

ROOT = Path(__file__).resolve().parents[2]
PARTS = st.fixed_dictionaries(
    {part: st.integers(min_value=-(10**10), max_value=10**10) for part in ("first", "effects", "days", "running")}
)


@dataclass(frozen=True)
class Build:
    currency: str = "GBP"
    locale: str = "en-GB"


ROWS: list[charts.Row] = [
    {"name": "B Frame", "parts": {"first": 3_745_000, "effects": 190_000, "correction": 57_000, "running": 360_000}},
    {"name": "A <Plinth>", "parts": {"first": 4_995_000, "effects": -60_000, "days": 180_000, "correction": 445_500}},
]


def drawn(rows: list[charts.Row]) -> dict:
    return charts.options(rows, project=Build())


def test_parts_are_stacked_in_their_order_with_words():
    assert [trace["name"] for trace in drawn(ROWS)["data"]] == [
        "First cost",
        "Effects on other lines",
        "Cost of the days",
        "Correction",
        "Running cost",
    ]


def test_the_parts_differ_without_colour():
    hatches = [trace["marker"]["pattern"]["shape"] for trace in drawn(ROWS)["data"]]
    assert len(set(hatches)) == len(hatches) == 5


def test_a_part_that_no_option_has_is_left_out():
    rows: list[charts.Row] = [{"name": "A", "parts": {"first": 100, "days": 0}}]
    assert [trace["name"] for trace in drawn(rows)["data"]] == ["First cost"]


def test_the_lowest_total_is_named_and_the_total_stands_at_the_end():
    words = [note["text"] for note in drawn(ROWS)["layout"]["annotations"]]
    assert words == ["<b>B Frame</b>", "<b>A &lt;Plinth&gt;</b>", "£43,520 lowest", "£55,605"]


def test_the_table_says_the_same():
    table = drawn(ROWS)["table"]
    assert table["head"][-1] == "Expected total"
    assert table["rows"][1] == ["A <Plinth>", "£49,950.00", "−£600.00", "£1,800.00", "£4,455.00", "£0.00", "£55,605.00"]


@given(parts=st.lists(PARTS, min_size=1, max_size=5))
def test_the_stacks_add_up_to_the_totals(parts: list[dict[str, int]]):
    figure = drawn([{"name": "Option", "parts": part} for part in parts])
    for place, part in enumerate(parts):
        assert sum(trace["x"][place] for trace in figure["data"]) == sum(part.values())


@pytest.mark.parametrize("form", ["wide", "narrow"])
def test_the_chart_library_knows_every_word_of_the_figure(form: str):
    """Oracle: plotly's own validators, which refuse an unknown property or value; tokens stand for colours."""
    import plotly.graph_objects as go

    css = (ROOT / "static" / "css" / "tokens.css").read_text("utf-8")
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", css))

    def real(value: object) -> object:
        if isinstance(value, dict):
            return {key: real(part) for key, part in value.items()}
        if isinstance(value, list | tuple):
            return [real(part) for part in value]
        return colours[value[6:]] if isinstance(value, str) and value.startswith("token:") else value

    whole = drawn(ROWS)
    figure = whole["narrow"] if form == "narrow" else {key: whole[key] for key in ("data", "layout")}
    assert go.Figure(real(figure)).data
