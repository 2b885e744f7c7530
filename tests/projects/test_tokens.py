"""Every colour of the pages can be read on the paper it lies on: computed from the tokens file, light, dark and print.

Source of the formula and the limits: WCAG 2.2, success criteria 1.4.3 (text, 4.5 : 1) and 1.4.11 (marks, 3 : 1).
"""

import re
from itertools import product
from pathlib import Path

import pytest

TOKENS = Path(__file__).resolve().parents[2] / "static" / "css" / "tokens.css"
ROOT_BLOCK = re.compile(r"(?:@media ([^{]+)\{\s*)?:root(?::not\(\.on-paper\))? \{([^}]*)\}")
TEXT = ("ink", "ink-soft", "chalk", "over", "saved", "wait")
GROUNDS = ("paper", "sheet")
MARKS = ("rule-strong", "chalk", "over", "saved", "wait", "ink-soft")


def palettes() -> dict[str, dict[str, str]]:
    """The colours of each mode; a mode starts from the light ones."""
    found = {}
    for media, body in ROOT_BLOCK.findall(TOKENS.read_text("utf-8")):
        colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6});", body))
        found[media.strip() or "light"] = {**found.get("light", {}), **colours}
    return found


def luminance(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_there_are_a_light_a_dark_and_a_print_palette():
    assert list(palettes()) == ["light", "(prefers-color-scheme: dark)", "print"]


@pytest.mark.parametrize("mode", palettes())
def test_text_is_readable(mode: str):
    colours = palettes()[mode]
    pairs = [*product(TEXT, GROUNDS), ("ink", "chalk-soft"), ("on-ink", "ink")]
    measured = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in pairs}
    assert {pair: round(ratio, 2) for pair, ratio in measured.items() if ratio < 4.5} == {}


@pytest.mark.parametrize("mode", palettes())
def test_marks_and_borders_are_seen(mode: str):
    colours = palettes()[mode]
    measured = {pair: contrast(colours[pair[0]], colours[pair[1]]) for pair in product(MARKS, GROUNDS)}
    assert {pair: round(ratio, 2) for pair, ratio in measured.items() if ratio < 3} == {}


@pytest.mark.parametrize(
    ("one", "other", "ratio"),
    [("#000000", "#ffffff", 21.0), ("#777777", "#ffffff", 4.48), ("#0000ff", "#ffffff", 8.59)],
)
def test_the_measure_agrees_with_known_pairs(one: str, other: str, ratio: float):
    """Source: widely published ratios of these pairs (black on white is 21 by definition)."""
    assert round(contrast(one, other), 2) == ratio


def test_styles_use_no_colour_of_their_own():
    sheets = [path for path in TOKENS.parent.glob("*.css") if path != TOKENS]
    found = {path.name: re.findall(r"#[0-9a-fA-F]{3,8}\b|rgba?\(|gradient", path.read_text("utf-8")) for path in sheets}
    assert sheets and {name: colours for name, colours in found.items() if colours} == {}


def test_styles_use_only_tokens_that_exist():
    known = set(re.findall(r"(--[a-z0-9-]+):", TOKENS.read_text("utf-8")))
    used = {
        f"{path.name}: {name}"
        for path in TOKENS.parent.glob("*.css")
        for name in re.findall(r"var\((--[a-z0-9-]+)", path.read_text("utf-8"))
        if name not in known
    }
    assert used == set()
