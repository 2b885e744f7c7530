"""What came out of a file, and what is said about it: the cells, their places, and the troubles found in them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, NamedTuple

#: A text, or a number as the sheet holds it. Dates of a sheet arrive as ISO text.
Cell = str | int | float
#: Top row, left column, bottom row, right column of some cells that were made one, in places of the sheet.
Block = tuple[int, int, int, int]


class Fault(NamedTuple):
    """Why a cell cannot be read: a word, and what it is about."""

    kind: str
    about: str = ""


class Trouble(NamedTuple):
    """Something about a sheet that its owner should know.

    `row` and `column` count from 1, or are 0 where it is about the whole; a trouble that `stops` has to be mended, or
    its row left out, before anything is brought in.
    """

    kind: str
    row: int = 0
    column: int = 0
    given: str = ""
    about: str = ""
    stops: bool = True


@dataclass(frozen=True, slots=True)
class Facts:
    """What a file says about its cells besides their values. Places count from 1."""

    merged: tuple[Block, ...] = ()
    hidden_rows: frozenset[int] = frozenset()
    hidden_columns: frozenset[int] = frozenset()
    formulas: tuple[tuple[int, int], ...] = ()
    formula_count: int = 0
    #: {(row, column): currency code} of cells whose number format names a currency
    formats: Mapping[tuple[int, int], str] = field(default_factory=lambda: MappingProxyType({}))
    #: days are counted from 1904 instead of 1900
    from_1904: bool = False
    #: about the file as a whole: (kind, what it is about)
    notes: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells of a sheet from its first row and column on; rows may differ in length."""

    rows: Sequence[Sequence[Cell]]
    facts: Facts = Facts()

    @property
    def width(self) -> int:
        return max(map(len, self.rows), default=0)


def column_name(column: int) -> str:
    """Write a column the way a sheet heads it.

    Args:
        column: from 1 on.

    >>> [column_name(column) for column in (1, 26, 27, 703)]
    ['A', 'Z', 'AA', 'AAA']
    """
    letters = ""
    while column:
        column, place = divmod(column - 1, 26)
        letters = chr(65 + place) + letters
    return letters


def shown(cell: Cell) -> str:
    """Write a cell the way it was given, without a spare decimal point.

    >>> shown(12.0), shown(12.5), shown(" a ")
    ('12', '12.5', ' a ')
    """
    if isinstance(cell, str):
        return cell
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)
    return str(cell)


def as_plain(grid: Grid) -> dict[str, Any]:
    """Write a grid as plain JSON values, to be kept until it is brought in."""
    facts = grid.facts
    return {
        "rows": grid.rows,
        "merged": facts.merged,
        "hidden_rows": sorted(facts.hidden_rows),
        "hidden_columns": sorted(facts.hidden_columns),
        "formulas": facts.formulas,
        "formula_count": facts.formula_count,
        "formats": [[row, column, code] for (row, column), code in facts.formats.items()],
        "from_1904": facts.from_1904,
        "notes": facts.notes,
    }


def from_plain(kept: Mapping[str, Any]) -> Grid:
    """Read back what `as_plain` wrote.

    >>> grid = Grid([["a", 1.5]], Facts(merged=((1, 1, 2, 1),), formats={(1, 2): "EUR"}))
    >>> from_plain(as_plain(grid)) == grid
    True
    """
    facts = Facts(
        merged=tuple((top, left, bottom, right) for top, left, bottom, right in kept["merged"]),
        hidden_rows=frozenset(kept["hidden_rows"]),
        hidden_columns=frozenset(kept["hidden_columns"]),
        formulas=tuple((row, column) for row, column in kept["formulas"]),
        formula_count=kept["formula_count"],
        formats={(row, column): code for row, column, code in kept["formats"]},
        from_1904=kept["from_1904"],
        notes=tuple((kind, about) for kind, about in kept["notes"]),
    )
    return Grid(kept["rows"], facts)
