"""Options side by side: what each is expected to cost, stacked by what the money goes into.

The parts are told apart by hatching, as on a drawing, so they read in black and white; the bar's end bears the
expected total. The name of an option stands above its bar, because names are long and phones are narrow.
"""

from collections.abc import Mapping, Sequence
from typing import TypedDict

from django.utils.translation import gettext as _

from projects import charts
from projects.charts import INK, PAPER, SOFT, Figure
from projects.display import Priced, money


class Row(TypedDict):
    """One option: its name and its parts [minor units], by the names in `part_names`."""

    name: str
    parts: Mapping[str, int]


#: part -> the hatching it is drawn with ("" is solid)
HATCHES = {"first": "", "effects": "/", "days": "x", "correction": "\\", "running": "."}

_LEGEND: Figure = {
    "orientation": "h",
    "x": 0,
    "y": 1,
    "yanchor": "bottom",
    "traceorder": "normal",
    "itemclick": False,
    "itemdoubleclick": False,
}


def part_names() -> dict[str, str]:
    """The parts of an expected total, in their order, with the words for them."""
    return {
        "first": _("First cost"),
        "effects": _("Effects on other lines"),
        "days": _("Cost of the days"),
        "correction": _("Correction"),
        "running": _("Running cost"),
    }


def options(rows: Sequence[Row], *, project: Priced) -> Figure:
    """Draw the options, in the order given.

    Args:
        rows: at least one; a part that is left out is nothing, one below zero is a credit and is drawn to the left.
    Returns: a figure with `table`; the lowest total is named as such.
    """
    totals = [sum(row["parts"].values()) for row in rows]
    ends = [_end(row["parts"]) for row in rows]
    used = {part: name for part, name in part_names().items() if any(row["parts"].get(part) for row in rows)}
    layout = charts.house_layout(
        height=80 + 78 * len(rows),
        barmode="relative",
        showlegend=True,
        legend=_LEGEND,
        margin={"l": 8, "r": 8, "t": 56, "b": 24, "pad": 4},
        xaxis=charts.money_axis(*_range(rows, ends), project, most=4),
        yaxis=charts.axis(showticklabels=False, range=[len(rows) - 0.35, -0.75]),
        annotations=[*_names(rows), *_ends(totals, ends, project)],
    )
    data = [_trace(part, name, rows, project) for part, name in used.items()]
    wider = {"xaxis": charts.money_axis(*_range(rows, ends, room=7), project, most=4)}
    narrow = {"data": data, "layout": layout | _two_column_legend(len(used), len(rows)) | wider}
    return charts.figure(data, layout, narrow=narrow, table=_table(rows, totals, used, project))


def _two_column_legend(parts: int, rows: int) -> Figure:
    """On a phone the legend stands in two columns above the bars."""
    head = 24 + 22 * ((parts + 1) // 2)
    legend = {**_LEGEND, "entrywidthmode": "fraction", "entrywidth": 0.5, "font": {"size": 12}, "y": 1.02}
    return {"legend": legend, "height": 34 + head + 78 * rows, "margin": {"l": 8, "r": 8, "t": head, "b": 24, "pad": 4}}


def _end(parts: Mapping[str, int]) -> int:
    return sum(part for part in parts.values() if part > 0)


def _range(rows: Sequence[Row], ends: Sequence[int], *, room: int = 3) -> tuple[int, int]:
    """From the largest credit to the longest bar and, beyond it, tenths of the span for the words at its end."""
    low = min(sum(part for part in row["parts"].values() if part < 0) for row in rows)
    high = max(*ends, 1)
    return low, high + (high - low) * room // 10


def _trace(part: str, name: str, rows: Sequence[Row], project: Priced) -> Figure:
    amounts = [row["parts"].get(part, 0) for row in rows]
    hatch = HATCHES[part]
    pattern = (
        {"shape": hatch, "fgcolor": INK, "bgcolor": PAPER, "size": 7, "solidity": 0.25} if hatch else {"shape": ""}
    )
    return {
        "type": "bar",
        "orientation": "h",
        "name": name,
        "y": list(range(len(rows))),
        "x": amounts,
        "width": 0.42,
        "marker": {"color": PAPER if hatch else SOFT, "line": {"color": INK, "width": 1}, "pattern": pattern},
        "customdata": [money(amount, project, brief=True) for amount in amounts],
        "hovertemplate": name + " %{customdata}<extra></extra>",
    }


def _names(rows: Sequence[Row]) -> list[Figure]:
    return [
        charts.note(
            f"<b>{charts.text(row['name'])}</b>", 0, place - 0.26, xanchor="left", yanchor="bottom", xref="paper"
        )
        for place, row in enumerate(rows)
    ]


def _ends(totals: Sequence[int], ends: Sequence[int], project: Priced) -> list[Figure]:
    lowest = min(totals)
    words = [money(total, project, brief=True) + (" " + _("lowest") if total == lowest else "") for total in totals]
    return [
        charts.note(text, end, place, xanchor="left", yanchor="middle", xshift=6)
        for place, (text, end) in enumerate(zip(words, ends, strict=True))
    ]


def _table(rows: Sequence[Row], totals: Sequence[int], used: Mapping[str, str], project: Priced) -> dict[str, object]:
    def written(row: Row, total: int) -> list[str]:
        return [row["name"], *(money(row["parts"].get(part, 0), project) for part in used), money(total, project)]

    return {
        "caption": _("What each option is expected to cost"),
        "head": [_("Option"), *used.values(), _("Expected total")],
        "rows": [written(row, total) for row, total in zip(rows, totals, strict=True)],
    }
