"""What reading a sheet starts from and comes to, and the parts of it that lines and quotes share."""

import re
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from types import MappingProxyType
from typing import Any

from budget.calc.sheets import cells as reading
from budget.calc.sheets import columns
from budget.calc.sheets.grid import Cell, Fault, Grid, Trouble, column_name, shown
from units import money

MOST_ROWS = 20_000
_TOTAL = re.compile(
    r"(?:(?:sub|grand|page|section|overall|net)[\s-]*)?totals?\b.*|sum|(?:carried|brought) (?:forward|down)\b.*|[cb]/[fd]"
)
_HINTS = ("total", "sum", "carried", "brought", "c/", "b/")


@dataclass(frozen=True, slots=True)
class Choices:
    """What the reader of a sheet was told; what was left out is found out from the sheet itself.

    Args:
        heading: place of the row of headings, from 0; None to look for it.
        columns: {wanted column: place from 0}; None to guess.
        mark: what parts the decimals of amounts written as text.
        date_order: in which order day and month stand where numbers part them.
        currency: the currency of amounts that name none.
        trade: code of the trade of lines that name none.
        fill_down: a row without a trade is of the trade above it.
        add_trades: a trade that is not known is added.
        out: rows of the sheet that are left out, from 1; None for those that look like totals.
        answers: {key of a question: what was answered}.
    """

    heading: int | None = None
    columns: Mapping[str, int] | None = None
    mark: str = ""
    date_order: reading.DateOrder = ""
    currency: str = ""
    trade: str = ""
    fill_down: bool = False
    add_trades: bool = False
    out: frozenset[int] | None = None
    answers: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))

    def as_plain(self) -> dict[str, Any]:
        """Write the choices as plain JSON values."""
        columns_ = None if self.columns is None else dict(self.columns)
        out = None if self.out is None else sorted(self.out)
        return {
            "heading": self.heading, "columns": columns_, "mark": self.mark, "date_order": self.date_order,
            "currency": self.currency, "trade": self.trade, "fill_down": self.fill_down, "add_trades": self.add_trades, "out": out,
            "answers": dict(self.answers),
        }  # fmt: skip

    @classmethod
    def from_plain(cls, kept: Mapping[str, Any]) -> "Choices":
        """Read back what `as_plain` wrote."""
        out = kept.get("out")
        return cls(**{**kept, "out": None if out is None else frozenset(out)})


@dataclass(frozen=True, slots=True)
class Known:
    """What the project has already, to tell what is new, what is there twice and what is not there at all."""

    currency: str
    mark: str
    today: date
    earliest: date
    latest: date
    #: {code or name of a trade in small letters: its code}
    trades: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    #: {code: name} of the trades
    trade_names: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    #: codes of the line items, as they stand
    codes: frozenset[str] = frozenset()
    #: currencies that the project has a rate for, its own among them
    rates: frozenset[str] = frozenset()
    #: (vendor in small letters, reference, date, line code) of every quote that stands
    logged: frozenset[tuple[str, str, date, str]] = frozenset()
    #: {currency: project units for one of it}, where a sheet is read that needs them
    rate_of: Mapping[str, Decimal] = field(default_factory=lambda: MappingProxyType({}))
    #: names of the vendors, in small letters
    vendors: frozenset[str] = frozenset()
    #: the tax that an amount "including tax" has inside, and whether the project gets it back
    tax_percent: Decimal | None = None
    tax_recovered: bool = True
    #: (vendor in small letters, key of the number) of every invoice that stands
    numbers: frozenset[tuple[str, str]] = frozenset()
    #: {code of a change: code of its line}
    changes: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))


@dataclass(frozen=True, slots=True)
class Total:
    """A row that states a total, and the sums that it may stand for [minor units]."""

    row: int
    label: str
    stated: int | None
    since_last: int
    overall: int

    @property
    def holds(self) -> bool:
        return self.stated in (self.since_last, self.overall)


@dataclass(frozen=True, slots=True)
class Preview:
    """A sheet as it was read: by column, one value a row, in the order of the sheet; None where nothing was read."""

    kind: str
    heading: int | None
    headings: tuple[str, ...]
    columns: Mapping[str, int]
    #: places in the grid of the rows that are read, from 0
    places: Sequence[int]
    read: Mapping[str, Sequence[Any]]
    #: rows of the sheet that are left out, with the reason: "total" or "chosen"
    out: Mapping[int, str]
    totals: tuple[Total, ...]
    troubles: tuple[Trouble, ...]
    mark: str
    date_order: str
    currency: str
    #: {code: name} of trades that would be added
    new_trades: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    #: how many codes were made up
    made_up: int = 0

    @property
    def stops(self) -> int:
        return sum(trouble.stops for trouble in self.troubles)

    @property
    def ready(self) -> bool:
        return bool(self.places) and not self.stops


class Reading:
    """One sheet being read: its rows below the heading, column by column, and the troubles met on the way."""

    def __init__(self, kind: str, grid: Grid, known: Known, choices: Choices) -> None:
        self.kind, self.grid, self.known, self.choices = kind, grid, known, choices
        self.troubles: list[Trouble] = []
        self._given: dict[str, list[Cell]] = {}
        self._marks: dict[str, str] = {}
        self.heading = columns.heading_row(grid.rows, kind) if choices.heading is None else choices.heading
        headings = grid.rows[self.heading] if self.heading is not None and self.heading < len(grid.rows) else ()
        self.headings = tuple(shown(cell).strip() for cell in headings)
        width = grid.width
        guessed = columns.guess(headings, kind) if choices.columns is None else choices.columns
        self.columns = {name: place for name, place in guessed.items() if 0 <= place < width}
        first = 0 if self.heading is None else self.heading + 1
        rows = grid.rows
        self.places = [place for place in range(first, len(rows)) if any(rows[place])]
        self.rows = [rows[place] for place in self.places]
        self.needed()

    def needed(self) -> None:
        """Say which columns are missing, and whether there are rows at all."""
        if self.heading is None:
            self.say("no heading")
        for wanted in columns.WANTED[self.kind]:
            if wanted.needed and wanted.name not in self.columns:
                self.say("no column", about=wanted.name)
        if not self.rows:
            self.say("no rows")
        elif len(self.rows) > MOST_ROWS:
            self.say("too many rows", about=str(MOST_ROWS))

    def say(self, kind: str, place: int | None = None, name: str = "", *, about: str = "", stops: bool = True) -> None:
        """Note a trouble: about one row and one wanted column, about a row, or about the whole."""
        column = self.columns.get(name)
        row = 0 if place is None else self.places[place] + 1
        given = shown(self.rows[place][column]) if place is not None and column is not None else ""
        self.troubles.append(Trouble(kind, row, 0 if column is None else column + 1, given, about, stops))

    def given(self, name: str) -> list[Cell]:
        """The cells of one wanted column; empty texts where the sheet has no such column."""
        if name not in self._given:
            place = self.columns.get(name)
            self._given[name] = [""] * len(self.rows) if place is None else [row[place] for row in self.rows]
        return self._given[name]

    def forget(self) -> None:
        """Take the cells from the rows anew, after some were left out."""
        self._given.clear()

    def column(self, name: str, reader: reading.Reader, cells: Sequence[Cell] | None = None) -> list[Any]:
        """Read one wanted column; what cannot be read becomes None and a trouble."""
        memo = reading.Memo(reader)
        found: list[Any] = list(map(memo.__getitem__, self.given(name) if cells is None else cells))
        if memo.faulty:
            for place, value in enumerate(found):
                if type(value) is Fault:
                    self.say(value.kind, place, name, about=value.about)
                    found[place] = None
        return found

    def text(self, name: str, cells: Sequence[Cell] | None = None) -> list[Any]:
        """Read one wanted column as texts."""
        if name not in self.columns:
            return [""] * len(self.rows)
        longest = next(wanted.longest for wanted in columns.WANTED[self.kind] if wanted.name == name)
        given = self.given(name) if cells is None else cells
        return reading.texts(given, longest) or self.column(name, reading.text_reader(longest), given)

    def amounts(self, name: str, currency: str) -> list[Any]:
        """Read one wanted column as amounts of one currency."""
        given = self.given(name)
        return reading.numbers(given, currency) or self.column(
            name, reading.amount_reader(currency, self.mark(name)), given
        )

    def must_have(self, values: Sequence[Any], name: str, kind: str) -> None:
        """Say which rows have nothing in a column that has to be filled."""
        if None in values or "" in values:
            told = {trouble.row for trouble in self.troubles if trouble.column == self.columns.get(name, -1) + 1}
            for place, value in enumerate(values):
                if value in (None, "") and self.places[place] + 1 not in told:
                    self.say(kind, place, name)

    def mark(self, name: str) -> str:
        """What parts the decimals: as chosen, as the amounts tell, or as the project writes them."""
        if name not in self._marks:
            self._marks[name] = self.choices.mark or reading.mark_told(self.given(name)) or self.known.mark
        return self._marks[name]

    def dates(self, name: str) -> list[Any]:
        """Read a column of dates in the order that was chosen or that they tell."""
        order = self.order(name)
        known = self.known
        reader = reading.date_reader(
            order, earliest=known.earliest, latest=known.latest, from_1904=self.grid.facts.from_1904
        )
        return self.column(name, reader)

    def order(self, name: str) -> reading.DateOrder:
        return self.choices.date_order or reading.order_told(set(self.given(name)))[0]

    def totals(self, name: str, labels: Collection[str], identity: str) -> list[int]:
        """Find the rows that state a total: places among the rows. A row with a code of its own is none."""
        marked: set[int] = set()
        for label in filter(self.columns.__contains__, labels):
            given = self.given(label)
            if may_hold_total(given):
                marked.update(place for place, cell in enumerate(given) if looks_like_total(cell))
        own, bare = self.given(identity), self.given(name)
        if "" in bare:
            for place, cell in enumerate(bare):  # a label in a column that was not asked for
                if cell == "" and any(map(looks_like_total, self.rows[place])):
                    marked.add(place)
        return sorted(place for place in marked if own[place] == "" or looks_like_total(own[place]))

    def checked_totals(self, amounts: Sequence[int | None], totals: Collection[int], column: str) -> tuple[Total, ...]:
        """Hold each stated total against the rows above it, and say where it holds for none."""
        if column not in self.columns:
            return ()
        wanted, found, since, overall = set(totals), [], 0, 0
        for place, amount in enumerate(amounts):
            if place not in wanted:
                since, overall = since + (amount or 0), overall + (amount or 0)
                continue
            label = next((shown(cell) for cell in self.rows[place] if looks_like_total(cell)), "")
            found.append(Total(self.places[place] + 1, label, amount, since, overall))
            since = 0
        return tuple(found)

    def facts(self, filled: Collection[str] = ()) -> None:
        """Say what the file tells besides values: merged and hidden cells, formulas, other currencies' formats."""
        facts, named = self.grid.facts, {place + 1: name for name, place in self.columns.items()}
        for kind, about in facts.notes:
            self.troubles.append(Trouble(kind, about=about, stops=False))
        if self.heading:
            self.troubles.append(Trouble("rows above the heading", about=str(self.heading), stops=False))
        if facts.formula_count:
            row, column = facts.formulas[0]
            self.troubles.append(Trouble("formulas", row, column, about=str(facts.formula_count), stops=False))
        self._merged(named, filled)
        read = {place + 1 for place in self.places}
        for row in sorted(facts.hidden_rows & read):
            self.troubles.append(Trouble("hidden row", row, stops=False))
        for column in sorted(facts.hidden_columns & named.keys()):
            self.troubles.append(Trouble("hidden column", 0, column, about=column_name(column), stops=False))

    def _merged(self, named: Mapping[int, str], filled: Collection[str]) -> None:
        below = 0 if self.heading is None else self.heading + 2
        for top, left, bottom, right in self.grid.facts.merged:
            over = [name for column, name in named.items() if left <= column <= right]
            if top >= below and over and not (left == right and over[0] in filled):
                name = f"{column_name(left)}{top}:{column_name(right)}{bottom}"
                self.troubles.append(Trouble("merged", top, left, about=name, stops=False))

    def filled_down(self, name: str) -> list[Cell]:
        """The cells of a column, with what stands in a merged cell, or, where chosen, in the cell above."""
        given, column = list(self.given(name)), self.columns.get(name, -1) + 1
        blocks = [
            (top, bottom)
            for top, left, bottom, right in self.grid.facts.merged
            if left == column == right and bottom > top
        ]
        if not blocks and not self.choices.fill_down:
            return given
        last: Cell = ""
        for place, cell in enumerate(given):
            row = self.places[place] + 1
            if cell != "":
                last = cell
            elif self.choices.fill_down or any(top < row <= bottom for top, bottom in blocks):
                given[place] = last
        return given

    def left_out(self, totals: Iterable[int]) -> dict[int, str]:
        """The rows of the sheet that are left out: the totals, or what was chosen in their stead."""
        total_rows = {self.places[place] + 1 for place in totals}
        chosen = self.choices.out
        if chosen is None:
            return dict.fromkeys(sorted(total_rows), "total")
        return {row: "total" if row in total_rows else "chosen" for row in sorted(chosen)}

    def formats(self, name: str, place: int) -> str:
        """The currency that the number format of a cell names, or ""."""
        return self.grid.facts.formats.get((self.places[place] + 1, self.columns.get(name, -1) + 1), "")

    def kept(self, out: Mapping[int, str]) -> tuple[list[int], Callable[[Sequence[Any]], list[Any]]]:
        """The rows that are not left out, and a way to take their values from a column."""
        stay = [place for place in range(len(self.rows)) if self.places[place] + 1 not in out]
        self.troubles = [trouble for trouble in self.troubles if trouble.row not in out]
        if len(stay) == len(self.rows):
            return stay, list
        return stay, lambda values: [values[place] for place in stay]


def may_hold_total(given: Sequence[Cell]) -> bool:
    """Tell quickly, for a whole column, that none of its cells heads a total."""
    try:
        whole = "\n".join(given).casefold()  # type: ignore[arg-type]
    except TypeError:  # a number is among them
        whole = "\n".join([cell for cell in given if isinstance(cell, str)]).casefold()
    return any(hint in whole for hint in _HINTS)


def looks_like_total(cell: Cell) -> bool:
    """Tell whether a text heads a total.

    >>> [looks_like_total(text) for text in ("Sub-total groundworks", "TOTAL", "Totally new roof", 12.0)]
    [True, True, False, False]
    """
    if not isinstance(cell, str):
        return False
    text = cell.strip().casefold()
    return any(hint in text for hint in _HINTS) and _TOTAL.fullmatch(text.rstrip(" :")) is not None


def differing(totals: Sequence[Total], reading: Reading, column: str, currency: str) -> None:
    """Say which stated totals are the sum of nothing above them."""
    place = reading.columns.get(column, -1) + 1
    for total in totals:
        if total.stated is not None and not total.holds:
            found = money.as_text(total.since_last, currency=currency)
            stated = money.as_text(total.stated, currency=currency)
            reading.troubles.append(Trouble("total differs", total.row, place, stated, found, stops=False))
