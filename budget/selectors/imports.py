"""What a sheet that was handed in is read against, and what its preview shows."""

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.shortcuts import get_object_or_404

from budget.calc.sheets import book, invoices, lines, quotes
from budget.calc.sheets.grid import Grid, Trouble, from_plain, shown
from budget.calc.sheets.preview import Choices, Known, Preview
from budget.models import Change, ImportBatch, Invoice, LineItem, Quote, QuoteLine, SheetRow, Trade, Vendor
from budget.services.bounds import EARLIEST, LATEST
from projects import display
from projects.models import ExchangeRate, Project

Reader = Callable[[Grid, Known, Choices], Any]
#: The kinds of sheets that can be read, the most common first.
READERS: Mapping[str, Reader] = {
    ImportBatch.Kind.WORKBOOK: book.read,
    ImportBatch.Kind.LINES: lines.read,
    ImportBatch.Kind.QUOTES: quotes.read,
    ImportBatch.Kind.INVOICES: invoices.read,
}


@dataclass(frozen=True, slots=True)
class RowShown:
    """One row of a sheet: what was given, what was read (name, value), and what is wrong with it."""

    number: int
    given: tuple[str, ...]
    read: tuple[tuple[str, Any], ...]
    troubles: tuple[Trouble, ...]
    out: str


@dataclass(frozen=True, slots=True)
class Earlier:
    """An import of the past, without its rows."""

    pk: int
    kind: str
    kind_label: str
    state: str
    state_label: str
    file_name: str
    row_count: int
    read_at: datetime
    by: str
    applied_at: datetime | None
    undone_at: datetime | None


@dataclass(frozen=True, slots=True)
class SaidCell:
    """A cell in the sheet's own words, and the amount that was read from it, written out, or ""."""

    heading: str
    given: str
    read_as: str


@dataclass(frozen=True, slots=True)
class SheetRowShown:
    """The row of a sheet that a line came from."""

    row: int
    file_name: str
    read_at: datetime
    cells: tuple[SaidCell, ...]


def known(project: Project, kind: str, *, today: date) -> Known:
    """Read what a sheet is held against. Queries: 2 for lines, 3 for quotes, 4 for invoices and for a budget with its quotes."""
    codes = LineItem.objects.filter(project=project, removed_on=None).values_list("code", flat=True)
    shared = Known(
        currency=project.currency,
        mark=display.style_of(project.currency, project.locale).decimal,
        today=today,
        earliest=EARLIEST,
        latest=LATEST,
        codes=frozenset(codes),
    )
    if kind == ImportBatch.Kind.QUOTES:
        return _known_of_quotes(project, shared)
    if kind == ImportBatch.Kind.INVOICES:
        return _known_of_invoices(project, shared)
    named = dict(Trade.objects.filter(project=project).values_list("code", "name"))
    shared = replace(shared, trades=_by_code_or_name(named), trade_names=named)
    return shared if kind == ImportBatch.Kind.LINES else _known_of_book(project, shared)


def _known_of_book(project: Project, shared: Known) -> Known:
    newest = dict(
        ExchangeRate.objects.filter(purpose="budget", project=project)
        .order_by("rated_on", "pk")
        .values_list("currency", "rate")
    )
    return replace(
        shared, rate_of=newest, rates=frozenset({project.currency, *newest}),
        vendors=frozenset(Vendor.objects.filter(project=project).values_list("key", flat=True)),
        tax_percent=project.tax_percent, tax_recovered=project.tax_recovered,
    )  # fmt: skip


def _known_of_quotes(project: Project, shared: Known) -> Known:
    rated = ExchangeRate.objects.filter(purpose="budget", project=project).values_list("currency", flat=True)
    return replace(shared, rates=frozenset({project.currency, *rated}), logged=_logged(project))


def _known_of_invoices(project: Project, shared: Known) -> Known:
    rated = ExchangeRate.objects.filter(project=project).values_list("currency", flat=True)
    standing = Invoice.objects.filter(project=project).exclude(state=Invoice.State.REFUSED)
    changes = Change.objects.filter(project=project, state__in=[Change.State.PROPOSED, Change.State.AGREED])
    return replace(
        shared,
        rates=frozenset({project.currency, *rated}),
        numbers=frozenset(standing.values_list("vendor__key", "number_key")),
        changes=dict(changes.values_list("code", "line__code")),
    )


def _by_code_or_name(trade_names: dict[str, str]) -> dict[str, str]:
    """{code or name in small letters: code}; a code wins over another trade's name, and the first of a name twice."""
    by_name = {name.casefold(): code for code, name in reversed(trade_names.items())}
    return by_name | {code.casefold(): code for code in trade_names}


def _logged(project: Project) -> frozenset[tuple[str, str, date, str]]:
    rows = QuoteLine.objects.filter(quote__project=project).exclude(
        quote__state__in=[Quote.State.WITHDRAWN, Quote.State.REPLACED]
    )
    return frozenset(rows.values_list("quote__vendor__key", "quote__reference", "quote__quoted_on", "line__code"))


def find(project: Project, pk: int) -> ImportBatch:
    """Find an import of a project. Raises: Http404. Queries: 1."""
    return get_object_or_404(ImportBatch, project=project, pk=pk)


def choices_of(batch: ImportBatch) -> Choices:
    return Choices.from_plain(batch.content.get("choices", {}))


def grid_of(batch: ImportBatch) -> Grid:
    return from_plain(batch.content["grid"])


def preview(batch: ImportBatch, *, today: date) -> Any:
    """Read a kept sheet anew, against the project as it stands: a Preview, or a Book. Queries: as `known`."""
    return READERS[ImportBatch.Kind(batch.kind)](
        grid_of(batch), known(batch.project, batch.kind, today=today), choices_of(batch)
    )


def rows_shown(grid: Grid, seen: Preview, *, start: int, most: int, only_troubled: bool = False) -> list[RowShown]:
    """Put some rows of a preview together for a page: what was given beside what was read."""
    by_row: dict[int, list[Trouble]] = defaultdict(list)
    for trouble in seen.troubles:
        by_row[trouble.row].append(trouble)
    where = {place: number for number, place in enumerate(seen.places)}
    places = sorted({*where, *(row - 1 for row in seen.out)})
    if only_troubled:
        places = [place for place in places if place + 1 in by_row or place + 1 in seen.out]
    return [_row(grid, seen, place, where.get(place), by_row) for place in places[start : start + most]]


def _row(
    grid: Grid, seen: Preview, place: int, number: int | None, by_row: Mapping[int, Sequence[Trouble]]
) -> RowShown:
    cells = tuple(shown(cell) for cell in grid.rows[place])
    read = () if number is None else tuple((name, values[number]) for name, values in seen.read.items())
    return RowShown(place + 1, cells, read, tuple(by_row.get(place + 1, ())), seen.out.get(place + 1, ""))


def sheet_rows(line: LineItem) -> list[SheetRowShown]:
    """What a sheet said about a line that it brought in, newest first. Queries: 1."""
    rows = SheetRow.objects.filter(line=line).select_related("batch", "batch__project").defer("batch__content")
    return [
        SheetRowShown(row.row, row.batch.file_name, row.batch.read_at, tuple(_said(row.batch.project, *cell) for cell in row.cells))
        for row in rows.order_by("-pk")
    ]  # fmt: skip


def _said(project: Project, heading: str, given: str, minor: int | None, currency: str) -> SaidCell:
    read = "" if minor is None else display.money(minor, display.InCurrency(currency, project.locale))
    return SaidCell(heading, given, read)


def earlier(project: Project) -> list[Earlier]:
    """The imports of a project, newest first, at most 50. Queries: 1."""
    rows = ImportBatch.objects.filter(project=project).defer("content").select_related("read_by").order_by("-pk")[:50]
    return [
        Earlier(
            pk=row.pk, kind=row.kind, kind_label=row.get_kind_display(), state=row.state, state_label=row.get_state_display(),
            file_name=row.file_name, row_count=row.row_count, read_at=row.read_at, by=row.read_by.called if row.read_by else "",
            applied_at=row.applied_at, undone_at=row.undone_at,
        )
        for row in rows
    ]  # fmt: skip


def currencies(project: Project) -> list[str]:
    """The currencies that amounts of a sheet may be in: the project's own and those with a rate. Queries: 1."""
    others = (
        ExchangeRate.objects.filter(purpose="budget", project=project).values_list("currency", flat=True).distinct()
    )
    return [project.currency, *sorted(set(others) - {project.currency})]


def trade_names(project: Project) -> list[tuple[str, str]]:
    """(code, name) of the trades, the name alone. Queries: 1."""
    return list(Trade.objects.filter(project=project).values_list("code", "name"))


def trades(project: Project) -> list[tuple[str, str]]:
    """(code, name) of the trades. Queries: 1."""
    return [(trade.code, f"{trade.code} {trade.name}") for trade in Trade.objects.filter(project=project)]
