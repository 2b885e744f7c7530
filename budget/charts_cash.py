"""Money by month: what goes out in each, and how far the money goes.

The bars are what goes out in a month; the ink line is all of it since today. Across stand two lines of what there is: in
hand, the chalk line, and with all that is promised. Where the ink line passes the chalk line, money has to be drawn.
"""

from collections.abc import Sequence
from datetime import date

from babel.dates import format_skeleton
from django.utils.translation import gettext as _

from budget.calc.cash import KINDS, Month
from budget.selectors.cash import Outlook
from projects import charts
from projects.charts import CHALK, INK, PAPER, RULE, SOFT, Figure
from projects.display import Priced, locale_of, money
from projects.models import Project

#: How the bars of each kind are filled: what has no day is the palest.
FILL = {
    "invoice": {"color": INK},
    "stage": {"color": SOFT},
    "retention": {"color": PAPER, "line": {"color": INK, "width": 1}},
    "rest": {"color": RULE},
}


def kinds() -> dict[str, str]:
    """What each kind is called."""
    return {
        "invoice": _("invoices"),
        "stage": _("stages"),
        "retention": _("retention"),
        "rest": _("not yet billed"),
    }


def months(seen: Outlook, *, project: Project) -> Figure:
    """Draw what goes out by month against the money there is.

    Args:
        seen: as the selector gives it.
    Returns: a figure with `narrow` and `table`.
    """
    data = [*_bars(seen.months, project), _sum(seen.months, project)]
    return charts.figure(
        data,
        _layout(seen, project, height=380),
        narrow={"data": data, "layout": _layout(seen, project, height=400)},
        table=_table(seen, project),
    )


def _bars(rows: Sequence[Month], project: Priced) -> list[Figure]:
    shown = [kind for kind in KINDS if any(month.amounts.get(kind) for month in rows)]
    return [_bar(kind, rows, project) for kind in shown]


def _bar(kind: str, rows: Sequence[Month], project: Priced) -> Figure:
    amounts = [month.amounts.get(kind, 0) for month in rows]
    return {
        "type": "bar",
        "name": kinds()[kind],
        "x": list(range(len(rows))),
        "y": amounts,
        "width": 0.56,
        "marker": FILL[kind],
        "text": [money(amount, project, brief=True) for amount in amounts],
        "textposition": "none",
        "hovertemplate": f"{kinds()[kind]}<br>%{{text}}<extra></extra>",
    }


def _sum(rows: Sequence[Month], project: Priced) -> Figure:
    sums = [month.cumulative_minor for month in rows]
    return {
        "type": "scatter",
        "mode": "lines+markers",
        "name": _("all since today"),
        "x": list(range(len(rows))),
        "y": sums,
        "line": {"color": INK, "width": 2},
        "marker": {"color": INK, "size": 6},
        "text": [money(amount, project, brief=True) for amount in sums],
        "hovertemplate": _("all since today") + "<br>%{text}<extra></extra>",
    }


def _layout(seen: Outlook, project: Project, *, height: int) -> Figure:
    levels = _levels(seen)
    ticks = [_tick(place, seen.months, project.locale) for place in range(len(seen.months))]
    high = max([month.cumulative_minor for month in seen.months] + [level for _words, level, _dash in levels])
    low = min([0, *(month.total_minor for month in seen.months), *(level for _words, level, _dash in levels)])
    return charts.house_layout(
        height=height,
        barmode="relative",
        showlegend=True,
        legend={"orientation": "h", "x": 0, "y": -0.16, "yanchor": "top", "font": {"size": 13}},
        margin={"l": 8, "r": 8, "t": 28, "b": 8, "pad": 4},
        xaxis=charts.axis(
            tickvals=list(range(len(ticks))), ticktext=ticks, range=[-0.6, len(ticks) - 0.4], tickangle=0
        ),
        yaxis=charts.money_axis(low, high + (high - low) // 8, project),
        shapes=[_across(level, dash) for _words, level, dash in levels],
        annotations=[_named(words, level, project) for words, level, _dash in levels],
    )


def _levels(seen: Outlook) -> list[tuple[str, int, str]]:
    """The money there is: words, height, dash."""
    funds = seen.funds.funds
    if not seen.funds.rows:
        return []
    in_hand = (_("in hand"), funds.in_hand_minor, "solid")
    whole = (_("with all that is promised"), funds.in_hand_minor + funds.undrawn_minor, "dash")
    return [in_hand, whole] if funds.undrawn_minor else [in_hand]


def _across(level: int, dash: str) -> Figure:
    across = charts.line((0, 1), (level, level), CHALK, 2.5, xref="paper")
    return across | {"line": {**across["line"], "dash": dash}}


def _named(words: str, level: int, project: Priced) -> Figure:
    said = f"{words} {money(level, project, brief=True)}"
    look = {"font": {"color": CHALK, "size": 14}, "bgcolor": PAPER, "borderpad": 2, "yshift": 2}
    return charts.note(said, 1, level, xref="paper", xanchor="right", yanchor="bottom", **look)


def _tick(place: int, rows: Sequence[Month], locale: str) -> str:
    """The month; with its year where the one before is not drawn beside it."""
    first = rows[place].first
    follows = place and (first - rows[place - 1].first).days < 32 and first.month != 1
    return _short(first, locale) if follows else f"{_short(first, locale)}<br>{first.year}"


def _short(first: date, locale: str) -> str:
    return format_skeleton("MMM", first, locale=locale_of(locale))


def _table(seen: Outlook, project: Project) -> dict[str, object]:
    names, in_hand = kinds(), seen.funds.funds.in_hand_minor
    shown = [kind for kind in KINDS if any(month.amounts.get(kind) for month in seen.months)]
    rows = [
        [
            f"{_short(month.first, project.locale)} {month.first.year}",
            *(money(month.amounts.get(kind, 0), project) for kind in shown),
            money(month.total_minor, project),
            money(month.cumulative_minor, project),
            money(in_hand - month.cumulative_minor, project),
        ]
        for month in seen.months
    ]
    return {
        "caption": _("What goes out by month, without the tax that comes back"),
        "head": [
            _("Month"),
            *(names[kind] for kind in shown),
            _("in the month"),
            _("all since today"),
            _("left in hand"),
        ],
        "rows": rows,
    }
