"""Quotes side by side: what each one gives, leaves out and comes to, ready for a page.

The figures are those of `packages`; nothing is worked out here but which row and column each belongs to.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef
from django.utils.translation import gettext as _

from budget.calc import outliers
from budget.calc.levelling import ItemFigure, LevelledQuote
from budget.models import (
    Agreement,
    AgreementLine,
    LineItem,
    OriginalQuote,
    Quote,
    QuoteItem,
    QuoteLine,
    ScopeItem,
    Trade,
)
from budget.selectors import packages as packed
from budget.selectors.packages import Package, item_key
from projects.models import Project

#: So many lines of a trade are set out on one page.
SHEETS_AT_ONCE = 20
Standing = QuoteItem.Standing


@dataclass(frozen=True, slots=True)
class Cell:
    """What one quote says of one item, and what the item is reckoned at [project minor units].

    `standing` is "" where the quote says nothing, which counts as unclear.
    """

    standing: str
    label: str
    amount: int | None
    plug: bool
    plug_source: str


@dataclass(frozen=True, slots=True)
class Row:
    """One entry of the scope list, or one further cost, across all quotes."""

    name: str
    cells: tuple[Cell, ...]
    #: it helped to turn the order round
    turned: bool


@dataclass(frozen=True, slots=True)
class Column:
    """One quote on the line [minor units; `given` in its own currency, the rest in the project's]."""

    quote: Quote
    kept: QuoteLine
    given: int
    quoted: int
    adjustments: int
    net: int
    plugs: int
    extras: int
    levelled: int
    above_lowest: int
    complete: bool
    rank: int
    days_left: int | None
    expired: bool
    far_below: bool
    is_original: bool
    agreement: Agreement | None

    @property
    def gaps(self) -> int:
        """What will have to be paid beside the vendor's bill [project minor units]."""
        return self.plugs + self.extras

    @property
    def foreign(self) -> bool:
        return self.quote.currency != self.kept.line.project.currency


@dataclass(frozen=True, slots=True)
class Turned:
    """The quote that looked lowest as given, the one that is, and what made the difference."""

    looked: Column
    won: Column
    by: int
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """One line with its quotes side by side, lowest levelled first."""

    line: LineItem
    columns: tuple[Column, ...]
    scope: tuple[Row, ...]
    extras: tuple[Row, ...]
    spread: int
    turned: Turned | None
    questions: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def foreign(self) -> bool:
        return any(column.foreign for column in self.columns)

    @property
    def adjusted(self) -> bool:
        return any(column.adjustments for column in self.columns)

    @property
    def lowest(self) -> Column | None:
        return next((column for column in self.columns if column.rank == 1), None)


@dataclass(frozen=True, slots=True)
class _Beside:
    """What is known of quotes on lines besides their figures."""

    originals: Mapping[int, int | None]
    agreements: Mapping[tuple[int, int], Agreement]
    today: date


def sheets(project: Project, line_ids: Sequence[int], *, today: date) -> list[Sheet]:
    """Set out the quotes on some lines.

    Returns: one sheet per line, in the order of the budget, quotes from the lowest levelled to the highest and incomplete
    ones last; quotes that were withdrawn or replaced are left out. Queries: 7, whatever the number of lines and quotes.
    """
    found = packed.packages(project, line_ids)
    beside = _Beside(_originals(line_ids), _agreements(project, line_ids), today)
    return [_sheet(project, package, beside) for package in found]


def lines_with_quotes(project: Project, trade: Trade) -> tuple[list[int], list[LineItem]]:
    """The lines of a trade with a quote, by id, and those that have none yet. Queries: 1."""
    standing = QuoteLine.objects.filter(line=OuterRef("pk"), quote__state__in=packed.STANDING)
    lines = LineItem.objects.filter(project=project, trade=trade, removed_on=None).exclude(
        kind=LineItem.Kind.CONTINGENCY
    )
    rows = list(lines.annotate(quoted=Exists(standing)))
    return [row.pk for row in rows if row.quoted], [row for row in rows if not row.quoted]


def _originals(line_ids: Sequence[int]) -> dict[int, int | None]:
    rows = OriginalQuote.objects.filter(line_id__in=line_ids).order_by("pk").values_list("line_id", "quote_id")
    return dict(rows)  # a later row of the same line takes the place of an earlier one


def _agreements(project: Project, line_ids: Sequence[int]) -> dict[tuple[int, int], Agreement]:
    rows = AgreementLine.objects.filter(agreement__project=project, agreement__reversal=None, line_id__in=line_ids)
    return {(row.agreement.quote_id, row.line_id): row.agreement for row in rows.select_related("agreement")}


def _sheet(project: Project, package: Package, beside: _Beside) -> Sheet:
    package.line.project = project
    ranked = sorted(package.levelling.quotes, key=lambda row: row.rank)
    far = outliers.far_below({row.key: row.levelled_minor for row in ranked if row.complete})
    columns = tuple(_column(package, row, ranked[0], far, beside) for row in ranked)
    turned = _turned(package, columns)
    return Sheet(
        line=package.line,
        columns=columns,
        scope=tuple(_scope_row(package, entry, ranked) for entry in package.scope),
        extras=tuple(_extra_row(package, key, ranked) for key in _extra_keys(ranked)),
        spread=package.levelling.spread_minor,
        turned=turned,
        questions=_questions(package, ranked),
    )


def _column(
    package: Package, row: LevelledQuote, lowest: LevelledQuote, far: frozenset[str], beside: _Beside
) -> Column:
    quote = next(quote for quote in package.quotes if str(quote.pk) == row.key)
    kept, net = package.kept[quote.pk], packed.net_of(row)
    kept.line = package.line
    return Column(
        quote=quote,
        kept=kept,
        given=sum(item.amount_quoted_minor or 0 for item in package.items[quote.pk].values()),
        quoted=row.quoted_minor,
        adjustments=net - row.quoted_minor,
        net=net,
        plugs=sum(f.amount_minor or 0 for f in row.items.values() if f.plug),
        extras=sum(extra.amount_minor for extra in package.extras[quote.pk]),
        levelled=row.levelled_minor,
        above_lowest=row.levelled_minor - lowest.levelled_minor,
        complete=row.complete,
        rank=row.rank,
        days_left=None if quote.valid_until is None else (quote.valid_until - beside.today).days,
        expired=quote.expired(beside.today),
        far_below=row.key in far,
        is_original=beside.originals.get(package.line.pk) == quote.pk,
        agreement=beside.agreements.get((quote.pk, package.line.pk)),
    )


def _turned(package: Package, columns: Sequence[Column]) -> Turned | None:
    if not package.levelling.flip:
        return None
    looked = min(columns, key=lambda column: (column.quoted, column.rank))
    won = columns[0]
    names = tuple(_name(package, key) for key in package.levelling.flip_items)
    return Turned(looked, won, looked.levelled - won.levelled, names)


def _name(package: Package, key: str) -> str:
    for entry in package.scope:
        if key == item_key(package.line.pk, entry.pk):
            return entry.name
    return key.partition("+")[2] or package.line.description


def _scope_row(package: Package, entry: ScopeItem, ranked: Sequence[LevelledQuote]) -> Row:
    key = item_key(package.line.pk, entry.pk)
    cells = tuple(_cell(package, entry, row, row.items[key]) for row in ranked)
    return Row(entry.name, cells, key in package.levelling.flip_items)


def _cell(package: Package, entry: ScopeItem, row: LevelledQuote, figure: ItemFigure) -> Cell:
    item = package.items[int(row.key)].get(entry.pk)
    standing = item.standing if item else ""
    label = {
        "": _("not stated"), Standing.PRICED: _("priced"), Standing.INCLUDED: _("in"), Standing.OUT: _("out"),
        Standing.UNCLEAR: _("unclear"), Standing.BY_OWNER: _("by owner"),
    }[standing]  # fmt: skip
    source = ""
    if figure.plug:
        source = _("own figure") if entry.plug_minor is not None else str(package.line.get_plug_rule_display())
    return Cell(standing, str(label), figure.amount_minor, figure.plug, source)


def _extra_keys(ranked: Sequence[LevelledQuote]) -> list[str]:
    return [key for key in ranked[0].items if packed.is_extra(key)] if ranked else []


def _extra_row(package: Package, key: str, ranked: Sequence[LevelledQuote]) -> Row:
    cells = tuple(Cell("", "", row.items[key].amount_minor or None, False, "") for row in ranked)
    return Row(key.partition("+")[2], cells, key in package.levelling.flip_items)


def _questions(package: Package, ranked: Sequence[LevelledQuote]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What to ask each vendor whose quote is open: the scope that it leaves unclear or does not mention."""
    asked = []
    for row in ranked:
        quote = next(quote for quote in package.quotes if str(quote.pk) == row.key)
        said = package.items[quote.pk]
        unclear = tuple(
            entry.name for entry in package.scope if entry.pk not in said or said[entry.pk].standing == Standing.UNCLEAR
        )
        if unclear and quote.state == Quote.State.OPEN:
            asked.append((quote.vendor.name, unclear))
    return tuple(asked)
