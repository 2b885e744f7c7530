"""The bridge on paper: bars hang where the ledger puts them."""

import re
import xml.etree.ElementTree as ElementTree  # noqa: S405  # reads what we drew ourselves
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.pdf import bridge

SVG = "{http://www.w3.org/2000/svg}"


@dataclass
class Build:
    currency: str = "GBP"
    locale: str = "en-GB"


def ladder(amounts: list[int], budget: int = 100_000_00) -> list[bridge.Step]:
    """Steps that add up: a first budget, one cause per amount, the likely final."""
    steps, running = [("first budget", budget, budget)], budget
    for number, amount in enumerate(amounts):
        running += amount
        steps.append((f"cause {number}", amount, running))
    return [*steps, ("likely final", running, running)]


def drawn(steps: list[bridge.Step]) -> ElementTree.Element:
    return ElementTree.fromstring(bridge.drawing(steps, project=Build()))  # noqa: S314


def bars(root: ElementTree.Element) -> list[tuple[int, int]]:
    """(top, bottom) of each bar, from the left."""
    return [(int(bar.get("y")), int(bar.get("y")) + int(bar.get("height"))) for bar in root.iter(f"{SVG}rect")]


def line(root: ElementTree.Element) -> int:
    """How far down the chalk line lies."""
    return int(re.match(r"M2 (\d+)H", next(root.iter(f"{SVG}path")).get("d"))[1])


def words(root: ElementTree.Element) -> list[str]:
    return [text.text or "" for text in root.iter(f"{SVG}text")]


def test_over_stands_on_the_line_and_saved_hangs_from_where_it_ended():
    root = drawn(ladder([20_000_00, -50_000_00]))
    (over, saved, final), chalk = bars(root), line(root)
    assert over[1] == chalk and saved[0] == over[0] and final[0] == chalk and saved[1] == final[1]


def test_amounts_bear_their_sign_and_the_line_its_budget():
    found = words(drawn(ladder([20_000_00, -50_000_00])))
    assert found[0] == "First budget £100,000"
    assert [word for word in found if word[0] in "+−"] == ["+£20,000", "−£50,000", "−£30,000"]


def test_a_cause_that_moved_nothing_is_left_out():
    assert len(bars(drawn(ladder([5_00, 0, -3_00])))) == 3


def test_a_label_is_text_and_never_markup():
    steps = ladder([1_00])
    steps[1] = ('<script>"&', 1_00, steps[1][2])
    assert any("<script>" in word for word in words(drawn(steps)))


@pytest.mark.parametrize("amounts", [[], [0]])
def test_a_build_that_stands_where_it_began_is_drawn_too(amounts: list[int]):
    assert len(bars(drawn(ladder(amounts)))) == 1


@given(st.lists(st.integers(-(10**12), 10**12), max_size=8))
def test_everything_is_drawn_inside_and_every_bar_has_a_height(amounts: list[int]):
    root = drawn(ladder(amounts, budget=10**12))
    for top, bottom in bars(root):
        assert 0 <= top < bottom <= bridge.HEIGHT - 50
    for text in root.iter(f"{SVG}text"):
        assert bridge.SIZE <= int(text.get("y")) <= bridge.HEIGHT and 0 <= int(text.get("x")) <= bridge.WIDTH
