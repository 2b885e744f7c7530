"""A sheet that is one long table: columns that say what they hold, rows that come one at a time, a row of totals.

A formula is written once for its column, with the other columns of the same row in brackets: `ROUND([net]+[tax],[digits])`.
Cells of a column that other sheets add up have a name, such as `payment_amount`, which their formulas use.
"""

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from django.utils.translation import gettext as _

from reports.sheets.workbook import cells
from reports.sheets.workbook.book import Sheet
from units import money

_RIGHT = frozenset({"amount", "signed", "own", "own signed", "number", "rate", "share", "word"})
_AMOUNTS = frozenset({"amount", "signed", "own", "own signed"})
_BRACKET = re.compile(r"\[(\w+)\]")

#: Writes the cell of one column: the number of the row, its value, the currency of the row.
Writer = Callable[[int, Any, str], str]


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    `kind`: "text", "after" (a text that keeps off a figure at its left), "word" (at the right), "key" (the number of a
    row), "number", "rate", "share", "date"; "amount" and "signed" in the project's currency, "own" and "own signed" in the
    currency of the row, which its column "currency" names. `named`: other sheets add it up. `total`: it is added up below.
    `above_is_saved` turns the colours of a signed column over.
    """

    name: str
    heading: str
    kind: str = "text"
    width: float = 12
    formula: str = ""
    named: bool = False
    total: bool = False
    above_is_saved: bool = False


class Table:
    """Writes the rows of one sheet."""

    def __init__(self, sheet: Sheet, prefix: str, columns: Sequence[Column], *, freeze: int = 2) -> None:
        self.sheet, self.prefix, self.columns = sheet, prefix, tuple(columns)
        self.book = sheet.book
        self.place = {column.name: place for place, column in enumerate(columns)}
        self.totals = {column.name: 0 for column in columns if column.total}
        sheet.widths([column.width for column in columns])
        sheet.headings([(column.heading, _side(column.kind)) for column in columns], freeze=freeze, height=44)

    def write(self, rows: Iterable[Sequence[Any]], *, total: str, nothing: str) -> None:
        """Write every row, then the totals.

        Args:
            rows: the values of the columns, in their order; of a column with a formula, the value it gives.
            total: what stands beside the totals, or "" for none.
            nothing: what is said where there are no rows.
        """
        first = self.sheet.row + 1
        for row in self._rows(rows):
            self.sheet.write(row)
        if self.sheet.row < first:
            self.sheet.write([cells.words(self.sheet.at(1), self.book.looks.style("soft"), nothing)])
        last = self.sheet.row
        self._name(first, last)
        if total and self.totals:
            self.sheet.write(self._total_cells(first, last, total))
        self._mark(first)
        self.sheet.part.autofilter(first - 2, 0, last - 1, len(self.columns) - 1)

    def _rows(self, rows: Iterable[Sequence[Any]]) -> Iterator[Iterable[str]]:
        writers = [self._writer(place, column) for place, column in enumerate(self.columns)]
        own, added = self.place.get("currency"), [(name, self.place[name]) for name in self.totals]
        account = self.book.project.currency
        for number, row in enumerate(rows, start=self.sheet.row + 1):
            currency = account if own is None else row[own]
            for name, place in added:
                self.totals[name] += row[place] or 0
            yield [write(number, value, currency) for write, value in zip(writers, row, strict=True)]

    # --- One writer a column ----------------------------------------------------------------------------------------

    def _writer(self, place: int, column: Column) -> Writer:
        letter = cells.letters(place)
        if column.formula:
            return self._formula(letter, column)
        if column.kind in _AMOUNTS:
            return self._amount(letter, column.kind)
        style = self.book.looks.style(column.kind)
        if column.kind == "date":
            return lambda row, on, _currency: (
                cells.number(f"{letter}{row}", style, str(cells.day_number(on))) if on else ""
            )
        if column.kind in ("key", "number", "rate", "share"):
            return lambda row, value, _currency: (
                ""
                if value is None
                else cells.number(f"{letter}{row}", style, format(value, "f" if value % 1 else ".0f"))
            )
        return lambda row, text, _currency: cells.words(f"{letter}{row}", style, text)

    def _amount(self, letter: str, kind: str) -> Writer:
        look = cache(lambda currency: self._look(kind, currency))

        def write(row: int, minor: int | None, currency: str) -> str:
            if minor is None:
                return ""
            style, digits = look(currency)
            return f'<c r="{letter}{row}" s="{style}"><v>{cells.decimal(minor, digits)}</v></c>'

        return write

    def _look(self, kind: str, currency: str) -> tuple[int, int]:
        """Style and digits of amounts in a currency."""
        plain = "signed" if kind.endswith("signed") else "amount"
        mine = currency if kind.startswith("own") else self.book.project.currency
        return self.book.looks.style(plain, mine), money.digits(mine)

    def _formula(self, letter: str, column: Column) -> Writer:
        if column.kind not in _AMOUNTS:
            style, parts = self.book.looks.style(column.kind), self.parts(column.formula, self.book.digits)
            return lambda row, text, _currency: cells.saying(f"{letter}{row}", style, str(row).join(parts), text)
        look = cache(lambda currency: self._look(column.kind, currency))
        # One piece of text between each two numbers of the row, escaped once.
        said = cache(lambda digits: [cells.escaped(part) for part in self.parts(column.formula, digits)])

        def write(row: int, minor: int | None, currency: str) -> str:
            style, digits = look(currency)
            whole = str(row).join(said(digits))
            if minor is None:
                return f'<c r="{letter}{row}" s="{style}" t="str"><f>{whole}</f><v></v></c>'
            return f'<c r="{letter}{row}" s="{style}"><f>{whole}</f><v>{cells.decimal(minor, digits)}</v></c>'

        return write

    def parts(self, formula: str, digits: int) -> list[str]:
        """A formula, cut where the number of its row goes.

        A bracket is a column of the same row, or the digits of the row's currency.
        """
        filled = formula.replace("[digits]", str(digits))
        return _BRACKET.sub(lambda found: f"{cells.letters(self.place[found[1]])}\0", filled).split("\0")

    # --- Around the rows --------------------------------------------------------------------------------------------

    def _name(self, first: int, last: int) -> None:
        for place, column in enumerate(self.columns):
            if column.named:
                self.book.name(f"{self.prefix}_{column.name}", self.sheet.area(place, first, last))

    def _total_cells(self, first: int, last: int, label: str) -> Iterator[str]:
        """The row of totals; every cell bears its line."""
        style = self.book.looks.style
        for place, column in enumerate(self.columns):
            at, letter = self.sheet.at(place), cells.letters(place)
            if column.total:
                said = f"ROUND(SUM({letter}{first}:{letter}{last}),{self.book.digits})"
                value = cells.decimal(self.totals[column.name], self.book.digits)
                yield cells.formula(at, style(column.kind, "", True), said, value)
            else:
                yield (
                    cells.words(at, style("text", "", True), label)
                    if place == 1
                    else cells.blank(at, style("text", "", True))
                )

    def _mark(self, first: int) -> None:
        for place, column in enumerate(self.columns):
            if column.kind.endswith("signed"):
                letter, turned = cells.letters(place), column.above_is_saved
                self.book.over_is_brick(self.sheet.part, f"{letter}{first}:{letter}{self.sheet.row}", turned=turned)


def _side(kind: str) -> str:
    return "right" if kind in _RIGHT else "after" if kind == "after" else "left"


def yes_or_no(truth: bool) -> str:
    return _("yes") if truth else _("no")
