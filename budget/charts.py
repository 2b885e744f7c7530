"""The bridge: from the first budget over each cause to the likely final, hung on the chalk line.

The first budget is not a bar but the line itself. What a cause added stands above it and what it took off hangs
below, each starting where the one before ended; the last bar is what is left between the line and the likely final.
On a phone the line is upright and the bars lie: over to the right, saved to the left.
"""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from projects import charts
from projects.charts import CHALK, INK, SOFT, Figure
from projects.display import Priced, difference, money, sense

#: label, what it moved [minor units], where the likely final stands after it [minor units]
Step = tuple[str, int, int]
#: how wide a figure of the text face is at the size used in a picture, with a little air [px]
FIGURE_WIDTH = 9
_SIGN = {"over": "\u25b2 ", "saved": "\u25bc ", "level": ""}


def bridge(steps: Sequence[Step], *, project: Priced) -> Figure:
    """Draw the bridge.

    Args:
        steps: (label, amount, running) in their order: first the first budget, last the likely final (amount = running
            in both), the causes between. A cause that moved nothing is left out of the picture, not of the table.
    Returns: a figure with `narrow` and `table`.
    """
    (_first, budget, _same), *causes, (last, final, _likely) = steps
    moved = [(label, amount, running) for label, amount, running in causes if amount]
    bars = [*moved, (last, final - budget, final)]
    bases = [running - amount - budget for _label, amount, running in moved] + [0]
    levels = [0, *bases, *(running - budget for _label, _amount, running in bars)]
    return charts.figure(
        *_upright(bars, bases, levels, budget, project),
        narrow=_lying(bars, bases, levels, budget, project),
        table=_table(steps, project),
    )


def _bars(bars: Sequence[Step], bases: Sequence[int], project: Priced) -> Figure:
    colours = [charts.COLOUR[sense(amount)] for _label, amount, _running in bars[:-1]]
    words = [_signed(amount, project) for _label, amount, _running in bars]
    return {
        "type": "bar",
        "base": list(bases),
        "marker": {"color": [*colours, INK], "line": {"width": 0}},
        "text": words,
        "textposition": "outside",
        "cliponaxis": False,
        "constraintext": "none",
        "textfont": {"color": INK},
        "customdata": [money(running, project, brief=True) for _label, _amount, running in bars],
        "hovertemplate": "%{text}<br>" + _("now at") + " %{customdata}<extra></extra>",
    }


def _signed(amount: int, project: Priced) -> str:
    return _SIGN[sense(amount)] + money(amount, project, brief=True, sign=True)


def _range(levels: Sequence[int], share: int) -> tuple[int, int]:
    """The lowest and highest level with room for the words: a share of the span, in per cent."""
    low, high = min(levels), max(levels)
    room = max((high - low) * share // 100, 1)
    return low - room, high + room


def _line_words(budget: int, project: Priced) -> str:
    return _("First budget") + " " + money(budget, project, brief=True)


def _upright(
    bars: Sequence[Step], bases: Sequence[int], levels: Sequence[int], budget: int, project: Priced
) -> tuple[list[Figure], Figure]:
    places = list(range(len(bars)))
    data = _bars(bars, bases, project) | {
        "x": places,
        "y": [amount for _label, amount, _running in bars],
        "width": 0.5 if len(bars) > 4 else 0.34,
    }
    half = data["width"] / 2
    ends = [(bars[i][2] - budget, i) for i in places[:-1]]
    joints = [charts.line((i + half, i + 1 - half), (level, level), SOFT, 1) for level, i in ends]
    chalk = charts.line((0, 1), (0, 0), CHALK, 2.5, xref="paper", layer="above")
    words = charts.note(_line_words(budget, project), 0, 0, xref="paper", xanchor="left", yanchor="bottom")
    names = [charts.text(label, 14) for label in _names(bars, project)]
    layout = charts.house_layout(
        height=400,
        xaxis=charts.axis(tickvals=places, ticktext=names, range=[-1.45, len(bars) - 0.5], tickangle=0),
        yaxis=charts.axis(range=list(_range(levels, 14)), showticklabels=False),
        shapes=[*joints, chalk],
        annotations=[words | {"font": {"color": CHALK}}],
    )
    return [data], layout


def _lying(
    bars: Sequence[Step], bases: Sequence[int], levels: Sequence[int], budget: int, project: Priced
) -> dict[str, object]:
    """The same bars lying; what each moved stands in a column at the right, where it never meets a bar."""
    places = list(range(len(bars)))
    data = _bars(bars, bases, project) | {
        "x": [amount for _label, amount, _running in bars],
        "y": places,
        "orientation": "h",
        "width": 0.5,
        "textposition": "none",
    }
    ends = [(bars[i][2] - budget, i) for i in places[:-1]]
    joints = [charts.line((level, level), (i + 0.25, i + 0.75), SOFT, 1) for level, i in ends]
    chalk = charts.line((0, 0), (0, 1), CHALK, 2.5, yref="paper", layer="above")
    words = charts.note(_line_words(budget, project), 0, 1, yref="paper", yanchor="bottom", xanchor="auto")
    names = [charts.text(label, 15) for label in _names(bars, project)]
    room = max(len(_signed(amount, project)) for _label, amount, _running in bars) * FIGURE_WIDTH
    layout = charts.house_layout(
        height=90 + 48 * len(bars),
        margin={"l": 8, "r": room, "t": 34, "b": 8, "pad": 4},
        xaxis=charts.axis(range=list(_range(levels, 4)), showticklabels=False),
        yaxis=charts.axis(tickvals=places, ticktext=names, range=[len(bars) - 0.4, -0.6]),
        shapes=[*joints, chalk],
        annotations=[words | {"font": {"color": CHALK}}, *_column(bars, project, room)],
    )
    return {"data": [data], "layout": layout}


def _column(bars: Sequence[Step], project: Priced, room: int) -> list[Figure]:
    return [
        charts.note(_signed(amount, project), 1, place, xref="paper", xanchor="right", xshift=room, font=_ink(amount))
        for place, (_label, amount, _running) in enumerate(bars)
    ]


def _ink(amount: int) -> Figure:
    return {"color": charts.COLOUR[sense(amount)]}


def _names(bars: Sequence[Step], project: Priced) -> list[str]:
    """The labels below the bars; the last one bears the likely final itself."""
    *causes, (last, _gap, final) = bars
    labels = [*(label for label, _amount, _running in causes), f"{last} {money(final, project, brief=True)}"]
    return [label[:1].upper() + label[1:] for label in labels]


def _table(steps: Sequence[Step], project: Priced) -> dict[str, object]:
    (first, budget, _same), *causes, (last, final, _likely) = steps
    middle = [[label, money(amount, project, sign=True), money(run, project)] for label, amount, run in causes]
    return {
        "caption": _("From the first budget to the likely final"),
        "head": [_("Step"), _("Moved"), _("Stands at")],
        "rows": [
            [first, "", money(budget, project)],
            *middle,
            [last, difference(final - budget, project, "first_budget", brief=False), money(final, project)],
        ],
    }
