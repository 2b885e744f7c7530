"""What the pages of import and export show."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from budget.calc.sheets.grid import Grid
from budget.calc.sheets.preview import Preview
from budget.models import ImportBatch
from budget.selectors import imports
from projects import display
from projects.models import Project
from reports.exchange import words
from units import money

#: So many rows of a sheet are shown on one page.
ROWS_AT_ONCE = 100
#: So many places are named of one kind of trouble.
PLACES = 6


@dataclass(frozen=True, slots=True)
class Kind:
    """Troubles of one kind: the first of them in words, where they are, and how many."""

    said: words.Said
    places: tuple[str, ...]
    count: int


@dataclass(frozen=True, slots=True)
class CellShown:
    """What was read from a cell, and what was given where the two do not look alike."""

    text: str
    given: str
    money: bool
    stops: bool


@dataclass(frozen=True, slots=True)
class RowShown:
    number: int
    cells: tuple[CellShown, ...]
    said: tuple[words.Said, ...]
    out: str


@dataclass(frozen=True, slots=True)
class TotalShown:
    row: int
    label: str
    stated: int | None
    found: int
    holds: bool


@dataclass(frozen=True, slots=True)
class Sheet:
    """A preview for a page."""

    seen: Preview
    headings: tuple[str, ...]
    rows: tuple[RowShown, ...]
    all_rows: int
    start: int
    stopping: tuple[Kind, ...]
    noted: tuple[Kind, ...]
    totals: tuple[TotalShown, ...]
    sum_minor: int | None
    #: how many quotes or invoices the rows make
    papers: int

    @property
    def earlier(self) -> int | None:
        return None if not self.start else max(0, self.start - ROWS_AT_ONCE)

    @property
    def later(self) -> int | None:
        return self.start + ROWS_AT_ONCE if self.start + ROWS_AT_ONCE < self.all_rows else None


def sheet(batch: ImportBatch, grid: Grid, seen: Preview, *, start: int, only_troubled: bool) -> Sheet:
    """Put a preview into words and figures. Queries: none."""
    labels = words.column_labels()
    names = [name for name in seen.read if name in seen.columns or name in ("code", "trade", "currency")]
    names = [name for name in names if name not in ("quote", "invoice")]
    rows = imports.rows_shown(grid, seen, start=start, most=ROWS_AT_ONCE, only_troubled=only_troubled)
    amounts = seen.read.get("budget" if batch.kind == ImportBatch.Kind.LINES else "amount", ())
    one = len(set(seen.read.get("currency", ()))) <= 1
    troubled = {trouble.row for trouble in seen.troubles if trouble.row} | set(seen.out)
    return Sheet(
        seen=seen,
        headings=tuple(labels[name] for name in names),
        rows=tuple(_row(batch.project, seen, row, names) for row in rows),
        all_rows=len(troubled) if only_troubled else len(seen.places) + len(seen.out),
        start=start,
        stopping=_kinds(seen, stops=True),
        noted=_kinds(seen, stops=False),
        totals=tuple(TotalShown(t.row, t.label, t.stated, t.since_last, t.holds) for t in seen.totals),
        sum_minor=sum(filter(None, amounts)) if one and seen.currency == batch.project.currency else None,
        papers=len(set(seen.read.get("invoice" if batch.kind == ImportBatch.Kind.INVOICES else "quote", ()))),
    )


def _kinds(seen: Preview, *, stops: bool) -> tuple[Kind, ...]:
    found: dict[tuple[str, str], list[Any]] = {}
    for trouble in seen.troubles:
        if trouble.stops == stops:
            whole = "" if trouble.row else trouble.about
            found.setdefault((trouble.kind, whole), []).append(trouble)
    kinds = []
    for group in found.values():
        said = [words.explain(trouble) for trouble in group[:PLACES]]
        kinds.append(Kind(said[0], tuple(one.place for one in said if one.place), len(group)))
    return tuple(kinds)


def _row(project: Project, seen: Preview, row: imports.RowShown, names: Sequence[str]) -> RowShown:
    read = dict(row.read)
    stopped = Counter(trouble.column for trouble in row.troubles if trouble.stops)
    cells = []
    for name in names:
        place = seen.columns.get(name)
        given = row.given[place] if place is not None and place < len(row.given) else ""
        text = _text(project, name, read.get(name), read.get("currency"))
        stops = place is not None and stopped[place + 1] > 0
        cells.append(CellShown(text, given if given.strip() != text else "", name in ("budget", "amount"), stops))
    return RowShown(row.number, tuple(cells), tuple(words.explain(trouble) for trouble in row.troubles), row.out)


def _text(project: Project, name: str, value: Any, currency: str | None) -> str:
    """What was read, as the project writes it."""
    if value is None:
        return ""
    if name == "amount":
        return money.as_text(value, currency=currency)
    if name == "budget":
        return display.money(value, project)
    if name in ("quoted_on", "valid_until"):
        return display.day(value, project.locale)
    if name == "lead_days":
        return display.days(value)
    return str(value)


def left_out(seen: Preview, listed: Sequence[str], ticked: Sequence[str]) -> frozenset[int]:
    """The rows to leave out: those ticked among the rows that were listed, and those of other pages as they were."""
    on_page = frozenset(filter(None, map(whole_number, listed)))
    return (frozenset(seen.out) - on_page) | (frozenset(filter(None, map(whole_number, ticked))) & on_page)


def whole_number(text: str | None) -> int:
    """A number of at most nine digits, or 0."""
    return int(text) if text and len(text) < 10 and text.isascii() and text.isdigit() else 0
