"""The promises of the last weeks: how many were made, how many of them kept."""

from typing import Any

from django.utils.translation import gettext as _

from projects import charts, display
from projects.charts import CHALK, INK, PAPER, SOFT, Figure
from projects.models import Project
from schedule.selectors.promises import Counted, Figures


def kept(seen: Figures, *, project: Project) -> Figure:
    """Draw each closed week as a bar: what was kept filled, what was not hatched on top of it.

    Returns: a figure with `table`.
    """
    names = [display.day(week.first_on, project.locale, short=True) for week in seen.weeks]
    return charts.figure(_bars(seen, names), _layout(seen, names, project), table=_table(seen, project))


def _bars(seen: Figures, names: list[str]) -> list[Figure]:
    hatched: dict[str, Any] = {"color": PAPER, "line": {"color": INK, "width": 1}}
    hatched["pattern"] = {"shape": "/", "fgcolor": SOFT, "size": 6}
    return [
        _bar(names, [week.kept for week in seen.weeks], _("%(n)d kept"), {"color": INK}),
        _bar(names, [week.missed for week in seen.weeks], _("%(n)d not kept"), hatched),
    ]


def _bar(names: list[str], numbers: list[int], words: str, marker: dict[str, Any]) -> Figure:
    return {
        "type": "bar", "x": names, "y": numbers, "marker": marker, "width": 0.55,
        "text": [words % {"n": number} for number in numbers], "textposition": "none",
        "hovertemplate": "%{text}<extra></extra>",
    }  # fmt: skip


def _layout(seen: Figures, names: list[str], project: Project) -> Figure:
    most = max((week.promised for week in seen.weeks), default=1)
    return charts.house_layout(
        height=220, barmode="stack", margin={"l": 8, "r": 8, "t": 8, "b": 8, "pad": 4},
        xaxis=charts.axis(type="category", tickfont={"color": SOFT, "size": 12}),
        yaxis=charts.axis(range=[0, most * 1.2], showticklabels=False),
        shapes=[charts.line((0, 1), (0, 0), CHALK, 2.5, xref="paper")],
        annotations=[_share(name, week, project) for name, week in zip(names, seen.weeks, strict=True)],
    )  # fmt: skip


def _share(name: str, week: Counted, project: Project) -> Figure:
    text = display.percent(week.share, project.locale) if week.share is not None else ""
    return {
        "x": name, "y": week.promised, "text": text, "showarrow": False, "yanchor": "bottom", "font": {"color": INK, "size": 12},
    }  # fmt: skip


def _table(seen: Figures, project: Project) -> dict[str, object]:
    return {
        "caption": _("Promises of the last weeks"),
        "head": [_("Week of"), _("Promised"), _("Kept"), _("Share"), _("Why not")],
        "rows": [
            [
                display.day(week.first_on, project.locale), str(week.promised), str(week.kept),
                display.percent(week.share, project.locale) if week.share is not None else "",
                ", ".join(f"{cause} {number}" for cause, number in week.causes),
            ]
            for week in seen.weeks
        ],
    }  # fmt: skip
