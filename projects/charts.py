"""The house style of pictures, as plain dicts in the form that the chart script draws.

Nothing here imports a chart library: a figure is `{"data", "layout"}` and may bring `narrow`, the same picture for a
phone, and `table`, the same figures in words. Colours are names of tokens ("token:over") that the page turns into
colours, so one figure serves light, dark and paper. Positions are whole minor units; every text is written here, so the
browser does no arithmetic on money.
"""

import html
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from projects.display import Priced, money

CHALK, INK, SOFT, RULE, PAPER = "token:chalk", "token:ink", "token:ink-soft", "token:rule", "token:paper"
COLOUR = {"over": "token:over", "saved": "token:saved", "level": SOFT}
CLEAR = "rgba(0,0,0,0)"
_STEPS = (1, 2, 5)

Figure = dict[str, Any]


def house_layout(**more: object) -> Figure:
    """The layout every picture starts from: no box, no fill, no dragging, the text face of the page.

    Args:
        more: further entries of the layout; one that is named here, too, replaces it.
    """
    layout: Figure = {
        "font": {"family": '"Plex Sans", "Signs", system-ui, sans-serif', "size": 14, "color": INK},
        "paper_bgcolor": CLEAR,
        "plot_bgcolor": CLEAR,
        "margin": {"l": 8, "r": 8, "t": 16, "b": 8, "pad": 4},
        "showlegend": False,
        "dragmode": False,
        "hovermode": "closest",
        "hoverlabel": {"bgcolor": PAPER, "bordercolor": INK, "font": {"color": INK, "size": 14}},
        "separators": ".,",
    }
    return {**layout, **more}


def axis(**more: object) -> Figure:
    """An axis without lines of its own: hairlines only where values are read."""
    plain: Figure = {
        "fixedrange": True,
        "showgrid": False,
        "showline": False,
        "zeroline": False,
        "ticks": "",
        "automargin": True,
    }
    return {**plain, **more}


def figure(
    data: Sequence[Figure], layout: Figure, *, narrow: Figure | None = None, table: Mapping[str, object] | None = None
) -> Figure:
    """Put a picture together.

    Args:
        narrow: the same picture for a phone, {"data", "layout"}; left out where one form reads on both.
        table: {"caption", "head": [..], "rows": [[..]]}, all texts; the first column names the row.
    """
    made: Figure = {"data": list(data), "layout": layout}
    if narrow is not None:
        made["narrow"] = narrow
    return made if table is None else {**made, "table": table}


def text(words: str, width: int = 0) -> str:
    """Make a user's words safe for a picture, and break them into lines of at most `width` letters.

    >>> text("Tanks & frames < 3", 8)
    'Tanks &amp;<br>frames &lt;<br>3'
    """
    lines = textwrap.wrap(words, width, break_long_words=False) if width else [words]
    return "<br>".join(html.escape(line, quote=False) for line in lines)


def nice_ticks(low: int, high: int, most: int = 5) -> list[int]:
    """Round values between two bounds, one, two or five times a power of ten apart.

    Args:
        low, high: bounds [minor units], low not above high.
        most: how many ticks at most, at least one.

    >>> nice_ticks(-130, 420, 5)
    [0, 200, 400]
    >>> nice_ticks(7, 7)
    []
    """
    step = next((step for step in _steps() if (high - low) // step < most), 1)
    first = -(-low // step) * step
    return list(range(first, high + 1, step)) if high > low else []


def _steps() -> Sequence[int]:
    return [size * 10**power for power in range(18) for size in _STEPS]


def money_axis(low: int, high: int, priced: Priced, *, most: int = 5, **more: object) -> Figure:
    """An axis of amounts: hairlines at round values, written in the project's currency."""
    ticks = nice_ticks(low, high, most)
    return axis(
        range=[low, high],
        tickmode="array",
        tickvals=ticks,
        ticktext=[money(tick, priced, brief=True) for tick in ticks],
        tickfont={"color": SOFT, "size": 12},
        showgrid=True,
        gridcolor=RULE,
        gridwidth=1,
        **more,
    )


def line(x: tuple[object, object], y: tuple[object, object], colour: str, width: float, **more: object) -> Figure:
    """A straight line in the picture, from (x0, y0) to (x1, y1)."""
    ends = {"x0": x[0], "x1": x[1], "y0": y[0], "y1": y[1]}
    return {"type": "line", **ends, "line": {"color": colour, "width": width}, **more}


def note(words: str, x: object, y: object, **more: object) -> Figure:
    """Words in the picture without an arrow."""
    return {"text": words, "x": x, "y": y, "showarrow": False, **more}
