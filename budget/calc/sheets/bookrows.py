"""What each row of a practitioner's own sheet is: a line, a trade over lines, a total, or nothing that comes in."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from budget.calc.sheets import cells, columns, loose
from budget.calc.sheets import shape as shapes
from budget.calc.sheets.asking import Asked, Question, typed
from budget.calc.sheets.grid import Cell, Grid, shown
from budget.calc.sheets.lines import KINDS
from budget.calc.sheets.preview import Known
from units import money

_PERCENT = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)\s*%")
_CONTINGENCY = re.compile(r"\b(?:contingency|contingencies|reserve)\b", re.IGNORECASE)
_ALLOWANCE = re.compile(r"\b(?:allowance|provisional sum|prov sum|pc sum|prime cost)\b", re.IGNORECASE)


@dataclass(slots=True)
class Row:
    """One row of the sheet, from 1, with its cells as they were and what its amounts were read as, by place.

    `kind` is "line" or the word for what else the row is; `why` says why a line does not come in: "twin", "percent",
    "nameless", "bare", "credit", "code" or "chosen". `counts` is true for what a stated total may count.
    """

    number: int
    given: tuple[str, ...]
    kind: str = "line"
    why: str = ""
    trade: str = ""
    carried: bool = False
    label: str = ""
    twin: int = 0
    described: str = ""
    #: Somebody said that the row is a line, whatever its words look like.
    forced: bool = False
    #: An amount that an answer gave in place of the sheet's.
    budget_minor: int | None = None
    reads: dict[int, loose.Read] = field(default_factory=dict)

    @property
    def comes(self) -> bool:
        return self.kind == "line" and not self.why

    @property
    def counts(self) -> bool:
        return self.kind == "line"

    def out(self, why: str) -> None:
        self.why = why


@dataclass(slots=True)
class Sheet:
    """The rows of a sheet being read."""

    grid: Grid
    shape: shapes.Shape
    known: Known
    asked: Asked
    mark: str
    chosen_out: frozenset[int]
    amount_places: tuple[int, ...] = ()
    _memos: dict[str, dict[Cell, loose.Read]] = field(default_factory=dict)
    _codes: dict[int, str] = field(default_factory=dict)

    def read(self) -> list[Row]:
        """Say what every row is, carry trades down, and ask about the rows that are in doubt."""
        places = (place for role in ("budget", "quote", "paid") for place in self.shape.of(role))
        self.amount_places = tuple(sorted(places))
        headings = self.shape.headings
        self._codes = {
            place: columns.currency_of(headings[place]) for place in self.amount_places if place < len(headings)
        }
        rows = [self._row(place) for place in range(len(self.grid.rows))]
        self._carry(rows)
        self._nameless(rows)
        self._twins(rows)
        self._bare(rows)
        self._percents(rows)
        for row in rows:
            if row.comes and row.number in self.chosen_out:
                row.out("chosen")
        return rows

    # --- cells ---

    def cell(self, row: Row, role: str) -> Cell:
        place = self.shape.roles.get(role)
        cells_ = self.grid.rows[row.number - 1]
        return cells_[place] if place is not None and place < len(cells_) else ""

    def text(self, row: Row, role: str) -> str:
        place = self.shape.roles.get(role)
        return row.given[place] if place is not None and place < len(row.given) else ""

    def description(self, row: Row) -> str:
        return row.described or self.text(row, "description") or row.trade

    def of(self, row: Row, role: str) -> list[tuple[int, loose.Read]]:
        """What was read in the columns of a role: (place, read)."""
        return [(place, row.reads[place]) for place in self.shape.of(role) if place in row.reads]

    def budget(self, row: Row) -> loose.Read:
        place = self.shape.roles.get("budget", -1)
        return row.reads.get(place, loose.Empty("blank"))

    def ways(self, number: int, place: int) -> loose.Ways:
        """What is told about one cell: the currency of its number format, of its heading, or the project's."""
        shown_in = self.grid.facts.formats.get((number, place + 1), "") if self.grid.facts.formats else ""
        code = shown_in or self._codes.get(place, "") or self.known.currency
        return loose.Ways(code, self.mark, self.known.currency, self.known.rates)

    def read_in(self, row: Row, place: int, currency: str) -> loose.Read:
        """Read a cell anew, in the currency that an answer gave it."""
        ways = loose.Ways(currency, self.mark, self.known.currency, self.known.rates)
        return loose.read(self.grid.rows[row.number - 1][place], ways)

    def _read(self, number: int, place: int, cell: Cell) -> loose.Read:
        ways = self.ways(number, place)
        memo = self._memos.setdefault(ways.currency, {})
        if cell not in memo:
            memo[cell] = loose.read(cell, ways)
        return memo[cell]

    # --- what a row is ---

    def _row(self, place: int) -> Row:
        cells_, shape = self.grid.rows[place], self.shape
        row = Row(place + 1, tuple(" ".join(shown(cell).split()) for cell in cells_))
        if shape.last is None or shape.first is None or place < shape.first:
            row.kind = shapes.of_title(cells_)
        elif place <= shape.last:
            row.kind = "heading"
        else:
            row.kind = shapes.of_row(cells_, shape, self.grid.rows[shape.last]) or "line"
            row.forced = f"line:{row.number}" in self.asked.answers and row.kind != "line"
            row.kind = "line" if row.forced else row.kind
            self._read_amounts(row, cells_)
        return row

    def _read_amounts(self, row: Row, cells_: Sequence[Cell]) -> None:
        if row.kind in ("line", "sub-total", "total"):
            row.reads = {
                place: self._read(row.number, place, cells_[place])
                for place in self.amount_places
                if place < len(cells_)
            }
        if row.kind in ("sub-total", "total"):
            row.label = next(filter(None, row.given), "")

    def _carry(self, rows: Sequence[Row]) -> None:
        """A trade holds for the rows below it until another one is named; a total belongs to none."""
        last = ""
        for row in rows:
            own = self.text(row, "trade")
            if row.kind == "trade":
                last = next(filter(None, row.given))
            elif row.kind == "line":
                row.carried = not own and bool(last)
                row.trade = last = own or last

    def _has_amounts(self, row: Row) -> bool:
        return any(not isinstance(read, loose.Empty) for read in row.reads.values())

    # --- rows in doubt ---

    def _nameless(self, rows: Sequence[Row]) -> None:
        """A row of amounts without a name is a sum that nobody labelled, unless somebody names it."""
        for row in rows:
            if row.kind != "line" or self.text(row, "description") or self.text(row, "trade") or self.text(row, "code"):
                continue
            answer = self.asked.ask(
                Question(f"nameless:{row.number}", "nameless", row.number, options=("out",), default="out", typed="name", about=_said(row))
            )  # fmt: skip
            if typed(answer) is None:
                row.out("nameless")
            row.described = typed(answer) or ""

    def _twins(self, rows: Sequence[Row]) -> None:
        """A line with the trade, the words and the budget of one above it is likely the same."""
        seen: dict[tuple[object, ...], Row] = {}
        for row in rows:
            budget = self.budget(row)
            if not row.comes or not isinstance(budget, loose.Figure):
                continue
            key = (row.trade.casefold(), self.description(row).casefold(), budget.minor, budget.currency)
            first = seen.setdefault(key, row)
            if first is not row:
                self._ask_twin(row, first)

    def _ask_twin(self, row: Row, first: Row) -> None:
        row.twin = first.number
        same = all(row.reads[place] == first.reads.get(place) for place in row.reads)
        default = "out" if same else "in"
        question = Question(
            f"twin:{row.number}", "twin", row.number, given=self.description(row), options=("out", "in"), default=default,
            about=(str(first.number),),
        )  # fmt: skip
        if self.asked.ask(question) == "out":
            row.out("twin")

    def _bare(self, rows: Sequence[Row]) -> None:
        """A line without any amount: kept at nothing where a word stands in the place of one, else left out."""
        for row in rows:
            if not row.comes or self._has_amounts(row) or self.percent(row):
                continue
            worded = any(isinstance(read, loose.Empty) and read.how == "word" for read in row.reads.values())
            question = Question(
                f"bare:{row.number}", "bare", row.number, given=self.description(row), options=("zero", "out"),
                default="zero" if worded else "out",
            )  # fmt: skip
            if self.asked.ask(question) == "out":
                row.out("bare")
            else:
                row.budget_minor = 0

    def percent(self, row: Row) -> str:
        """The percentage of a line that states one in place of a budget, or ""."""
        budget = self.budget(row)
        place = self.shape.roles.get("budget", -1)
        if isinstance(budget, loose.Doubt) and budget.kind == "percent":
            found = _PERCENT.search(row.given[place])
        elif isinstance(budget, loose.Empty):
            found = _PERCENT.search(f"{self.text(row, 'description')} {self.text(row, 'trade')}")
        else:
            return ""
        return found[1].replace(",", ".") if found else ""

    def _percents(self, rows: Sequence[Row]) -> None:
        """A line that is a share of the others, most often a contingency: asked, with what it would come to."""
        total = sum(read.minor for row in rows if row.comes and isinstance(read := self.budget(row), loose.Figure))
        for row in rows:
            share = self.percent(row) if row.comes else ""
            if share:
                self._ask_percent(row, share, total)

    def _ask_percent(self, row: Row, share: str, total: int) -> None:
        top, _point, part = share.partition(".")
        minor = money.round_ratio(total * int(top + part), 100 * 10 ** len(part))
        question = Question(
            f"percent:{row.number}", "percent", row.number, given=f"{share}%", options=("out", str(minor)), default="out", typed="amount",
            about=(str(minor), str(total)),
        )  # fmt: skip
        answer = self.asked.ask(question, self.known.currency)
        amount = self.asked.amount(answer, self.known.currency)
        if amount is None:
            row.out("percent")
        row.budget_minor = amount

    def kind_of(self, row: Row) -> str:
        """Work, allowance or contingency: by its own column, else by its words."""
        word = cells.word_reader(KINDS)(self.cell(row, "kind"))
        if isinstance(word, str) and self.text(row, "kind"):
            return word
        words = f"{row.trade} {self.text(row, 'description')}"
        return "contingency" if _CONTINGENCY.search(words) else "allowance" if _ALLOWANCE.search(words) else "work"


def _said(row: Row) -> tuple[str, ...]:
    return (" · ".join(filter(None, row.given))[:120],)


def roles_of(shape: shapes.Shape) -> Mapping[int, str]:
    """{place: role} of the columns."""
    return {place: name.partition(" ")[0] for name, place in shape.roles.items()}
