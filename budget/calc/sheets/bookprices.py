"""What the lines of a practitioner's own sheet are worth: the budget of each, and the quotes beside it.

A budget and a price of a quote are zero or more, here as everywhere. A credit is no price: its line comes in, the
credit stays beside it in the sheet's own words, and it is entered where it belongs, as a credit note (ADR 0210).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from fractions import Fraction

from budget.calc.sheets import bookrows, loose, shape
from budget.calc.sheets.asking import LONGEST_NAME, Question, typed
from budget.calc.sheets.preview import Known
from units import money
from units.currencies import CURRENCIES

_NAMES_CURRENCY = re.compile(r"\(\s*([A-Z]{3}|[£€$])\s*\)|\bin ([A-Z]{3})\b")
_SIGNS = {"£": "GBP", "€": "EUR", "$": "USD"}
#: (column, vendor, minor, currency, rate, estimate, tax_inside, note) of one quote.
Quoted = tuple[int, str, int, str, Decimal | None, bool, Decimal | None, str]


@dataclass(slots=True)
class Pricing:
    """The amounts of the rows that come in, settled by the answers."""

    sheet: bookrows.Sheet
    known: Known
    vendors: dict[int, str | None] = field(default_factory=dict)
    by_trade: dict[tuple[int, str], str] = field(default_factory=dict)
    _rates: dict[str, Decimal | None] = field(default_factory=dict)
    _settled: dict[tuple[int, int], loose.Read] = field(default_factory=dict)

    def any_quotes(self, rows: Sequence[bookrows.Row]) -> bool:
        """Tell whether any price comes in as a quote."""
        places = self.sheet.shape.of("quote")
        return any(
            isinstance(row.reads.get(place), loose.Figure) and self._is_quoted(row, place)
            for row in rows
            if row.comes
            for place in places
        )

    def _is_quoted(self, row: bookrows.Row, place: int) -> bool:
        """A price is a quote unless its column was said to be text, and the row names no vendor either."""
        return self.vendors.get(place, "") is not None or bool(self._beside(row, place))

    def ask_vendors(self, rows: Sequence[bookrows.Row]) -> None:
        """Ask whose quotes stand in each column whose heading does not say it."""
        for place in self.sheet.shape.of("quote"):
            priced = [row for row in rows if not isinstance(row.reads.get(place, loose.Empty("blank")), loose.Empty)]
            nameless = [row for row in priced if not self._beside(row, place)]
            if nameless:
                self.vendors[place] = self._vendor(place, nameless)
            elif priced:
                self.vendors[place] = ""

    def _vendor(self, place: int, rows: Sequence[bookrows.Row]) -> str | None:
        headings = self.sheet.shape.headings
        heading = headings[place] if place < len(headings) else ""
        name = shape.vendor_named(heading)
        if name and (name.casefold() in self.known.vendors or not shape.is_plain_name(heading)):
            return name
        trades = tuple(dict.fromkeys(row.trade for row in rows))
        question = Question(
            f"vendor:{place}", "vendor", column=place + 1, given=heading, options=("none",), default=f"={name}" if name else "",
            typed="name", about=(str(len(rows)), *trades),
        )  # fmt: skip
        answer = self.sheet.asked.ask(question)
        for trade in trades:
            own = self.sheet.asked.answers.get(f"vendor:{place}:{trade.casefold()}", "")
            if (typed(own) or "").strip():
                self.by_trade[place, trade] = str(typed(own))[:160]
        return None if answer == "none" else typed(answer) or ""

    # --- the budget ---

    def budget(self, row: bookrows.Row) -> int:
        """The budget of a line [minor units of the project], with whatever has to be asked about it."""
        place = self.sheet.shape.roles.get("budget", -1)
        read = self._cell(row, place) if place in row.reads else loose.Empty("blank")
        if isinstance(read, loose.Figure) and read.minor < 0:
            self._credit(row, place)
            return 0
        if not isinstance(read, loose.Figure):
            return self._none(row)
        return self._without_tax(row, place, self._in_own(read), read)

    def _none(self, row: bookrows.Row) -> int:
        """A line without a budget: it comes in at nothing, or stays out."""
        if self._credits(row):
            self._credit(row, self._credits(row)[0])
            return 0
        place = self.sheet.shape.roles.get("budget", -1)
        given = row.given[place] if 0 <= place < len(row.given) else ""
        question = Question(
            f"unbudgeted:{row.number}", "unbudgeted", row.number, place + 1, given, options=("zero", "out"), default="zero",
            typed="amount", about=(self.sheet.description(row),),
        )  # fmt: skip
        answer = self.sheet.asked.ask(question, self.known.currency)
        if answer == "out":
            row.out("bare")
        return self.sheet.asked.amount(answer, self.known.currency) or 0

    def _credits(self, row: bookrows.Row) -> list[int]:
        """The columns of quotes in which a credit stands."""
        return [
            place for place, read in self.sheet.of(row, "quote") if isinstance(read, loose.Figure) and read.minor < 0
        ]

    def _credit(self, row: bookrows.Row, place: int) -> None:
        given, budget = row.given[place], self.sheet.budget(row)
        has_budget = isinstance(budget, loose.Figure) and budget.minor > 0
        question = Question(
            f"credit:{row.number}", "credit", row.number, place + 1, given, options=("keep", "out"), default="keep",
            about=(self.sheet.description(row), "budget" if has_budget else ""),
        )  # fmt: skip
        if self.sheet.asked.ask(question) == "out":
            row.out("credit")

    def _in_own(self, figure: loose.Figure) -> int:
        if figure.currency == self.known.currency:
            return figure.minor
        rate = self.rate(figure.currency)
        if rate is None:
            return 0
        return money.convert(figure.minor, from_currency=figure.currency, to_currency=self.known.currency, rate=rate)

    def _without_tax(self, row: bookrows.Row, place: int, minor: int, figure: loose.Figure) -> int:
        inside = self._tax_inside(row, place, figure)
        return minor if not inside else money.round_minor(Fraction(minor) / (1 + Fraction(inside) / 100))

    def _tax_inside(self, row: bookrows.Row, place: int, figure: loose.Figure) -> Decimal | None:
        """The tax that an amount has inside, where its cell says that it has; asked, since a budget may be meant either way."""
        percent = self.known.tax_percent
        if figure.tax != "gross":
            return None
        options = ("stands", *(("inside",) if percent else ()))
        default = "inside" if percent and self.known.tax_recovered else "stands"
        question = Question(
            f"tax:{row.number}:{place}", "tax", row.number, place + 1, row.given[place], options=options, default=default,
            about=(str(percent or ""),),
        )  # fmt: skip
        return percent if self.sheet.asked.ask(question) == "inside" else None

    # --- the quotes ---

    def quotes(self, row: bookrows.Row) -> list[Quoted]:
        """The quotes of a line that come in, with whatever has to be asked about them."""
        if not row.comes:
            return []
        found = []
        for place in self.sheet.shape.of("quote"):
            if place in row.reads and self._is_quoted(row, place):
                found += self._quote(row, place)
        return found if row.comes else []

    def _quote(self, row: bookrows.Row, place: int) -> list[Quoted]:
        read = self._cell(row, place)
        if not isinstance(read, loose.Figure):
            return []
        if read.minor < 0:
            self._credit(row, place)
            return []
        if read.minor == 0:
            return self._nothing(row, place)
        rate = None if read.currency == self.known.currency else self.rate(read.currency)
        if rate is None and read.currency != self.known.currency:
            return []
        inside = self._tax_inside(row, place, read)
        estimate = "about" in read.how
        return [
            (
                place + 1,
                self._whose(row, place),
                read.minor,
                read.currency,
                self._typed_rate(read.currency),
                estimate,
                inside,
                row.given[place][:300],
            )
        ]

    def _nothing(self, row: bookrows.Row, place: int) -> list[Quoted]:
        """A price of nothing is most often an empty cell that a format shows as 0; asked once a column."""
        question = Question(
            f"zero:{place}", "zero", row.number, place + 1, row.given[place], options=("none", "priced"), default="none"
        )
        if self.sheet.asked.ask(question) != "priced":
            return []
        return [(place + 1, self._whose(row, place), 0, self.known.currency, None, False, None, row.given[place][:300])]

    def _whose(self, row: bookrows.Row, place: int) -> str:
        return self._beside(row, place) or self.by_trade.get((place, row.trade)) or self.vendors.get(place) or ""

    def _beside(self, row: bookrows.Row, place: int) -> str:
        """The vendor that the row itself names beside a price, or ""."""
        column = self.sheet.shape.vendor_beside(place)
        name = row.given[column] if column is not None and column < len(row.given) else ""
        return name[:LONGEST_NAME] if any(map(str.isalpha, name)) else ""

    # --- one cell ---

    def _cell(self, row: bookrows.Row, place: int) -> loose.Read:
        """A cell settled: its currency asked where its row names one and the cell does not, its doubts answered."""
        read = row.reads[place]
        if isinstance(read, loose.Doubt):
            read = self._doubt(row, place, read)
        named = self._row_currency(row)
        if isinstance(read, loose.Figure) and named and not read.named and read.currency == self.known.currency:
            code = self._ask_currency(row, place, named)
            if code != read.currency:
                read = self._answered_in(row, place, read, code)
        row.reads[place] = read
        return read

    def _answered_in(self, row: bookrows.Row, place: int, read: loose.Figure, code: str) -> loose.Read:
        again = self.sheet.read_in(row, place, code)
        return again if isinstance(again, loose.Figure) else read._replace(currency=code)

    def _row_currency(self, row: bookrows.Row) -> str:
        """The currency that the words of a line name, "Shell (EUR)", where it is not the project's."""
        found = _NAMES_CURRENCY.search(self.sheet.text(row, "description"))
        word = (found[1] or found[2]) if found else ""
        code = _SIGNS.get(word, word)
        return code if code in CURRENCIES and code != self.known.currency else ""

    def _ask_currency(self, row: bookrows.Row, place: int, named: str) -> str:
        own = self.known.currency
        budget = place == self.sheet.shape.roles.get("budget")
        signed = any(
            isinstance(read, loose.Figure) and read.named and read.currency == named for read in row.reads.values()
        )
        question = Question(
            f"currency:{row.number}:{place}", "currency", row.number, place + 1, row.given[place], options=(own, named),
            default=own if budget or signed else named, about=(named, self.sheet.description(row), "signed" if signed else ""),
        )  # fmt: skip
        return self.sheet.asked.ask(question)

    def _doubt(self, row: bookrows.Row, place: int, doubt: loose.Doubt) -> loose.Read:
        """Ask what a cell means; an amount that is typed is in the currency of the cell."""
        options = tuple(map(str, doubt.minors))
        sure = doubt.kind in ("two ways", "other mark") and len(options) == 1
        question = Question(
            f"cell:{row.number}:{place}", "cell", row.number, place + 1, row.given[place], options=(*options, "none"),
            default=options[0] if sure else "none", typed="amount", about=(doubt.kind, doubt.currency),
        )  # fmt: skip
        answer = self.sheet.asked.ask(question, doubt.currency)
        minor = self.sheet.asked.amount(answer, doubt.currency)
        if minor is None:
            return loose.Empty("word", row.given[place])
        return loose.Figure(minor, doubt.currency, ("answered",), doubt.note, doubt.tax)

    # --- rates ---

    def rate(self, currency: str) -> Decimal | None:
        """Project units for one unit of a currency: the project's, or the one that was answered; None to leave such amounts."""
        if currency in self.known.rate_of:
            return self.known.rate_of[currency]
        if currency not in self._rates:
            answer = self.sheet.asked.ask(
                Question(f"rate:{currency}", "rate", given=currency, options=("none",), typed="rate", about=(currency, self.known.currency))
            )  # fmt: skip
            text = typed(answer)
            self._rates[currency] = None if text is None else self.sheet.asked.rate(text)
        return self._rates[currency]

    def _typed_rate(self, currency: str) -> Decimal | None:
        return None if currency in self.known.rate_of else self._rates.get(currency)
