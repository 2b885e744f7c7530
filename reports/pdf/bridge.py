"""The bridge as a drawing for paper: the picture of `budget.charts`, in shapes that need no script.

The first budget is the chalk line; what a cause added stands above it, what it took off hangs below. Places are whole
units of the drawing, worked out in whole numbers; the words of an amount are written as on every page.
"""

import html
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from projects.display import Priced, money, sense

#: label, what it moved [minor units], where the likely final stands after it [minor units]
Step = tuple[str, int, int]
WIDTH, HEIGHT = 1020, 320
#: room above for the words of the highest bar, below for those of the lowest and for the names, left for the line's own
TOP, BOTTOM, LEFT = 32, 100, 190
SIZE = 17
#: about as wide as a figure of the text face at that size
FIGURE = 10
INK = {"over": "#8a2c17", "saved": "#0f544b", "level": "#3c3c3c"}
CHALK, BLACK, SOFT = "#174a86", "#000000", "#767676"


@dataclass(frozen=True, slots=True)
class _Bar:
    """One bar of the drawing; levels are counted from the first budget [minor units]."""

    label: str
    words: str
    start: int
    end: int
    ink: str
    middle: int
    half: int

    @property
    def sense(self) -> str:
        return sense(self.end - self.start)


def drawing(steps: Sequence[Step], *, project: Priced) -> str:
    """Draw the bridge as SVG.

    Args:
        steps: (label, amount, running) in their order: first the first budget, last the likely final.
    Returns: the text of an SVG of 1020 by 320 units. A cause that moved nothing is left out.
    """
    budget = steps[0][2]
    bars = list(_bars(steps, project))
    scale = _Scale.over([0, *(bar.end for bar in bars)])
    parts = [_chalk(scale, _("First budget") + " " + money(budget, project, brief=True))]
    for bar, after in zip(bars, [*bars[1:], None], strict=True):
        parts += [_bar(bar, scale), _words(bar, scale), _name(bar)]
        parts += [_joint(bar, after, scale)] if after else []
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" width="{WIDTH}" height="{HEIGHT}" '
        f'font-family="IBM Plex Sans" font-size="{SIZE}">{"".join(parts)}</svg>'
    )


@dataclass(frozen=True, slots=True)
class _Scale:
    """Turns a level [minor units] into a place from above."""

    low: int
    high: int

    @classmethod
    def over(cls, levels: Sequence[int]) -> "_Scale":
        return cls(min(levels), max(levels))

    def y(self, level: int) -> int:
        return TOP + (self.high - level) * (HEIGHT - TOP - BOTTOM) // max(self.high - self.low, 1)


def _bars(steps: Sequence[Step], project: Priced) -> Iterator[_Bar]:
    (_first, budget, _same), *causes, (last, final, _likely) = steps
    moved = [(label, amount, running) for label, amount, running in causes if amount]
    each = (WIDTH - LEFT) // (len(moved) + 1)
    half = min(each // 4, 44)
    for place, (label, amount, running) in enumerate(moved):
        words = money(amount, project, brief=True, sign=True)
        start, end = running - amount - budget, running - budget
        yield _Bar(label, words, start, end, INK[sense(amount)], LEFT + each * place + each // 2, half)
    words = money(final - budget, project, brief=True, sign=True)
    label = f"{last} {money(final, project, brief=True)}"
    yield _Bar(label, words, 0, final - budget, BLACK, LEFT + each * len(moved) + each // 2, half)


def _chalk(scale: _Scale, words: str) -> str:
    y = scale.y(0)
    pegs = "".join(f'<path d="M{x} {y - 8}v16" stroke="{CHALK}" stroke-width="3"/>' for x in (2, WIDTH - 2))
    return (
        f'<path d="M2 {y}H{WIDTH - 2}" stroke="{CHALK}" stroke-width="3"/>{pegs}'
        f"{_text(words, 12, y - 10, ink=CHALK, anchor='start')}"
    )


def _bar(bar: _Bar, scale: _Scale) -> str:
    top, bottom = sorted((scale.y(bar.start), scale.y(bar.end)))
    height = max(bottom - top, 2)
    return f'<rect x="{bar.middle - bar.half}" y="{top}" width="{2 * bar.half}" height="{height}" fill="{bar.ink}"/>'


def _words(bar: _Bar, scale: _Scale) -> str:
    """The amount beyond the end of its bar, with the sign of over or saved before it."""
    y = scale.y(bar.end) + (-9 if bar.sense == "over" else SIZE + 5 if bar.sense == "saved" else -9)
    left = bar.middle - len(bar.words) * FIGURE // 2 - 16
    up, down = f"M{left} {y}h12l-6 -11z", f"M{left} {y - 11}h12l-6 11z"
    mark = {"over": up, "saved": down}.get(bar.sense)
    drawn = f'<path d="{mark}" fill="{bar.ink}"/>' if mark else ""
    return drawn + _text(bar.words, bar.middle, y, ink=bar.ink, heavy=True)


def _name(bar: _Bar) -> str:
    words = bar.label[:1].upper() + bar.label[1:]
    lines = textwrap.wrap(words, 18)[:3]
    return "".join(_text(line, bar.middle, HEIGHT - 44 + 20 * place) for place, line in enumerate(lines))


def _joint(bar: _Bar, after: _Bar, scale: _Scale) -> str:
    y = scale.y(bar.end)
    return f'<path d="M{bar.middle + bar.half} {y}H{after.middle - after.half}" stroke="{SOFT}" stroke-width="1.5"/>'


def _text(words: str, x: int, y: int, *, ink: str = BLACK, anchor: str = "middle", heavy: bool = False) -> str:
    weight = ' font-weight="600"' if heavy else ""
    return f'<text x="{x}" y="{y}" fill="{ink}" text-anchor="{anchor}"{weight}>{html.escape(words)}</text>'
