"""A practitioner's own sheet, read: a budget with quotes beside it, in whatever shape it has grown into.

The sheet is walked three times: for its shape, for what each row is, and for what each row that comes in is worth.
Whatever is in doubt becomes a question (see `asking`), and reading goes on with the default that the question shows.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from difflib import SequenceMatcher

from budget.calc.sheets import bookprices, bookrows, cells, loose, proofs, shape
from budget.calc.sheets.asking import Asked, Question, as_date, typed
from budget.calc.sheets.grid import Grid, Trouble, column_name
from budget.calc.sheets.lines import LONGEST_CODE, Trades, next_code
from budget.calc.sheets.preview import MOST_ROWS, Choices, Known

LONGEST_DESCRIPTION = 200
LONGEST_KEPT = 2000
#: How like two names have to be to be asked about, from 0 to 1.
ALIKE = 0.8


@dataclass(frozen=True, slots=True)
class Kept:
    """One cell as it was and as it was read, to be kept beside the line: `minor` is None where no amount was read."""

    heading: str
    given: str
    minor: int | None = None
    currency: str = ""


@dataclass(frozen=True, slots=True)
class Line:
    """A line item to bring in; the budget in minor units of the project's currency."""

    row: int
    trade: str
    code: str
    description: str
    kind: str
    unit: str
    quantity: Decimal | None
    budget_minor: int
    kept: tuple[Kept, ...]


@dataclass(frozen=True, slots=True)
class Price:
    """A quote to bring in, on the line of the same row [minor units of `currency`]; a rate of None is the project's."""

    row: int
    column: int
    vendor: str
    minor: int
    currency: str
    rate: Decimal | None
    estimate: bool
    tax_inside: Decimal | None
    note: str


@dataclass(frozen=True, slots=True)
class Book:
    """A sheet as it was read."""

    shape: shape.Shape
    mark: str
    rows: Sequence[bookrows.Row]
    lines: Sequence[Line]
    prices: Sequence[Price]
    quoted_on: date
    questions: tuple[Question, ...]
    proofs: tuple[proofs.Proof, ...]
    troubles: tuple[Trouble, ...]
    new_trades: Mapping[str, str]
    currency: str

    @property
    def open(self) -> int:
        return sum(question.open for question in self.questions)

    @property
    def stops(self) -> int:
        return self.open + sum(trouble.stops for trouble in self.troubles)

    @property
    def places(self) -> Sequence[int]:
        return [line.row - 1 for line in self.lines]

    @property
    def ready(self) -> bool:
        return bool(self.lines) and not self.stops

    @property
    def sum_minor(self) -> int:
        return sum(line.budget_minor for line in self.lines)

    @property
    def columns(self) -> Mapping[str, int]:
        return self.shape.roles

    @property
    def out(self) -> frozenset[int]:
        return frozenset(row.number for row in self.rows if not row.comes)


def read(grid: Grid, known: Known, choices: Choices) -> Book:
    """Read a budget with its quotes from a practitioner's own sheet.

    Args:
        known: what the project has.
        choices: what was chosen about this sheet, with the answers to its questions.
    """
    found = shape.shape_of(grid, heading=choices.heading, roles=choices.columns)
    asked = Asked(choices.answers, known.mark, known.today)
    troubles = _troubles(grid, found)
    mark = _mark(grid, found, known, choices, asked)
    sheet = bookrows.Sheet(grid, found, known, asked, mark, choices.out or frozenset())
    rows = sheet.read()
    reading = _Reading(sheet, known, choices)
    reading.lines_and_prices(rows)
    return Book(
        shape=found, mark=mark, rows=rows, lines=reading.lines, prices=reading.prices, quoted_on=reading.quoted_on,
        questions=asked.questions, proofs=_proofs(sheet, rows, known), troubles=(*troubles, *reading.troubles),
        new_trades=reading.trades_used(), currency=known.currency,
    )  # fmt: skip


def _troubles(grid: Grid, found: shape.Shape) -> list[Trouble]:
    """What is missing, and what the file tells besides its values."""
    told: list[Trouble] = []
    if found.last is None:
        return [Trouble("no heading")]
    told += [Trouble("no column", about=name) for name in ("description", "budget") if name not in found.roles]
    below = len(grid.rows) - found.last - 1
    if below <= 0:
        told.append(Trouble("no rows"))
    elif below > MOST_ROWS:
        told.append(Trouble("too many rows", about=str(MOST_ROWS)))
    return told + _facts(grid, found)


def _facts(grid: Grid, found: shape.Shape) -> list[Trouble]:
    facts, last = grid.facts, found.last or 0
    told = [Trouble(kind, about=about, stops=False) for kind, about in facts.notes]
    if facts.formula_count:
        told.append(Trouble("formulas", *facts.formulas[0], about=str(facts.formula_count), stops=False))
    trades = {found.roles.get("trade", -1) + 1}
    for top, left, bottom, right in facts.merged:
        if top > last + 1 and not (left == right and left in trades):
            name = f"{column_name(left)}{top}:{column_name(right)}{bottom}"
            told.append(Trouble("merged", top, left, about=name, stops=False))
    told += [Trouble("hidden row", row, stops=False) for row in sorted(facts.hidden_rows) if row > last + 1]
    used = {place + 1 for place in found.roles.values()}
    hidden = sorted(facts.hidden_columns & used)
    return told + [Trouble("hidden column", 0, one, about=column_name(one), stops=False) for one in hidden]


def _mark(grid: Grid, found: shape.Shape, known: Known, choices: Choices, asked: Asked) -> str:
    """What parts the decimals: as chosen, or as the project writes; asked where the sheet contradicts that, or itself."""
    if choices.mark:
        return choices.mark
    places = [place for role in ("budget", "quote", "paid") for place in found.of(role)]
    rows = grid.rows[(found.last or 0) + 1 :]
    texts = {row[place] for row in rows for place in places if place < len(row) and isinstance(row[place], str)}
    told = loose.marks_told(texts, loose.Ways(known.currency, known.mark, known.currency, known.rates))
    if told <= {known.mark}:
        return known.mark
    default = next(iter(told)) if len(told) == 1 else known.mark
    return asked.ask(Question("mark", "mark", options=(".", ","), default=default, about=tuple(sorted(told))))


def _proofs(sheet: bookrows.Sheet, rows: Sequence[bookrows.Row], known: Known) -> tuple[proofs.Proof, ...]:
    """Every total that is stated in a column of amounts, column by column; one in several currencies proves nothing."""
    found: list[proofs.Proof] = []
    for place in sheet.amount_places:
        entries: list[proofs.Counted | proofs.Stated] = []
        currencies = set()
        for row in rows:
            figure = _amount(sheet, row, place, known)
            if figure is None:
                continue
            currencies.add(figure.currency)
            if row.kind in ("sub-total", "total"):
                entries.append(proofs.Stated(row.number, row.label, row.kind, figure.minor))
            elif row.counts:
                entries.append(proofs.Counted(row.number, figure.minor, row.comes))
        if len(currencies) == 1:
            found += proofs.prove(place, currencies.pop(), entries)
    return tuple(sorted(found, key=lambda proof: (proof.row, proof.column)))


def _amount(sheet: bookrows.Sheet, row: bookrows.Row, place: int, known: Known) -> loose.Figure | None:
    """What a row counts in a column: what was read, or the amount that an answer gave its budget."""
    if row.budget_minor is not None and place == sheet.shape.roles.get("budget"):
        return loose.Figure(row.budget_minor, known.currency)
    read = row.reads.get(place)
    return read if isinstance(read, loose.Figure) else None


@dataclass(slots=True)
class _Reading:
    """The rows that come in, turned into lines and quotes."""

    sheet: bookrows.Sheet
    known: Known
    choices: Choices
    lines: list[Line] = field(default_factory=list)
    prices: list[Price] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    quoted_on: date = date.min
    trades: Trades = field(init=False)
    pricing: bookprices.Pricing = field(init=False)
    _codes: dict[str, int] = field(default_factory=dict)
    _named: dict[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        adding = Choices(add_trades=True, trade=self.choices.trade)
        self.trades = Trades(self.known, adding)
        self.pricing = bookprices.Pricing(self.sheet, self.known)
        self.quoted_on = self.known.today

    def lines_and_prices(self, rows: Sequence[bookrows.Row]) -> None:
        coming = [row for row in rows if row.comes]
        self.pricing.ask_vendors(coming)
        self.quoted_on = self._quoted_on(rows)
        taken = {*self.known.codes, *(self._own_code(row) for row in coming)} - {""}
        seen: set[str] = set(self.known.codes)
        for row in coming:
            trade, kind = self._trade(row), self.sheet.kind_of(row)
            budget = self.pricing.budget(row) if row.budget_minor is None else row.budget_minor
            quotes = [] if kind == "contingency" else self.pricing.quotes(row)
            code = self._code(row, trade, taken, seen) if row.comes else None
            if code is not None:
                self._tell(row, kind)
                self.lines.append(self._line(row, trade, code, kind, budget))
                self.prices += [Price(row.number, *one) for one in quotes]

    def _tell(self, row: bookrows.Row, kind: str) -> None:
        """Say what of a line stays as text alone."""
        if len(self.sheet.description(row)) > LONGEST_DESCRIPTION:
            column = self.sheet.shape.roles.get("description", -1) + 1
            self.troubles.append(Trouble("cut short", row.number, column, about=str(LONGEST_DESCRIPTION), stops=False))
        priced = [place for place, read in self.sheet.of(row, "quote") if isinstance(read, loose.Figure)]
        if kind == "contingency" and priced:
            given = row.given[priced[0]]
            self.troubles.append(Trouble("quote on a contingency", row.number, priced[0] + 1, given, stops=False))

    def trades_used(self) -> dict[str, str]:
        used = {line.trade for line in self.lines}
        return {code: name for code, name in self.trades.added.items() if code in used}

    def _quoted_on(self, rows: Sequence[bookrows.Row]) -> date:
        """The date of quotes that bear none: that of the print note, else today; asked where there are quotes."""
        if not self.pricing.any_quotes(rows):
            return self.known.today
        notes = (" ".join(row.given) for row in rows if row.kind in ("print note", "title"))
        written = next(filter(None, map(_date_in, notes)), None)
        default = written if written and written <= self.known.today else self.known.today
        asked = self.sheet.asked.ask(
            Question("date", "date", default=f"={default.isoformat()}", typed="date", about=("printed" if default == written else "",))
        )  # fmt: skip
        return as_date(typed(asked) or "") or default

    def _trade(self, row: bookrows.Row) -> str:
        """The code of a row's trade; a name that is near one of the project's is asked once."""
        key = row.trade.casefold()
        if key not in self._named:
            self._named[key] = self._ask_trade(row.trade)
        return self._named[key]

    def _ask_trade(self, name: str) -> str:
        known, names = self.known.trades, self.known.trade_names
        if name.casefold() in known:
            return known[name.casefold()]
        if not name and self.choices.trade:
            return self.choices.trade
        near = tuple(code for code, full in names.items() if name and _near(name, full))
        if name and not near:
            return self._added(name)
        default = near[0] if near else next(iter(names)) if len(names) == 1 else ""
        options = (*(("new",) if name else ()), *(near or names))
        question = Question(
            f"trade:{name.casefold()}", "trade", given=name, options=options, default=default, typed="name"
        )
        answer = self.sheet.asked.ask(question)
        new = typed(answer)
        return self._added(new or name or "?") if answer in ("new", "") or new is not None else answer

    def _added(self, name: str) -> str:
        found = self.trades.called("", name[:120])
        return found if isinstance(found, str) else ""

    def _own_code(self, row: bookrows.Row) -> str:
        return self.sheet.text(row, "code")

    def _code(self, row: bookrows.Row, trade: str, taken: set[str], seen: set[str]) -> str | None:
        """The code of a line; one that is taken, there twice or too long is asked. None where the row then stays out."""
        code = self._own_code(row)
        if code and code not in seen and len(code) <= LONGEST_CODE:
            seen.add(code)
            return code
        if code:
            column = self.sheet.shape.roles["code"] + 1
            question = Question(
                f"code:{row.number}", "code", row.number, column, code, options=("new", "out"), default="new"
            )
            if self.sheet.asked.ask(question) == "out":
                row.out("code")
                return None
        made = next_code(trade or "L", taken, self._codes)
        seen.add(made)
        return made

    def _line(self, row: bookrows.Row, trade: str, code: str, kind: str, budget_minor: int) -> Line:
        sheet = self.sheet
        quantity = cells.quantity_reader(sheet.mark)(sheet.cell(row, "quantity"))
        return Line(
            row=row.number, trade=trade, code=code, description=sheet.description(row)[:LONGEST_DESCRIPTION], kind=kind,
            unit=sheet.text(row, "unit")[:20],
            quantity=quantity if isinstance(quantity, Decimal) else None, budget_minor=budget_minor, kept=self._kept(row),
        )  # fmt: skip

    def _kept(self, row: bookrows.Row) -> tuple[Kept, ...]:
        """Every cell of a row in its own words, beside what was read; plain words of columns that are read whole stay out."""
        headings, kept = self.sheet.shape.headings, []
        plain = {self.sheet.shape.roles.get(name) for name in ("trade", "code", "unit", "kind")}
        plain |= (
            {self.sheet.shape.roles.get("description")}
            if len(self.sheet.description(row)) <= LONGEST_DESCRIPTION
            else set()
        )
        for place, text in enumerate(row.given):
            if not text or place in plain:
                continue
            figure = row.reads.get(place)
            heading = (headings[place] if place < len(headings) else "") or column_name(place + 1)
            if isinstance(figure, loose.Figure):
                kept.append(Kept(heading[:80], text[:LONGEST_KEPT], figure.minor, figure.currency))
            else:
                kept.append(Kept(heading[:80], text[:LONGEST_KEPT]))
        return tuple(kept)


def _date_in(note: str) -> date | None:
    """The first date that stands in a note, in one word or in up to three."""
    words = note.replace(",", " ").split()
    texts = (" ".join(words[place : place + size]) for place in range(len(words)) for size in (3, 2, 1))
    return next((found for text in texts if len(text) > 5 and (found := as_date(text))), None)


def _near(name: str, full: str) -> bool:
    """True where a trade's name and a word of the sheet may mean the same."""
    one, other = name.casefold(), full.casefold()
    if one in other or other in one:
        return True
    match = SequenceMatcher(None, one, other)
    return match.real_quick_ratio() > ALIKE and match.quick_ratio() > ALIKE and match.ratio() > ALIKE
