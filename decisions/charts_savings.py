"""The savings book as a picture: what was saved against the original quotes, what ate into it, what is left.

The original quotes are the chalk line. What was saved hangs to its left, each step starting where the one before ended;
what eats goes back to the right; the last bar is what is left. A thin bar inside each says what of it has come true.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from decisions.selectors.savings import SavingsBook
from projects import charts
from projects.charts import CHALK, INK, PAPER, SOFT, Figure
from projects.display import Priced, money, sense

#: how wide a figure of the text face is at the size used in a picture, with a little air [px]
FIGURE_WIDTH = 9
_SIGN = {"over": "\u25b2 ", "saved": "\u25bc ", "level": ""}


@dataclass(frozen=True, slots=True)
class Bar:
    """One step, signed as on every page: below zero for saved [minor units]; it starts where the one before ended."""

    label: str
    amount: int
    realised: int
    start: int


def book(seen: SavingsBook, *, project: Priced) -> Figure:
    """Draw the book.

    Args:
        seen: something in it counts.
    Returns: a figure with `table`; it reads on a phone as it does on a desk.
    """
    bars = _bars(seen)
    places = list(range(len(bars) + 1))
    ends = [bar.start + bar.amount for bar in bars]
    whole = {
        "type": "bar", "orientation": "h", "width": 0.56, "y": places, "x": [*(bar.amount for bar in bars), -seen.net_minor],
        "base": [*(bar.start for bar in bars), 0], "marker": {"color": [*(_colour(bar) for bar in bars), INK], "line": {"width": 0}},
        "hovertext": [_words(bar, project) for bar in bars] + [money(seen.net_minor, project)], "hoverinfo": "text",
    }  # fmt: skip
    true = {
        "type": "bar", "orientation": "h", "width": 0.16, "y": places[:-1], "x": [bar.realised for bar in bars],
        "base": [bar.start for bar in bars], "marker": {"color": PAPER, "line": {"width": 0}}, "hoverinfo": "skip",
    }  # fmt: skip
    return charts.figure([whole, true], _layout(bars, ends, seen, project), table=_table(seen, project))


def _bars(seen: SavingsBook) -> list[Bar]:
    found, at = [], 0
    saved = (_("saved for the same function"), seen.counted_minor, seen.realised_minor)
    for label, amount, realised in (
        saved,
        *((part.label, part.amount_minor, part.realised_minor) for part in _parts(seen)),
    ):
        if amount:
            found.append(Bar(label, -amount, -realised, at))
            at -= amount
    return found


def _parts(seen: SavingsBook):
    return (*seen.kept, *seen.eaten)


def _colour(bar: Bar) -> str:
    return charts.COLOUR[sense(bar.amount)]


def _layout(bars: Sequence[Bar], ends: Sequence[int], seen: SavingsBook, project: Priced) -> Figure:
    amounts = [*(bar.amount for bar in bars), -seen.net_minor]
    levels = [0, *ends]
    names = [*(bar.label for bar in bars), _("what is left")]
    room = max(len(_signed(amount, project)) for amount in amounts) * FIGURE_WIDTH
    joints = [charts.line((level, level), (i + 0.28, i + 0.72), SOFT, 1) for i, level in enumerate(ends)]
    air = max((max(levels) - min(levels)) * 4 // 100, 1)
    return charts.house_layout(
        height=64 + 48 * len(amounts),
        barmode="overlay",
        margin={"l": 8, "r": room, "t": 34, "b": 8, "pad": 4},
        xaxis=charts.axis(range=[min(levels) - air, max(levels) + air], showticklabels=False),
        yaxis=charts.axis(
            tickvals=list(range(len(names))), ticktext=[charts.text(name[:1].upper() + name[1:], 16) for name in names],
            range=[len(names) - 0.4, -0.6],
        ),
        shapes=[*joints, charts.line((0, 0), (0, 1), CHALK, 2.5, yref="paper", layer="above")],
        annotations=[
            charts.note(_("Original quotes"), 0, 1, yref="paper", yanchor="bottom", xanchor="right", font={"color": CHALK}),
            *_column(amounts, room, project),
        ],
    )  # fmt: skip


def _column(amounts: Sequence[int], room: int, project: Priced) -> list[Figure]:
    return [
        charts.note(
            _signed(amount, project), 1, place, xref="paper", xanchor="right", xshift=room, font={"color": charts.COLOUR[sense(amount)]}
        )
        for place, amount in enumerate(amounts)
    ]  # fmt: skip


def _signed(amount: int, project: Priced) -> str:
    return _SIGN[sense(amount)] + money(amount, project, brief=True, sign=True)


def _words(bar: Bar, project: Priced) -> str:
    told = {"amount": _signed(bar.amount, project), "realised": money(abs(bar.realised), project, brief=True)}
    return _("%(amount)s, %(realised)s of it come true") % told


def _table(seen: SavingsBook, project: Priced) -> dict[str, object]:
    saved = [_("saved for the same function"), money(seen.counted_minor, project), money(seen.realised_minor, project)]
    parts = [
        [part.label, money(part.amount_minor, project, sign=True), money(part.realised_minor, project, sign=True)]
        for part in _parts(seen)
    ]
    return {
        "caption": _("What was saved, what ate into it, what is left"),
        "head": [_("Step"), _("Promised"), _("Come true")],
        "rows": [saved, *parts, [_("what is left"), money(seen.net_minor, project), ""]],
    }
