"""The pieces of the picture of the sequence: bars, names beside them, the tail of float, gates and pegs.

Places along the axis are whole days from the first day shown; a bar ends the day after its last. What has no room in the
window is cut at its edges. Nothing is told by colour alone: what is done is filled and ticked, what is under way is
hatched, what is planned is drawn in outline, what is critical is inked.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from projects import charts, display
from projects.charts import INK, PAPER, SOFT, Figure
from schedule import wording
from schedule.calc.listing import DONE, NOT_STARTED, UNDER_WAY, Row, Window

RULE_STRONG = "token:rule-strong"
#: how wide a letter is at the size of a name, with a little air [px]
LETTER = 6.9
LONGEST_NAME, SHORTEST_NAME = 52, 18
#: between a bar and the name beside it
AIR = "\u2002"
#: how wide a gate is [px]
GATE = 15
#: hold point's code and how it stands: open, failed, overruled or released
Gate = tuple[str, str]

LOOKS: dict[str, Figure] = {
    "done": {"color": "token:rule", "line": {"color": RULE_STRONG, "width": 1}},
    "planned": {"color": PAPER, "line": {"color": INK, "width": 1.25}},
    "going": {
        "color": PAPER,
        "line": {"color": INK, "width": 1.25},
        "pattern": {"shape": "/", "fgcolor": INK, "bgcolor": PAPER, "size": 6, "solidity": 0.3},
    },
    "critical": {"color": INK, "line": {"color": INK, "width": 1.25}},
    "pressing": {
        "color": INK,
        "line": {"color": INK, "width": 1.25},
        "pattern": {"shape": "/", "fgcolor": PAPER, "bgcolor": INK, "size": 8, "solidity": 0.2},
    },
}
GATES: dict[str, Figure] = {
    "open": {"symbol": "square-x", "size": 13, "color": PAPER, "line": {"color": "token:wait", "width": 2}},
    "failed": {"symbol": "square-x", "size": 13, "color": PAPER, "line": {"color": "token:over", "width": 2.5}},
    "overruled": {"symbol": "square-open", "size": 13, "color": "token:over", "line": {"color": "token:over", "width": 2}},
    "released": {"symbol": "line-ns-open", "size": 15, "color": "token:saved", "line": {"color": "token:saved", "width": 3}},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Place:
    """An activity in the picture: its row from the top, and its days in the window."""

    row: Row
    at: int
    start: int
    end: int

    @property
    def look(self) -> str:
        return look_of(self.row)


def look_of(row: Row) -> str:
    """How an activity is drawn."""
    plain = {DONE: "done", UNDER_WAY: "going", NOT_STARTED: "planned"}[row.state]
    inked = {"going": "pressing", "planned": "critical"}
    return inked.get(plain, plain) if row.is_critical else plain


def placed(rows: Sequence[Row], window: Window) -> list[Place]:
    """Give each row its place, cut to the window."""
    return [
        Place(row, at, max(0, _day(row.start_on, window)), min(window.days, _day(row.finish_on, window) + 1))
        for at, row in enumerate(rows)
    ]


def _day(on: object, window: Window) -> int:
    return (on - window.first).days  # type: ignore[operator]


def bars(places: Iterable[Place], locale: str, *, width: float = 0.46, shift: float = 0) -> list[Figure]:
    """One trace for each look that occurs."""
    held: dict[str, list[Place]] = {}
    for place in places:
        if place.row.days:
            held.setdefault(place.look, []).append(place)
    return [_trace(look, held[look], locale, width, shift) for look in LOOKS if look in held]


def _trace(look: str, places: Sequence[Place], locale: str, width: float, shift: float) -> Figure:
    return bar_trace(
        look, [(place.start, place.end, place.at + shift) for place in places], width,
        words=[hover(place.row, locale) for place in places],
    )  # fmt: skip


def bar_trace(
    look: str, spans: Sequence[tuple[int, int, float]], width: float, words: Sequence[str] | None = None
) -> Figure:
    """Bars of one look: (first day, day after the last, row)."""
    told = (
        {"hovertext": list(words), "hovertemplate": "%{hovertext}<extra></extra>"} if words else {"hoverinfo": "skip"}
    )
    return {
        "type": "bar",
        "orientation": "h",
        "base": [start for start, _end, _at in spans],
        "x": [end - start for start, end, _at in spans],
        "y": [at for _start, _end, at in spans],
        "width": width,
        "marker": LOOKS[look],
        "textposition": "none",
        **told,
    }


def hover(row: Row, locale: str) -> str:
    """What an activity says when it is pointed at."""
    days = f"{display.day(row.start_on, locale, short=True)} – {display.day(row.finish_on, locale)}"
    told = [wording.state(row.state), *filter(None, (wording.float_long(row), wording.too_late(row)))]
    return "<br>".join([charts.text(f"{row.code} {row.name}"), days, charts.text(", ".join(told))])


def tails(places: Iterable[Place], window: Window, *, shift: float = 0.34) -> Figure | None:
    """The float of each activity as a thin tail below its name, up to its latest finish."""
    spans = [
        (place.end, min(window.days, _day(place.row.late_finish_on, window) + 1), place.at + shift)
        for place in places
        if place.row.is_left and not place.row.critical
    ]
    drawn = [span for span in spans if span[1] > span[0]]
    if not drawn:
        return None
    return bar_trace("planned", drawn, 0.06) | {"marker": {"color": SOFT, "line": {"width": 0}}}


def pegs(places: Iterable[Place], locale: str, *, shift: float = 0) -> Figure | None:
    """Milestones and decisions as pegs, seen from above."""
    found = [place for place in places if not place.row.days]
    if not found:
        return None
    inked = [INK if place.row.is_critical or not place.row.is_left else PAPER for place in found]
    return _marks(
        [(place.end, place.at + shift) for place in found],
        {"symbol": "circle", "size": 11, "color": inked, "line": {"color": INK, "width": 1.5}},
        [hover(place.row, locale) for place in found],
    )


def ticks(places: Iterable[Place], window: Window, locale: str, *, shift: float = 0) -> Figure | None:
    """Where the frozen plan had the finish, as a hairline, of activities that have moved since."""
    found = [
        (place, _day(place.row.planned_finish_on, window) + 1)
        for place in places
        if place.row.planned_finish_on and place.row.planned_finish_on != place.row.finish_on
    ]
    kept = [(place, at) for place, at in found if 0 <= at <= window.days]
    if not kept:
        return None
    words = [_("planned: %s") % display.day(place.row.planned_finish_on, locale) for place, _at in kept]  # type: ignore[arg-type]
    marker = {"symbol": "line-ns-open", "size": 17, "color": SOFT, "line": {"color": SOFT, "width": 1}}
    return _marks([(at, place.at + shift) for place, at in kept], marker, words)


def gates(
    places: Sequence[Place], held: Mapping[int, Sequence[Gate]], days: int, room: int, *, shift: float = 0
) -> list[Figure]:
    """Hold points just before what they stop: a braced gate while shut, a single post once released.

    Args:
        days: how many days the picture is wide; room: how wide it is drawn at least [px].
    """
    found: dict[str, list[tuple[float, float, str]]] = {}
    for place in places:
        for step, (code, state) in enumerate(held.get(place.row.pk, ())):
            at = round(place.start - (step + 0.6) * GATE * days / room, 2)
            found.setdefault(state, []).append((at, place.at + shift, gate_words(code, state)))
    return [
        _marks([(x, y) for x, y, _words in marks], GATES[state], [words for _x, _y, words in marks])
        for state, marks in found.items()
    ]


def gate_words(code: str, state: str) -> str:
    """A gate by its code: "gate H03 shut", "gate H03 released"."""
    told = {
        "open": _("gate %s shut"),
        "failed": _("gate %s failed"),
        "overruled": _("gate %s overruled"),
        "released": _("gate %s released"),
    }
    return charts.text(told[state] % code)


def _marks(points: Sequence[tuple[float, float]], marker: Figure, words: Sequence[str]) -> Figure:
    return {
        "type": "scatter",
        "mode": "markers",
        "x": [x for x, _y in points],
        "y": [y for _x, y in points],
        "marker": marker,
        "cliponaxis": False,
        "hovertext": list(words),
        "hovertemplate": "%{hovertext}<extra></extra>",
    }


def name_of(place: Place, held: Mapping[int, Sequence[Gate]], longest: int = LONGEST_NAME) -> str:
    """The words beside a bar: its code and name, ticked when done, and the gates before it that are shut."""
    row = place.row
    shut = ", ".join(gate_words(code, state) for code, state in held.get(row.pk, ()) if state != "released")
    name, most = f"{row.code} {row.name}", max(longest - len(shut), SHORTEST_NAME)
    name = name if len(name) <= most else name[: most - 1].rstrip() + "…"
    ticked = f"{wording.TICK} " if not row.is_left else ""
    return ticked + charts.text(name) + (f" · {shut}" if shut else "")


def names(
    places: Sequence[Place], held: Mapping[int, Sequence[Gate]], days: int, room: int
) -> tuple[Figure, list[Figure]]:
    """The names beside the bars: right of the bar where there is room, else left, else on a label laid over it.

    Args:
        days: how many days the picture is wide; room: how wide it is drawn at least [px].
    Returns: a trace of the words, and the labels.
    """
    beside: list[tuple[float, int, str, str]] = []
    laid: list[Figure] = []
    for place in places:
        words = name_of(place, held)
        need = len(words) * LETTER * days / room
        pegged, gated = AIR if not place.row.days else "", AIR * 3 * len(held.get(place.row.pk, ()))
        if place.end + need <= days:
            beside.append((place.end, place.at, AIR + pegged + words, "middle right"))
        elif place.start - need >= 0:
            beside.append((place.start, place.at, words + gated + pegged + AIR, "middle left"))
        else:
            laid.append(_label(words, place, days))
    x, y, text, position = (list(column) for column in zip(*beside, strict=True)) if beside else ([], [], [], [])
    trace = {
        "type": "scatter", "mode": "text", "x": x, "y": y, "text": text, "textposition": position, "hoverinfo": "skip",
        "textfont": {"size": 13, "color": INK}, "cliponaxis": False,
    }  # fmt: skip
    return trace, laid


def _label(words: str, place: Place, days: int) -> Figure:
    left = place.start < days / 2
    return charts.note(
        words, place.start if left else place.end, place.at, xanchor="left" if left else "right", yanchor="middle",
        xshift=9 if left else -9, bgcolor=PAPER, borderpad=1, font={"size": 13, "color": INK},
    )  # fmt: skip
