"""The contingency over time: how it went down from what was set aside, against what is open today.

What was set aside is the chalk line, and the pot hangs below it, a step down for each day on which something was drawn.
Two levels are drawn across: what is open today, and one and a half times that. Where the pot ends above both it is
enough; between them it is amber, under the lower one red.
"""

from datetime import date, timedelta

from django.utils.translation import gettext as _

from budget.selectors.reserve import Reserve
from projects import charts
from projects.charts import CHALK, INK, SOFT, Figure
from projects.display import day, money
from projects.models import Project

WAIT, OVER = "token:wait", "token:over"


def pot(seen: Reserve, *, project: Project, today: date) -> Figure:
    """Draw the contingency over time.

    Args:
        seen: as the selector gives it.
        today: the last day of the curve; the likely draws follow it, dashed.
    Returns: a figure with `narrow` and `table`.
    """
    return charts.figure(
        _curves(seen, project, today),
        _layout(seen, project, today, height=340, words=True),
        narrow={
            "data": _curves(seen, project, today),
            "layout": _layout(seen, project, today, height=320, words=False),
        },
        table=_table(seen, project),
    )


def _first_day(seen: Reserve, project: Project, today: date) -> date:
    known = [project.starts_on or project.created_at.date(), today]
    return min([*known, *(level.on for level in seen.pot.levels[:1])])


def _after(seen: Reserve, project: Project, today: date) -> date:
    """Where the likely draws stand: a little after today, for nobody knows when they come."""
    return today + timedelta(days=max(3, (today - _first_day(seen, project, today)).days // 10))


def _curves(seen: Reserve, project: Project, today: date) -> list[Figure]:
    points = [(_first_day(seen, project, today), seen.start)]
    points += [(level.on, level.left) for level in seen.pot.levels]
    points.append((today, seen.left))
    curves = [_curve(points, project, {"color": INK, "width": 2.5, "shape": "hv"})]
    if seen.likely:
        ahead = [(today, seen.left_after_likely), (_after(seen, project, today), seen.left_after_likely)]
        curves.append(_curve(ahead, project, {"color": INK, "width": 2, "dash": "dot"}))
    return curves


def _curve(points: list[tuple[date, int]], project: Project, drawn: Figure) -> Figure:
    return {
        "type": "scatter",
        "mode": "lines",
        "x": [on.isoformat() for on, _left in points],
        "y": [left for _on, left in points],
        "line": drawn,
        "text": [f"{day(on, project.locale)}<br>{money(left, project, brief=True)}" for on, left in points],
        "hovertemplate": "%{text}<extra></extra>",
    }


def _levels(seen: Reserve) -> list[tuple[str, int, str, str]]:
    """The lines across: words, height, colour, dash."""
    drawn = [(_("set aside"), seen.start, CHALK, "solid")]
    if seen.open:
        drawn.append((_("amber below"), seen.amber_under, WAIT, "dash"))
        drawn.append((_("open today, red below"), seen.open, OVER, "dashdot"))
    return drawn


def _layout(seen: Reserve, project: Project, today: date, *, height: int, words: bool) -> Figure:
    first, last = _first_day(seen, project, today), _after(seen, project, today)
    levels = _levels(seen)
    months = _months(first, last, 6 if words else 3)
    return charts.house_layout(
        height=height,
        margin={"l": 8, "r": 8, "t": 28, "b": 8, "pad": 4},
        xaxis=charts.axis(
            type="date", range=[first.isoformat(), last.isoformat()], tickvals=[on.isoformat() for on in months],
            ticktext=[day(on, project.locale, short=True) for on in months], tickfont={"color": SOFT, "size": 12},
        ),
        yaxis=charts.money_axis(*_room(seen, levels), project, most=4),
        shapes=[_across(level, colour, dash) for _words, level, colour, dash in levels]
        + [charts.line((today.isoformat(), today.isoformat()), (0, 1), SOFT, 1, yref="paper")],
        annotations=[*_names(levels, project), *_ends(seen, project, today, roomy=words)],
    )  # fmt: skip


def _room(seen: Reserve, levels: list[tuple[str, int, str, str]]) -> tuple[int, int]:
    """The lowest and highest amount shown, with room for the words; the axis need not start at nothing for a curve."""
    shown = [seen.left, seen.left_after_likely, *(level for _words, level, _colour, _dash in levels)]
    low, high = min(shown), max(shown)
    room = max(high - low, 100) // 5
    return (low - room if low < 0 else max(0, low - room)), high + room


def _months(first: date, last: date, most: int) -> list[date]:
    """First days of months inside a span, at most so many, evenly apart."""
    span = range(first.year * 12 + first.month, last.year * 12 + last.month)
    found = [date(number // 12, number % 12 + 1, 1) for number in span]
    return found[:: len(found) // most + 1]


def _across(level: int, colour: str, dash: str) -> Figure:
    drawn = charts.line((0, 1), (level, level), colour, 2.5 if dash == "solid" else 1.5, xref="paper")
    return drawn | {"line": drawn["line"] | {"dash": dash}}


def _names(levels: list[tuple[str, int, str, str]], project: Project) -> list[Figure]:
    """Each level is named at its left end, on the side away from the curve, which begins at what was set aside."""
    start = levels[0][1]
    return [
        charts.note(
            f"{words} {money(level, project, brief=True)}", 0, level, xref="paper", xanchor="left",
            yanchor="top" if level < start else "bottom",
            font={"color": colour},
        )
        for words, level, colour, _dash in levels
    ]  # fmt: skip


def _ends(seen: Reserve, project: Project, today: date, *, roomy: bool) -> list[Figure]:
    """Where today is and, where there is room, what the dotted end of the curve means."""
    ends = [charts.note(_("today"), today.isoformat(), 1, yref="paper", yanchor="bottom", font={"color": SOFT})]
    if roomy and seen.likely:
        words = _("after the likely draws") + " " + money(seen.left_after_likely, project, brief=True)
        ends.append(charts.note(words, today.isoformat(), seen.left_after_likely, xanchor="right", yanchor="top"))
    return ends


def _table(seen: Reserve, project: Project) -> dict[str, object]:
    levels = [[day(level.on, project.locale), money(level.left, project)] for level in seen.pot.levels]
    likely = [[_("after the likely draws"), money(seen.left_after_likely, project)]] if seen.likely else []
    lines = [[words, money(level, project)] for words, level, _colour, _dash in _levels(seen)]
    return {
        "caption": _("What was left of the contingency, day by day"),
        "head": [_("When"), _("Left")],
        "rows": [*lines[:1], *levels, *likely, *lines[1:]],
    }
