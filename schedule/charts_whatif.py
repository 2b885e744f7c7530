"""What moves, before and after: each activity's days as they stand in outline, and below them the days it would have.

Later is filled, earlier is hatched, and each bar says in words how far it moves, so nothing rests on colour. The day of opening
is the chalk line. Names stand above the bars, for phones are narrow.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _

from projects import charts, display
from projects.charts import CHALK, INK, PAPER, RULE, SOFT, Figure
from projects.models import Project
from schedule import wording_whatif as wording
from schedule.calc.whatif import Answer
from schedule.selectors.questions import Ground

MOST_ROWS, ROW, HEAD, ROOM = 12, 54, 48, 16
#: up to this many days every week has its line, else every month
WEEKS = 70


@dataclass(frozen=True, slots=True)
class Row:
    """What has two sets of dates: [first day, last day] as they stand and as they would be."""

    name: str
    before: tuple[date, date]
    after: tuple[date, date]

    @property
    def days(self) -> int:
        """How far its end moves, or its start where only that does [calendar days]."""
        return (self.after[1] - self.before[1]).days or (self.after[0] - self.before[0]).days


def moves(answer: Answer, ground: Ground, project: Project) -> Figure | None:
    """Draw what moves: the finish, and activities in the order they would start. None where nothing does.

    Returns: a figure with `table`; of more than a dozen the first are drawn, the table has as many.
    """
    found = [
        Row(ground.label(move.code), (move.before.early_start, move.before.early_finish), (move.after.early_start, move.after.early_finish))
        for move in answer.moved
        if move.moves
    ]  # fmt: skip
    if not found:
        return None
    finish = Row(wording.opens(answer), (answer.finish_before,) * 2, (answer.finish_after,) * 2)
    rows = [finish, *found[: MOST_ROWS - 1]]
    first, last = _span(rows, answer.target)
    layout = charts.house_layout(
        height=HEAD + ROW * len(rows) + ROOM,
        barmode="overlay",
        margin={"l": 8, "r": 8, "t": 36, "b": 8, "pad": 4},
        xaxis=_calendar(first, last, project.locale),
        yaxis=charts.axis(showticklabels=False, range=[len(rows) - 0.1, -0.62]),
        annotations=[
            *_names(rows),
            *_ends(rows, first, last),
            *_target_word(answer.target, first, project.locale),
        ],
        shapes=_target_line(answer.target, first),
    )
    return charts.figure(_bars(rows, first), layout, table=_table(rows, project.locale))


def _span(rows: Sequence[Row], target: date | None) -> tuple[date, date]:
    days = [day for row in rows for day in (*row.before, *row.after)] + ([target] if target else [])
    return min(days) - timedelta(days=2), max(days) + timedelta(days=3)


def _calendar(first: date, last: date, locale: str) -> Figure:
    width = (last - first).days
    ticks = [day for day in (first + timedelta(days=n) for n in range(width + 1)) if _is_tick(day, width)]
    return charts.axis(
        range=[0, width],
        side="top",
        tickmode="array",
        tickvals=[(day - first).days for day in ticks],
        ticktext=[display.day(day, locale, short=True) for day in ticks],
        tickfont={"color": SOFT, "size": 12},
        tickangle=0,
        showgrid=True,
        gridcolor=RULE,
        gridwidth=1,
    )


def _is_tick(day: date, width: int) -> bool:
    if width > WEEKS:
        return day.day == 1
    every = 1 if width <= WEEKS // 2 else 2
    return day.weekday() == 0 and (day.toordinal() // 7) % every == 0


def _bars(rows: Sequence[Row], first: date) -> list[Figure]:
    outline = {"color": PAPER, "line": {"color": SOFT, "width": 1.25}}
    filled = {"color": INK, "line": {"color": INK, "width": 1.25}}
    hatched = filled | {
        "pattern": {"shape": "/", "fgcolor": INK, "bgcolor": PAPER, "size": 7, "solidity": 0.3},
        "color": PAPER,
    }
    traces = [
        _trace(_("As it stands"), [(at - 0.06, row.before) for at, row in enumerate(rows)], outline, first),
        _trace(_("Would be later"), [(at + 0.18, row.after) for at, row in enumerate(rows) if row.days >= 0], filled, first),
        _trace(_("Would be earlier"), [(at + 0.18, row.after) for at, row in enumerate(rows) if row.days < 0], hatched, first),
    ]  # fmt: skip
    return [trace for trace in traces if trace["y"]]


def _trace(name: str, spans: Sequence[tuple[float, tuple[date, date]]], marker: Figure, first: date) -> Figure:
    return {
        "type": "bar",
        "orientation": "h",
        "name": name,
        "base": [(start - first).days for _at, (start, _end) in spans],
        "x": [(end - start).days + 1 for _at, (start, end) in spans],
        "y": [at for at, _days in spans],
        "width": 0.2,
        "marker": marker,
        "hovertemplate": name + "<extra></extra>",
    }


def _names(rows: Sequence[Row]) -> list[Figure]:
    return [
        charts.note(
            charts.text(_cut(row.name)), 0, at - 0.2, xref="paper", xanchor="left", yanchor="bottom",
            font={"size": 13, "color": INK}, bgcolor=PAPER, borderpad=1,
        )
        for at, row in enumerate(rows)
    ]  # fmt: skip


def _cut(name: str) -> str:
    return name if len(name) < 46 else name[:45] + "…"


def _ends(rows: Sequence[Row], first: date, last: date) -> list[Figure]:
    """How far each moves, beside its bar: after it, or before it where the picture ends."""
    width, found = (last - first).days, []
    for at, row in enumerate(rows):
        end, start = (max(row.after[1], row.before[1]) - first).days + 1, (row.after[0] - first).days
        fits = end < width * 0.68
        found.append(
            charts.note(
                wording.moved_by(row.days), end if fits else start, at + 0.18, xanchor="left" if fits else "right",
                yanchor="middle", xshift=5 if fits else -5, font={"size": 12, "color": INK}, bgcolor=PAPER, borderpad=1,
            )
        )  # fmt: skip
    return found


def _target_line(target: date | None, first: date) -> list[Figure]:
    if target is None:
        return []
    at = (target - first).days + 1
    return [charts.line((at, at), (0, 1), CHALK, 2, yref="paper")]


def _target_word(target: date | None, first: date, locale: str) -> list[Figure]:
    if target is None:
        return []
    words = _("target %s") % display.day(target, locale, short=True)
    return [
        charts.note(words, (target - first).days + 1, 0, yref="paper", xanchor="right", yanchor="bottom", xshift=-4,
                    font={"size": 12, "color": CHALK}, bgcolor=PAPER, borderpad=1)
    ]  # fmt: skip


def _table(rows: Sequence[Row], locale: str) -> dict[str, object]:
    def days(span: tuple[date, date]) -> str:
        first, last = (display.day(day, locale, short=True) for day in span)
        return first if first == last else f"{first} – {last}"

    return {
        "caption": _("What moves"),
        "head": [_("Activity"), _("As it stands"), _("Would be"), _("Move")],
        "rows": [[row.name, days(row.before), days(row.after), wording.moved_by(row.days)] for row in rows],
    }
