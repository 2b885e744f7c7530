"""A practitioner's own sheet brought in: its lines with their budgets, and a quote for each price beside them.

Each price is a quote of its own, since the sheet does not say which of them belong together; so each can be accepted
or declined alone. What the cells said is kept beside the line (`SheetRow`), amounts that nobody entered yet included.
"""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Max
from django.utils.translation import gettext as _

from budget.calc.sheets.book import Book, Line, Price
from budget.models import (
    Cause,
    ImportBatch,
    LineItem,
    Quote,
    QuoteItem,
    QuoteLine,
    SheetRow,
    Trade,
    Vendor,
)
from budget.services import import_rows
from budget.services.bounds import amount_within_bounds, date_within_bounds
from budget.services.import_rows import AT_ONCE
from budget.services.ledger import Deed
from projects.models import ExchangeRate, Project, User


def write(project: Project, batch: ImportBatch, seen: Book, *, by: User, now: datetime, today: date) -> None:
    """Write every line and every quote of a sheet that is ready, and let the likely finals follow.

    Writes Trade, LineItem, SheetRow, Vendor and Quote rows with their movements `quoted`.
    """
    import_rows.add_trades(project, seen.new_trades)
    by_row = _write_lines(project, batch, seen.lines)
    _write_sheet_rows(batch, seen.lines, by_row)
    if seen.prices:
        _write_prices(project, batch, seen, by_row, by=by, now=now, today=today)
        deed = Deed(by, now, today, Cause.QUOTED, _("brought in from %s") % batch.file_name, "import", batch.pk)
        import_rows.follow_quotes(project, list(dict.fromkeys(by_row[price.row] for price in seen.prices)), deed)


def _write_lines(project: Project, batch: ImportBatch, lines: Sequence[Line]) -> dict[int, int]:
    """Write the lines. Returns: {row of the sheet: number of the line}."""
    trades = {trade.code: trade for trade in Trade.objects.filter(project=project)}
    last = LineItem.objects.filter(project=project).aggregate(Max("position"))["position__max"] or 0
    LineItem.objects.bulk_create(
        [_line(project, batch, line, trades[line.trade], last + number) for number, line in enumerate(lines, start=1)],
        batch_size=AT_ONCE,
    )
    brought = LineItem.objects.filter(project=project, import_batch=batch, removed_on=None)
    by_code = dict(brought.values_list("code", "pk"))
    return {line.row: by_code[line.code] for line in lines}


def _line(project: Project, batch: ImportBatch, line: Line, trade: Trade, position: int) -> LineItem:
    budget = amount_within_bounds(line.budget_minor, project.currency, field="budget")
    return LineItem(
        project=project, trade=trade, code=line.code, description=line.description, kind=line.kind, unit=line.unit,
        quantity=line.quantity, budget_minor=budget, likely_minor=budget, import_batch=batch, position=position,
    )  # fmt: skip


def _write_sheet_rows(batch: ImportBatch, lines: Sequence[Line], by_row: Mapping[int, int]) -> None:
    SheetRow.objects.bulk_create(
        (
            SheetRow(
                batch=batch, line_id=by_row[line.row], row=line.row,
                cells=[[cell.heading, cell.given, cell.minor, cell.currency] for cell in line.kept],
            )
            for line in lines
        ),
        batch_size=AT_ONCE,
    )  # fmt: skip


def _write_prices(
    project: Project, batch: ImportBatch, seen: Book, by_row: Mapping[int, int], *, by: User, now: datetime, today: date
) -> None:
    date_within_bounds(seen.quoted_on, field="quoted_on", latest=today)
    vendors = import_rows.vendors(project, [price.vendor for price in seen.prices])
    rates = _rates(project)
    made = [_quote(project, batch, price, seen.quoted_on, vendors, rates, by, now) for price in seen.prices]
    Quote.objects.bulk_create(made, batch_size=AT_ONCE)
    lines = [by_row[price.row] for price in seen.prices]
    QuoteLine.objects.bulk_create(
        (QuoteLine(quote=quote, line_id=line) for quote, line in zip(made, lines, strict=True)), batch_size=AT_ONCE
    )
    QuoteItem.objects.bulk_create(
        (_item(quote, line, price) for quote, line, price in zip(made, lines, seen.prices, strict=True)),
        batch_size=AT_ONCE,
    )


def _rates(project: Project) -> dict[str, Decimal]:
    rates = ExchangeRate.objects.filter(purpose=ExchangeRate.Purpose.BUDGET, project=project)
    newest = dict(rates.order_by("rated_on", "pk").values_list("currency", "rate"))
    return newest | {project.currency: Decimal(1)}


def _quote(
    project: Project, batch: ImportBatch, price: Price, on: date, vendors: Mapping[str, Vendor], rates: Mapping[str, Decimal],
    by: User, now: datetime,
) -> Quote:  # fmt: skip
    return Quote(
        project=project, vendor=vendors[import_rows.key_of(price.vendor)], currency=price.currency,
        rate=rates[price.currency] if price.rate is None else price.rate, quoted_on=on, tax_inside_percent=price.tax_inside,
        basis=Quote.Basis.ESTIMATE if price.estimate else Quote.Basis.FIRM, import_batch=batch, logged_at=now, logged_by=by,
        note=_("Row %(row)d of %(file)s: “%(given)s”") % {"row": price.row, "file": batch.file_name, "given": price.note},
    )  # fmt: skip


def _item(quote: Quote, line_id: int, price: Price) -> QuoteItem:
    amount = amount_within_bounds(price.minor, price.currency, field="amount")
    return QuoteItem(quote=quote, line_id=line_id, standing=QuoteItem.Standing.PRICED, amount_quoted_minor=amount)
