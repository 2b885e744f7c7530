"""The build as bars on a calendar: names beside the bars, days that rest shaded, hold points as gates, the critical path inked.

A picture holds some dozens of bars. What is more is folded: one band to a trade, in which the days that are worked run together.
On a phone the picture shows the six weeks ahead, with the names above the bars.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.utils.translation import gettext as _

from projects import charts, display
from projects.charts import CHALK, INK, RULE, SOFT, Figure
from schedule import charts_bars as pieces
from schedule import wording
from schedule.calc import listing
from schedule.calc.listing import Row, Window
from schedule.calc.rests import Rest
from schedule.charts_bars import Gate, Place
from units.days import monday

MOST_BARS, MOST_NARROW, MOST_BANDS = 60, 24, 40
#: the least width the picture is drawn at on a desk and on a phone [px]
DESK, PHONE = 900, 320
#: up to this many days every week has its line and weekends are shaded
SHORT, MIDDLING = 70, 105


@dataclass(frozen=True, slots=True)
class Scene:
    """What is drawn: the activities that are asked for, and the days; `near` is what a phone shows."""

    rows: Sequence[Row]
    window: Window
    near: Window
    rests: Sequence[Rest]
    near_rests: Sequence[Rest]
    today: date
    target_on: date | None
    finish_on: date | None
    gates: Mapping[int, Sequence[Gate]]
    locale: str

    def seen(self, window: Window) -> list[Row]:
        return listing.by_start(row for row in self.rows if window.meets(row))

    @property
    def is_folded(self) -> bool:
        """Whether there are too many activities for a bar each."""
        return len(self.seen(self.window)) > MOST_BARS


def sequence(scene: Scene) -> Figure | None:
    """Draw the sequence. Returns: a figure with `narrow` and `table`, or None where nothing falls into the days shown."""
    rows = scene.seen(scene.window)
    if not rows:
        return None
    data, layout = _folded(rows, scene) if scene.is_folded else _barred(rows, scene)
    return charts.figure(data, layout, narrow=_narrow(scene), table=_table(rows[:MOST_BARS], scene))


def _barred(rows: Sequence[Row], scene: Scene) -> tuple[list[Figure], Figure]:
    """A row to each activity, in the order they start."""
    window, places = scene.window, pieces.placed(rows, scene.window)
    beside, laid = pieces.names(places, scene.gates, window.days, DESK)
    data = _present(
        pieces.tails(places, window),
        *pieces.bars(places, scene.locale),
        pieces.ticks(places, window, scene.locale),
        pieces.pegs(places, scene.locale),
        *pieces.gates(places, scene.gates, window.days, DESK),
        beside,
    )
    layout = _layout(scene, window, scene.rests, len(places), 26)
    layout["annotations"] = [*layout["annotations"], *laid]
    layout["shapes"] = [*layout["shapes"], *_rungs(places)]
    return data, layout


def _rungs(places: Sequence[Place]) -> list[Figure]:
    """A hairline between what starts in one week and what starts in the next."""
    weeks = [(place.at, monday(place.row.start_on)) for place in places]
    ends = [at for (at, week), (_next, after) in zip(weeks, weeks[1:], strict=False) if after != week]
    return [charts.line((0, 1), (at + 0.5, at + 0.5), RULE, 1, xref="paper", layer="below") for at in ends]


def _folded(rows: Sequence[Row], scene: Scene) -> tuple[list[Figure], Figure]:
    """A band to each trade, its name above it."""
    window = scene.window
    bands = listing.grouped(rows, "trade", scene.today)[:MOST_BANDS]
    spans: dict[str, list[tuple[int, int, float]]] = defaultdict(list)
    words = []
    for at, band in enumerate(bands):
        places = pieces.placed(band.rows, window)
        for look, start, end in _run_together(places, window.days // 150 + 1):
            spans[look].append((start, end, at + 0.2))
        first, last = min(place.start for place in places), max(place.end for place in places)
        words.append(
            (
                (first, last),
                at - 0.22,
                f"<b>{charts.text(wording.group(band, scene.locale))}</b> {wording.counts(band)}",
            )
        )
    data = [pieces.bar_trace(look, spans[look], 0.34) for look in pieces.LOOKS if look in spans]
    layout = _layout(scene, window, scene.rests, len(bands), 44)
    layout["annotations"] = [
        *layout["annotations"],
        *(_above(span, y, text, window.days, DESK) for span, y, text in words),
    ]
    return data, layout


def _run_together(places: Iterable[Place], gap: int) -> Iterable[tuple[str, int, int]]:
    """The days of one look that touch, or are at most `gap` days apart, as one stretch."""
    runs: dict[str, list[list[int]]] = defaultdict(list)
    for place in places:
        held = runs[place.look]
        if held and place.start <= held[-1][1] + gap:
            held[-1][1] = max(held[-1][1], place.end)
        else:
            held.append([place.start, place.end])
    return [(look, start, end) for look, held in runs.items() for start, end in held]


def _narrow(scene: Scene) -> Figure | None:
    """What starts or goes on in the six weeks ahead, for a phone."""
    window = scene.near
    places = pieces.placed(scene.seen(window)[:MOST_NARROW], window)
    if not places:
        return None
    data = _present(
        pieces.tails(places, window, shift=0.42),
        *pieces.bars(places, scene.locale, width=0.3, shift=0.22),
        pieces.ticks(places, window, scene.locale, shift=0.22),
        pieces.pegs(places, scene.locale, shift=0.22),
        *pieces.gates(places, scene.gates, window.days, PHONE, shift=0.22),
    )
    layout = _layout(scene, window, scene.near_rests, len(places), 38)
    names = [
        _above((place.start, window.days), place.at - 0.18, pieces.name_of(place, scene.gates, 36), window.days, PHONE)
        for place in places
    ]
    layout["annotations"] = [*layout["annotations"], *names]
    return {"data": data, "layout": layout}


def _above(place: tuple[int, int], y: float, words: str, days: int, room: int) -> Figure:
    """Words above a bar from its start on, or, where they would not fit, up to the right edge or the end of the bar.

    Args:
        place: first day and day after the last; days: how many the picture is wide; room: how wide it is drawn [px].
    """
    start, end = place
    fits = start + len(words) * pieces.LETTER * days / room <= days
    x, anchor = (start, "left") if fits else (end, "right")
    return charts.note(words, x, y, xanchor=anchor, yanchor="middle", font={"size": 12, "color": INK})


def _present(*figures: Figure | None) -> list[Figure]:
    return [figure for figure in figures if figure is not None]


def _layout(scene: Scene, window: Window, rests: Sequence[Rest], rows: int, each: int) -> Figure:
    lines = [line for line in _days_of_note(scene) if window.first <= line.on <= window.last]
    places, labels = _dates(window, scene.locale)
    return charts.house_layout(
        height=76 + each * rows,
        margin={"l": 4, "r": 4, "t": 58, "b": 18, "pad": 0},
        barmode="overlay",
        xaxis=charts.axis(
            range=[0, window.days], side="top", tickvals=places, ticktext=labels, tickangle=0, showgrid=True, gridcolor=RULE,
            tickfont={"color": SOFT, "size": 12}, automargin=False,
        ),
        yaxis=charts.axis(range=[rows - 0.4, -0.6], showticklabels=False),
        shapes=[*_shades(rests, window), *(line.drawn(window) for line in lines)],
        annotations=[line.named(window, step) for step, line in enumerate(lines)],
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Line:
    """A day of note, as an upright line with its words above the dates."""

    on: date
    words: str
    colour: str
    width: float
    dash: str = "solid"

    def at(self, window: Window) -> int:
        return (self.on - window.first).days

    def drawn(self, window: Window) -> Figure:
        at = self.at(window)
        return charts.line((at, at), (0, 1), self.colour, self.width, yref="paper", layer="above") | {
            "line": {"color": self.colour, "width": self.width, "dash": self.dash}
        }

    def named(self, window: Window, step: int) -> Figure:
        at = self.at(window)
        anchor = "right" if at > window.days * 0.85 else "left" if at < window.days * 0.1 else "center"
        return charts.note(
            self.words, at, 1, yref="paper", yanchor="bottom", yshift=20 + 15 * (step % 2), xanchor=anchor,
            font={"color": self.colour, "size": 12},
        )  # fmt: skip


def _days_of_note(scene: Scene) -> list[_Line]:
    """Today, the target as the chalk line, and the finish; each stands at the end of its day but today."""
    found = [_Line(scene.today, _("today"), INK, 1)]
    next_day = timedelta(days=1)
    if scene.target_on:
        words = _("target %s") % display.day(scene.target_on, scene.locale, short=True)
        found.append(_Line(scene.target_on + next_day, words, CHALK, 2.5))
    if scene.finish_on:
        words = _("opening expected %s") % display.day(scene.finish_on, scene.locale, short=True)
        found.append(_Line(scene.finish_on + next_day, words, INK, 1.5, "dot"))
    return sorted(found, key=lambda line: line.on)


def _shades(rests: Sequence[Rest], window: Window) -> list[Figure]:
    """Days that are not worked; plain weekends only where a day is wide enough to see."""
    shown = [rest for rest in rests if not rest.weekend or window.days <= SHORT]
    return [
        {
            "type": "rect", "x0": (rest.first - window.first).days, "x1": (rest.last - window.first).days + 1, "y0": 0, "y1": 1,
            "yref": "paper", "layer": "below", "line": {"width": 0}, "fillcolor": RULE, "opacity": 0.3 if rest.weekend else 0.7,
        }
        for rest in shown
    ]  # fmt: skip


def _dates(window: Window, locale: str) -> tuple[list[int], list[str]]:
    """Mondays, or the firsts of months where weeks are too many, with what is written there."""
    days = [window.first + timedelta(days=n) for n in range(window.days)]
    if window.days <= MIDDLING:
        marked = [day for day in days if day.isoweekday() == 1]
        words = [display.day(day, locale, short=True) for day in marked]
    else:
        firsts = [day for day in days if day.day == 1]
        marked = firsts[:: -(-len(firsts) // 12)]
        words = [wording.month_short(day, locale) for day in marked]
    return [(day - window.first).days for day in marked], words


def _table(rows: Sequence[Row], scene: Scene) -> dict[str, Any]:
    return {
        "caption": _("The activities in the picture"),
        "head": [_("Activity"), _("Start"), _("Finish"), _("Float"), _("State")],
        "rows": [
            [
                f"{row.code} {row.name}",
                display.day(row.start_on, scene.locale),
                display.day(row.finish_on, scene.locale),
                wording.float_of(row),
                ", ".join(
                    [wording.state(row.state), *(pieces.gate_words(*gate) for gate in scene.gates.get(row.pk, ()))]
                ),
            ]
            for row in rows
        ],
    }
