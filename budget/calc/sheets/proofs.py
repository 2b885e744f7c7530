"""The totals that a sheet states, proved against its rows, and the row that breaks one named where one does."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import NamedTuple

#: With more rows than that only single rows and ranges are tried as explanations.
PAIRS_UP_TO = 400
#: A slip of the keyboard or of a thousands mark.
SLIPS = (10, 100, 1000)
#: So many totals of a column are explained; a sheet with more has another trouble.
EXPLAINED = 100


class Counted(NamedTuple):
    """A row that may count in a total: its number, its amount [minor units], and whether it comes in."""

    row: int
    minor: int
    comes: bool


class Stated(NamedTuple):
    """A row that states a total: "sub-total" or "total", and the amount [minor units]."""

    row: int
    label: str
    kind: str
    minor: int


class Blame(NamedTuple):
    """What would make a total right: a word, and the rows it is about."""

    kind: str
    rows: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """One stated total of one column [minor units].

    Args:
        found: the sum of the rows that come in.
        with_asked: that sum with the rows that are left out by a question.
        blames: what would explain the difference; empty where nothing simple does.
    """

    row: int
    column: int
    label: str
    kind: str
    stated: int
    found: int
    with_asked: int
    currency: str
    blames: tuple[Blame, ...] = ()

    @property
    def holds(self) -> bool:
        return self.stated == self.found


def prove(column: int, currency: str, rows: Sequence[Counted | Stated]) -> tuple[Proof, ...]:
    """Hold every stated total of one column against the rows above it.

    Args:
        rows: counted and stated rows in the order of the sheet.
    Returns: a proof for each stated row. A sub-total is held against the rows since the last one, a total against all.
        A sub-total that states the sum of all rows so far is taken at its word, and a total that states its last part.

    >>> rows = [Counted(2, 100, True), Counted(3, 50, True), Stated(4, "Sub-total", "sub-total", 150)]
    >>> prove(3, "GBP", rows)[0].holds
    True
    """
    found: list[Proof] = []
    above, since = _Group(), _Group()
    before: list[Stated] = []
    for entry in rows:
        if isinstance(entry, Counted):
            above.add(entry)
            since.add(entry)
            continue
        first, second = (since, above) if entry.kind == "sub-total" else (above, since)
        group = second if first.comes != entry.minor == second.comes else first
        explain = group.comes != entry.minor and len(before) < EXPLAINED
        blames = _blames(entry, group.rows, before) if explain else ()
        found.append(
            Proof(entry.row, column, entry.label, entry.kind, entry.minor, group.comes, group.all, currency, blames)
        )
        before.append(entry)
        since = _Group()
    return tuple(found)


@dataclass(slots=True)
class _Group:
    """Rows that a total may be the sum of, with their sums [minor units]: of those that come in, and of all."""

    rows: list[Counted] = field(default_factory=list)
    comes: int = 0
    all: int = 0

    def add(self, row: Counted) -> None:
        self.rows.append(row)
        self.all += row.minor
        self.comes += row.minor if row.comes else 0


def _blames(stated: Stated, rows: Sequence[Counted], before: Sequence[Stated]) -> tuple[Blame, ...]:
    """Every single row, range or pair of rows that would explain a difference; the simplest kind that there is."""
    come = [one for one in rows if one.comes and one.minor]
    off = stated.minor - sum(one.minor for one in come)
    for blames in (
        [Blame("asked", (one.row,)) for one in rows if not one.comes and one.minor == off],
        [Blame("left out", (one.row,)) for one in come if one.minor == -off],
        [Blame("twice", (one.row,)) for one in come if one.minor == off],
        _ranges(stated.minor, come),
        [Blame("sub-totals", tuple(one.row for one in before))]
        if before and sum(s.minor for s in before) == off
        else [],
        [
            Blame("slip", (one.row,))
            for one in come
            for by in SLIPS
            if off in (one.minor * (by - 1), one.minor // by - one.minor)
        ],
        _pairs(off, come),
    ):
        if blames:
            return tuple(blames[:3])
    return ()


def _ranges(stated: int, rows: Sequence[Counted]) -> list[Blame]:
    """A sum whose range ends too early, or begins too late."""
    for kind, ordered in (("ends early", rows), ("begins late", rows[::-1])):
        running = list(accumulate(one.minor for one in ordered))
        if stated and stated in running[:-1]:
            return [Blame(kind, (ordered[running.index(stated)].row,))]
    return []


def _pairs(off: int, rows: Sequence[Counted]) -> list[Blame]:
    """Two rows that the sum leaves out together."""
    if len(rows) > PAIRS_UP_TO:
        return []
    seen: dict[int, int] = {}
    for one in rows:
        if -off - one.minor in seen:
            return [Blame("left out", (seen[-off - one.minor], one.row))]
        seen.setdefault(one.minor, one.row)
    return []
