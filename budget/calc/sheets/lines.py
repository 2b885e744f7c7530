"""A sheet of line items, read."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from budget.calc.sheets import cells, columns
from budget.calc.sheets.grid import Cell, Fault, Grid, Trouble
from budget.calc.sheets.preview import Choices, Known, Preview, Reading, differing

KINDS = {
    "": "work", "work": "work", "works": "work", "line": "work", "item": "work",
    "allowance": "allowance", "provisional sum": "allowance", "prov sum": "allowance", "pc sum": "allowance", "ps": "allowance",
    "pc": "allowance", "contingency": "contingency", "reserve": "contingency",
}  # fmt: skip
LONGEST_TRADE_CODE = 12
LONGEST_CODE = 20


def read(grid: Grid, known: Known, choices: Choices) -> Preview:
    """Read line items from a sheet.

    Args:
        known: what the project has.
        choices: what was chosen about this sheet.
    Returns: `read` has, by row: trade (code), code, description, kind, unit, quantity, budget [minor units].
    """
    sheet = Reading("lines", grid, known, choices)
    found, trades, made_up = _values(sheet)
    totals = sheet.totals("description", ("trade", "trade_name", "description"), "code")
    checked = sheet.checked_totals(found["budget"], totals, "budget")
    sheet.must_have(found["description"], "description", "no description")
    sheet.must_have(found["budget"], "budget", "no amount")
    sheet.facts(filled=("trade", "trade_name"))
    _other_currency(sheet)
    out = sheet.left_out(totals)
    stay, take = sheet.kept(out)
    values = {name: take(column) for name, column in found.items()}
    places = [sheet.places[place] for place in stay]
    _twice(sheet, values, places)
    differing(checked, sheet, "budget", known.currency)
    used = set(values["trade"])
    return Preview(
        kind="lines", heading=sheet.heading, headings=sheet.headings, columns=sheet.columns, places=places, read=values,
        out=out, totals=checked, troubles=tuple(sheet.troubles), mark=sheet.mark("budget"), date_order="",
        currency=known.currency, new_trades={code: name for code, name in trades.added.items() if code in used},
        made_up=sum(take(made_up)),
    )  # fmt: skip


def _values(sheet: Reading) -> tuple[dict[str, list[Any]], "Trades", list[bool]]:
    mark = sheet.mark("budget")
    trades = Trades(sheet.known, sheet.choices)
    found = {"trade": _trades(sheet, trades)}
    codes = sheet.text("code")
    found["code"], made_up = with_made_up(codes, found["trade"], sheet.known)
    found["description"] = sheet.text("description")
    found["kind"] = sheet.column("kind", cells.word_reader(KINDS))
    found["unit"] = sheet.text("unit")
    found["quantity"] = sheet.column("quantity", cells.quantity_reader(mark))
    found["budget"] = sheet.amounts("budget", sheet.known.currency)
    return found, trades, made_up


@dataclass(slots=True)
class Trades:
    """The trades that rows name: known ones, and those that would be added."""

    known: Known
    choices: Choices
    added: dict[str, str] = field(default_factory=dict)
    _codes: dict[str, str] = field(default_factory=dict)
    _names: dict[str, str] = field(default_factory=dict)
    _taken: frozenset[str] = frozenset()
    _number: int = 1

    def called(self, code: str, name: str) -> str | Fault:
        """Find the code of a trade by what stands in its two columns."""
        if not code and not name:
            return self.choices.trade or Fault("no trade")
        names = self.known.trades
        for text in filter(None, (code.casefold(), name.casefold())):
            if text in names:
                return self._agreeing(names[text], name)
        if code and name:
            return (
                self._add(code, name) if len(code) <= LONGEST_TRADE_CODE else Fault("too long", str(LONGEST_TRADE_CODE))
            )
        if self.choices.add_trades:
            return self._add(self._new_code(), code or name)
        near = get_close_matches((code or name).casefold(), list(names), 1)
        return Fault("unknown trade, one is near", names[near[0]]) if near else Fault("unknown trade")

    def _agreeing(self, code: str, name: str) -> str | Fault:
        """A known trade, unless the row calls it by another name than the project does."""
        own = self.known.trade_names.get(code, name)
        return code if not name or name.casefold() == own.casefold() else Fault("another trade", f"{code} {own}")

    def _add(self, code: str, name: str) -> str:
        code = self._codes.get(code.casefold(), code)
        same = self._names.get(name.casefold(), code)
        self._codes.setdefault(same.casefold(), same)
        self._names.setdefault(self.added.setdefault(same, name).casefold(), same)
        return same

    def _new_code(self) -> str:
        if not self._taken:
            self._taken = frozenset(code.casefold() for code in self.known.trades.values())
        while (code := f"t{self._number:02d}") in self._taken or code in self._codes:
            self._number += 1
        return code.upper()


def _trades(sheet: Reading, trades: Trades) -> list[Any]:
    codes, names = (
        [text or "" for text in sheet.text(name, sheet.filled_down(name))] for name in ("trade", "trade_name")
    )
    pairs = list(zip(codes, names, strict=True))
    known = {pair: trades.called(*pair) for pair in dict.fromkeys(pairs)}
    found: list[Any] = list(map(known.__getitem__, pairs))
    if any(type(value) is Fault for value in known.values()):
        told = {(trouble.row, trouble.column) for trouble in sheet.troubles}
        column = "trade" if "trade" in sheet.columns else "trade_name"
        for place, value in enumerate(found):
            if type(value) is Fault:
                found[place] = None
                if (sheet.places[place] + 1, sheet.columns.get(column, -1) + 1) not in told:
                    sheet.say(value.kind, place, column, about=value.about)
    return found


def with_made_up(codes: Sequence[Any], trades: Sequence[Any], known: Known) -> tuple[list[Any], list[bool]]:
    """Give lines without a code one of their trade's: "T05-01"."""
    if "" not in codes:
        return list(codes), [False] * len(codes)
    taken = {*known.codes, *filter(None, codes)}
    numbers: dict[str, int] = {}
    found = []
    for code, trade in zip(codes, trades, strict=True):
        found.append(next_code(trade or "L", taken, numbers) if code == "" else code)
    return found, [code == "" for code in codes]


def next_code(trade: str, taken: set[str], numbers: dict[str, int]) -> str:
    """Make up the next free code of a trade, and note that it is taken.

    >>> next_code("T05", {"T05-01"}, {})
    'T05-02'
    """
    number = numbers.get(trade, 0)
    while True:
        number += 1
        code = f"{trade}-{number:02d}"
        if code not in taken:
            numbers[trade] = number
            taken.add(code)
            return code


def _twice(sheet: Reading, values: Mapping[str, Sequence[Any]], places: Sequence[int]) -> None:
    """Say which codes stand twice or are taken, and which lines look like one that stands above."""
    codes, column = values["code"], sheet.columns.get("code", -1) + 1
    counted = Counter(codes)
    if len(counted) < len(codes) or not sheet.known.codes.isdisjoint(counted):
        first: dict[str, int] = {}
        for code, place in zip(codes, places, strict=True):
            if code and code in sheet.known.codes:
                sheet.troubles.append(Trouble("code taken", place + 1, column, code))
            elif code and code in first:
                sheet.troubles.append(Trouble("code twice", place + 1, column, code, str(first[code])))
            first.setdefault(code, place + 1)
    alike = list(zip(values["trade"], values["description"], values["budget"], strict=True))
    if len(set(alike)) < len(alike):
        seen: dict[tuple[Any, ...], int] = {}
        for row, place in zip(alike, places, strict=True):
            if row in seen and row[1]:
                sheet.troubles.append(Trouble("like another", place + 1, 0, str(row[1]), str(seen[row]), stops=False))
            seen.setdefault(row, place + 1)


def _other_currency(sheet: Reading) -> None:
    """Budget amounts are in the project's currency; say so where the sheet names another."""
    place = sheet.columns.get("budget")
    if place is None:
        return
    named = columns.currency_of(sheet.headings[place]) if place < len(sheet.headings) else ""
    if named and named != sheet.known.currency:
        sheet.say("heading in another currency", about=named)
    if sheet.grid.facts.formats:
        cells_: list[Cell] = sheet.given("budget")
        for row in range(len(cells_)):
            shown_in = sheet.formats("budget", row)
            if shown_in and shown_in != sheet.known.currency:
                sheet.say("format in another currency", row, "budget", about=shown_in)
