"""The Sequence page as it is asked for: the picture's days, the list in groups with some of them open, the six weeks ahead."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from projects.models import Project
from schedule.calc import listing
from schedule.calc import rests as resting
from schedule.calc.gates import OVERRULED, RELEASED
from schedule.calc.listing import Asked, Group, Row, Window
from schedule.calc.rests import Rest
from schedule.selectors import holds, overview
from schedule.selectors.holds import Covering
from schedule.selectors.overview import CalendarShown, OpenNeed, Overview
from units.days import monday

#: So many activities of one group are shown at a time; up to so many in all, every group is open.
MOST_ROWS, ALL_OPEN = 60, 30


@dataclass(frozen=True, slots=True)
class Shelf:
    """A group in the list; `rows` are those that are shown, none while it is closed."""

    group: Group
    rows: tuple[Row, ...]
    #: Where the further rows begin, or 0.
    next_start: int

    @property
    def is_open(self) -> bool:
        return bool(self.rows)


@dataclass(frozen=True, slots=True)
class Ahead:
    """An activity of the six weeks ahead: what it still needs, and whether it may cover."""

    row: Row
    needs: tuple[OpenNeed, ...]
    answer: Covering | None


@dataclass(frozen=True, slots=True)
class Week:
    """A week of the look-ahead, with what starts or goes on in it."""

    first: date
    works: tuple[Ahead, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """Everything on the page. `calendar` is the one whose rests are shaded."""

    seen: Overview
    asked: Asked
    rows: tuple[Row, ...]
    shelves: tuple[Shelf, ...]
    weeks: tuple[Week, ...]
    window: Window | None
    near: Window | None
    calendar: CalendarShown
    rests: tuple[Rest, ...]
    near_rests: tuple[Rest, ...]
    #: {activity: (code of the hold point, how it stands)} of what each hold point stops
    gates: Mapping[int, tuple[tuple[str, str], ...]]

    @property
    def opened(self) -> Shelf | None:
        """The first group that is open."""
        return next((shelf for shelf in self.shelves if shelf.is_open), None)

    @property
    def told_rests(self) -> list[Rest]:
        """The rests that are no plain weekends, to be named below the picture."""
        return [rest for rest in self.rests if not rest.weekend]


def show(project: Project, asked: Asked, *, today: date, opened: str = "", start: int = 0) -> Shown:
    """Read the sequence and arrange it.

    Args:
        opened: key of the group that is open, "" for the first that has work left.
        start: from which of its rows on.
    Queries: 8.
    """
    seen = overview.read(project)
    rows = listing.chosen(seen.rows, asked)
    answers = list(holds.book(project, today=today, own=seen.own_calendar.calendar).answers())
    calendar = seen.calendar(asked.calendar_id)
    window = listing.window(asked.span, seen.rows, today, seen.target_on) if seen.rows else None
    near = listing.window("six", seen.rows, today) if seen.rows else None
    return Shown(
        seen=seen,
        asked=asked,
        rows=rows,
        shelves=_shelves(listing.grouped(rows, asked.by, today), opened, start),
        weeks=_weeks(seen, near, {answer.work.key: answer for answer in answers}),
        window=window,
        near=near,
        calendar=calendar,
        rests=_rests(calendar, window),
        near_rests=_rests(calendar, near),
        gates=_gates(answers),
    )


def _shelves(groups: tuple[Group, ...], opened: str, start: int) -> tuple[Shelf, ...]:
    every = sum(group.count for group in groups) <= ALL_OPEN and not opened
    first = opened or next((group.key for group in groups if group.kind != "done"), groups[0].key if groups else "")
    return tuple(_shelf(group, start if opened else 0, is_open=every or group.key == first) for group in groups)


def _shelf(group: Group, start: int, *, is_open: bool) -> Shelf:
    if not is_open:
        return Shelf(group, (), 0)
    begin = start if start < group.count else 0
    end = begin + MOST_ROWS
    return Shelf(group, group.rows[begin:end], end if end < group.count else 0)


def _weeks(seen: Overview, near: Window | None, answers: Mapping[int, Covering]) -> tuple[Week, ...]:
    """Each activity that is not done once: in the week it starts, or in this one where it goes on."""
    found: dict[date, list[Ahead]] = defaultdict(list)
    for row in listing.by_start(seen.rows):
        if near and row.is_left and near.meets(row):
            week = monday(max(row.start_on, near.first))
            found[week].append(Ahead(row, seen.needs.get(row.pk, ()), answers.get(row.pk)))
    return tuple(Week(first, tuple(works)) for first, works in sorted(found.items()))


def _rests(calendar: CalendarShown, window: Window | None) -> tuple[Rest, ...]:
    return resting.rests(calendar.calendar, calendar.closed, window.first, window.last) if window else ()


def _gates(answers: Iterable[Covering]) -> dict[int, tuple[tuple[str, str], ...]]:
    return {
        one.work.key: (
            *((hold.gate.code, RELEASED) for hold in one.released),
            *((hold.gate.code, OVERRULED) for hold, _given in one.overruled),
            *((hold.gate.code, hold.state) for hold in one.stopping),
        )
        for one in answers
    }
