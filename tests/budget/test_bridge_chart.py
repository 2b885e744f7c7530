"""The bridge as a picture: bars hang where the ledger puts them."""

import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from budget import charts

ROOT = Path(__file__).resolve().parents[2]


@dataclass(frozen=True)
class Build:
    currency: str = "GBP"
    locale: str = "en-GB"


STEPS = [
    ("First budget", 34_120_000, 34_120_000),
    ("Quotes came in", 871_000, 34_991_000),
    ("Decisions", -2_640_000, 32_351_000),
    ("Invoices", 0, 32_351_000),
    ("Likely final", 32_351_000, 32_351_000),
]


def ladder(amounts: list[int], budget: int = 10_000) -> list[charts.Step]:
    """Steps that add up: a first budget, one cause per amount, the likely final."""
    steps, running = [("First budget", budget, budget)], budget
    for amount in amounts:
        running += amount
        steps.append(("Cause", amount, running))
    return [*steps, ("Likely final", running, running)]


def drawn(steps: list[charts.Step]) -> dict:
    return charts.bridge(steps, project=Build())


def test_each_bar_starts_where_the_one_before_ended():
    (bar,) = drawn(STEPS)["data"]
    assert bar["base"] == [0, 871_000, 0] and bar["y"] == [871_000, -2_640_000, -1_769_000]


def test_over_and_saved_bear_sign_mark_and_colour():
    (bar,) = drawn(STEPS)["data"]
    assert bar["text"] == ["▲ +£8,710", "▼ −£26,400", "▼ −£17,690"]
    assert bar["marker"]["color"] == ["token:over", "token:saved", "token:ink"]


def test_a_cause_that_moved_nothing_is_only_in_the_table():
    figure = drawn(STEPS)
    assert len(figure["data"][0]["y"]) == 3
    assert ["Invoices", "£0.00", "£323,510.00"] in figure["table"]["rows"]


def test_the_table_ends_with_the_named_yardstick():
    assert drawn(STEPS)["table"]["rows"][-1] == ["Likely final", "£17,690.00 under the first budget", "£323,510.00"]


@given(amounts=st.lists(st.integers(min_value=-(10**12), max_value=10**12), max_size=6))
def test_the_bars_add_up_to_the_last_one(amounts: list[int]):
    figure = drawn(ladder(amounts))
    *causes, last = figure["data"][0]["y"]
    assert sum(causes) == last == sum(amounts)
    assert figure["narrow"]["data"][0]["x"] == figure["data"][0]["y"]


@given(amounts=st.lists(st.integers(min_value=-(10**12), max_value=10**12), max_size=6))
def test_every_bar_is_inside_the_picture(amounts: list[int]):
    figure = drawn(ladder(amounts))
    (bar,), (low, high) = figure["data"], figure["layout"]["yaxis"]["range"]
    assert all(low < level < high for pair in zip(bar["base"], bar["y"], strict=True) for level in (pair[0], sum(pair)))


def test_a_project_without_any_movement_still_has_a_picture():
    (bar,) = drawn(ladder([]))["data"]
    assert bar["y"] == [0] and bar["text"] == ["£0"]


@pytest.mark.parametrize("form", ["wide", "narrow"])
def test_the_chart_library_knows_every_word_of_the_figure(form: str):
    """Oracle: plotly's own validators, which refuse an unknown property or value; tokens stand for colours."""
    import plotly.graph_objects as go

    whole = drawn(STEPS)
    figure = whole["narrow"] if form == "narrow" else {key: whole[key] for key in ("data", "layout")}
    assert go.Figure(real_colours(figure)).data


def real_colours(value: object) -> object:
    """The figure with each token replaced by its light colour, as the page's script does."""
    if isinstance(value, dict):
        return {key: real_colours(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [real_colours(part) for part in value]
    return token(value) if isinstance(value, str) and value.startswith("token:") else value


def token(name: str) -> str:
    css = (ROOT / "static" / "css" / "tokens.css").read_text("utf-8")
    return re.search(rf"--{name.removeprefix('token:')}: (#[0-9a-f]{{6}})", css).group(1)
