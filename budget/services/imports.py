"""Bringing a sheet in: kept as a preview first, then written whole or not at all, and taken back whole.

A preview is read anew each time from the cells that were kept, so what is brought in is what the project as it stands
makes of them. Rows are written many at a time; they obey the bounds that every other way of entering them obeys.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import models, transaction
from django.db.models import Max
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from budget.calc.sheets.book import Book
from budget.calc.sheets.grid import Grid, as_plain
from budget.calc.sheets.preview import Choices, Preview
from budget.models import (
    Cause,
    ImportBatch,
    LineItem,
    Movement,
    OriginalQuote,
    Quote,
    QuoteExtra,
    QuoteItem,
    QuoteLine,
    SheetRow,
    Trade,
    Vendor,
)
from budget.selectors import imports as seen_by
from budget.services import import_books, import_invoices, import_rows, lines, quotes
from budget.services.bounds import amount_within_bounds, date_within_bounds
from budget.services.import_rows import AT_ONCE
from budget.services.ledger import Deed, lock
from projects import trail
from projects.faults import Refused
from projects.models import ExchangeRate, Project, User

State = ImportBatch.State
#: So many names are told of what rests on rows that would be taken back.
TOLD = 5


@transaction.atomic
def start(
    project: Project,
    kind: str,
    grid: Grid,
    *,
    file_name: str,
    sha256: str,
    about: Mapping[str, Any],
    by: User,
    now: datetime,
) -> ImportBatch:
    """Keep the cells of a sheet for a preview; nothing of the budget is touched and no trail is left.

    Writes ImportBatch. Raises: Refused for a kind that is not known.
    """
    if kind not in seen_by.READERS:
        raise Refused(
            _("Choose what the sheet holds: a budget with its quotes, line items, quotes or invoices."), field="kind"
        )
    content = {"grid": as_plain(grid), "choices": Choices().as_plain(), "sheet": dict(about)}
    name = "".join(sign for sign in file_name.replace("\\", "/").rsplit("/", 1)[-1] if sign.isprintable()) or _("sheet")
    return ImportBatch.objects.create(
        project=project, kind=kind, file_name=name[-160:], sha256=sha256, content=content, read_at=now, read_by=by
    )


@transaction.atomic
def choose(batch: ImportBatch, choices: Choices) -> ImportBatch:
    """Keep what was chosen about a sheet that is not brought in yet. Safe to repeat."""
    held = _held(batch, State.PREVIEWED, _("This sheet was brought in already; its choices stand."))
    held.content = {**held.content, "choices": choices.as_plain()}
    held.save(update_fields=["content"])
    return held


@transaction.atomic
def discard(batch: ImportBatch) -> None:
    """Throw a preview away. Nothing was written by it."""
    _held(batch, State.PREVIEWED, _("This sheet was brought in already; take it back instead.")).delete()


def _held(batch: ImportBatch, state: str, otherwise: str) -> ImportBatch:
    held = ImportBatch.objects.select_for_update(of=("self",)).select_related("project").get(pk=batch.pk)
    if held.state != state:
        raise Refused(otherwise)
    return held


@transaction.atomic
def bring_in(batch: ImportBatch, *, by: User, now: datetime, today: date) -> int:
    """Write every row of a preview that is not left out, or none.

    Writes Trade and LineItem rows, or Vendor, Quote and their rows with movements `quoted`, or both, or invoices with
    movements `invoiced`; the batch; a trail row.
    Returns: how many rows were brought in. Not safe to repeat: a second call is refused.
    """
    project = lock(batch.project)
    held = _held(batch, State.PREVIEWED, _("This sheet was brought in already."))
    held.project = project
    seen = seen_by.preview(held, today=today)
    _must_be_ready(seen)
    if isinstance(seen, Book):
        import_books.write(project, held, seen, by=by, now=now, today=today)
    elif held.kind == ImportBatch.Kind.LINES:
        _write_lines(project, held, seen)
    elif held.kind == ImportBatch.Kind.INVOICES:
        import_invoices.write(project, held, seen, by=by, now=now, today=today)
    else:
        _write_quotes(project, held, seen, by=by, now=now, today=today)
    held.state, held.applied_at, held.row_count = State.APPLIED, now, len(seen.places)
    held.content = {**held.content, "columns": dict(seen.columns), "out": sorted(seen.out)}
    held.save(update_fields=["state", "applied_at", "row_count", "content"])
    summary = ngettext(
        "Brought in %(rows)d row of %(kind)s from %(file)s",
        "Brought in %(rows)d rows of %(kind)s from %(file)s",
        held.row_count,
    )
    summary %= {"rows": held.row_count, "kind": held.get_kind_display(), "file": held.file_name}
    trail.note(project, by=by, at=now, verb="brought in", subject="import", subject_id=held.pk, summary=summary)
    return held.row_count


def _must_be_ready(seen: Preview | Book) -> None:
    if not seen.places:
        raise Refused(_("No row is left to bring in."))
    if isinstance(seen, Book) and seen.open:
        words = ngettext(
            "%(count)d question is open; answer it first.",
            "%(count)d questions are open; answer them first.",
            seen.open,
        )
        raise Refused(words % {"count": seen.open})
    if seen.stops:
        words = ngettext(
            "%(count)d trouble is left; mend it, or leave its row out.",
            "%(count)d troubles are left; mend them, or leave their rows out.",
            seen.stops,
        )
        raise Refused(words % {"count": seen.stops})


def _rows(read: Mapping[str, Sequence[Any]]) -> Iterable[dict[str, Any]]:
    names = list(read)
    for values in zip(*read.values(), strict=True):
        yield dict(zip(names, values, strict=True))


def _write_lines(project: Project, batch: ImportBatch, seen: Preview) -> None:
    import_rows.add_trades(project, seen.new_trades)
    trades = {trade.code: trade for trade in Trade.objects.filter(project=project)}
    last = LineItem.objects.filter(project=project).aggregate(Max("position"))["position__max"] or 0
    LineItem.objects.bulk_create(
        [
            _line(project, batch, row, trades[row["trade"]], last + number)
            for number, row in enumerate(_rows(seen.read), start=1)
        ],
        batch_size=AT_ONCE,
    )


def _line(project: Project, batch: ImportBatch, row: Mapping[str, Any], trade: Trade, position: int) -> LineItem:
    budget = amount_within_bounds(row["budget"], project.currency, field="budget")
    return LineItem(
        project=project, trade=trade, code=row["code"], description=row["description"], kind=row["kind"], unit=row["unit"],
        quantity=row["quantity"], budget_minor=budget, likely_minor=budget, import_batch=batch, position=position,
    )  # fmt: skip


def _write_quotes(project: Project, batch: ImportBatch, seen: Preview, *, by: User, now: datetime, today: date) -> None:
    vendors = import_rows.vendors(project, seen.read["vendor"])
    rates = {project.currency: Decimal(1)} | dict(
        ExchangeRate.objects.filter(purpose="budget", project=project)
        .order_by("rated_on", "pk")
        .values_list("currency", "rate")
    )
    by_code = dict(LineItem.objects.filter(project=project, removed_on=None).values_list("code", "pk"))
    rows = list(_rows(seen.read))
    heads: dict[int, Quote] = {}
    for row in rows:
        if row["quote"] not in heads:
            heads[row["quote"]] = _quote(
                project, batch, row, vendors, rates[row["currency"]], by=by, now=now, today=today
            )
    Quote.objects.bulk_create(heads.values(), batch_size=AT_ONCE)
    places = [(heads[row["quote"]], by_code[row["line"]], row) for row in rows]
    QuoteLine.objects.bulk_create(
        (QuoteLine(quote=quote, line_id=line) for quote, line, _row in places), batch_size=AT_ONCE
    )
    QuoteItem.objects.bulk_create((_item(*place) for place in places), batch_size=AT_ONCE)
    touched = list(dict.fromkeys(line for _quote, line, _row in places))
    deed = Deed(by, now, today, Cause.QUOTED, _("brought in from %s") % batch.file_name, "import", batch.pk)
    import_rows.follow_quotes(project, touched, deed)


def _quote(
    project: Project, batch: ImportBatch, row: Mapping[str, Any], vendors: Mapping[str, Vendor], rate: Decimal, *,
    by: User, now: datetime, today: date,
) -> Quote:  # fmt: skip
    date_within_bounds(row["quoted_on"], field="quoted_on", latest=today)
    date_within_bounds(row["valid_until"], field="valid_until")
    return Quote(
        project=project, vendor=vendors[import_rows.key_of(row["vendor"])], reference=row["reference"],
        currency=row["currency"], rate=rate, basis=row["basis"], quoted_on=row["quoted_on"], valid_until=row["valid_until"],
        lead_days=row["lead_days"], note=row["note"], import_batch=batch, logged_at=now, logged_by=by,
    )  # fmt: skip


def _item(quote: Quote, line_id: int, row: Mapping[str, Any]) -> QuoteItem:
    amount = amount_within_bounds(row["amount"], quote.currency, field="amount")
    return QuoteItem(quote=quote, line_id=line_id, standing=QuoteItem.Standing.PRICED, amount_quoted_minor=amount)


@transaction.atomic
def take_back(batch: ImportBatch, *, by: User, now: datetime, today: date) -> int:
    """Take everything back that a sheet brought in; nothing is deleted, movements are reversed.

    Returns: how many lines or quotes were taken back. Raises: Refused, with names, where something rests on them since.
    """
    project = lock(batch.project)
    held = _held(batch, State.APPLIED, _("There is nothing to take back: this sheet is not brought in."))
    deed = Deed(by, now, today, Cause.QUOTED, _("import of %s taken back") % held.file_name, "import", held.pk)
    count = TAKE[ImportBatch.Kind(held.kind)](project, held, deed)
    held.state, held.undone_at = State.UNDONE, now
    held.save(update_fields=["state", "undone_at"])
    trail.note(
        project, by=by, at=now, verb="took back", subject="import", subject_id=held.pk,
        summary=taken_back(held, count),
    )  # fmt: skip
    return count


def taken_back(batch: ImportBatch, count: int) -> str:
    """Say what was taken back."""
    if batch.kind == ImportBatch.Kind.WORKBOOK:
        words = ngettext(
            "Took back the import of %(file)s: %(count)d line with its quotes",
            "Took back the import of %(file)s: %(count)d lines with their quotes",
            count,
        )
    else:
        words = _("Took back the import of %(file)s: %(count)d %(kind)s")
    return words % {"file": batch.file_name, "count": count, "kind": batch.get_kind_display()}


def _take_lines(project: Project, batch: ImportBatch, deed: Deed) -> int:
    brought = list(LineItem.objects.filter(project=project, import_batch=batch, removed_on=None))
    _nothing_rests_on(
        brought, besides=(Movement, QuoteItem, QuoteExtra, SheetRow)
    )  # items stand on a quote line, which is asked
    lines.take_off(project, brought, deed=deed)
    return len(brought)


def _take_quotes(project: Project, batch: ImportBatch, deed: Deed) -> int:
    brought = list(
        Quote.objects.filter(project=project, import_batch=batch)
        .exclude(state=Quote.State.WITHDRAWN)
        .select_related("vendor")
    )
    settled = [quote for quote in brought if quote.state != Quote.State.OPEN]
    if settled:
        raise Refused(
            _("Nothing was taken back: no longer open are %s. Take those steps back first.")
            % _told(f"{quote} ({quote.get_state_display()})" for quote in settled)
        )
    _nothing_rests_on(brought, besides=(QuoteLine, QuoteItem, QuoteExtra, OriginalQuote))
    _lift_originals(brought, deed)
    quotes.take_out(project, brought, deed)
    return len(brought)


def _take_book(project: Project, batch: ImportBatch, deed: Deed) -> int:
    _take_quotes(project, batch, deed)
    return _take_lines(project, batch, deed)


TAKE = {
    ImportBatch.Kind.LINES: _take_lines,
    ImportBatch.Kind.QUOTES: _take_quotes,
    ImportBatch.Kind.WORKBOOK: _take_book,
    ImportBatch.Kind.INVOICES: import_invoices.take,
}


def _lift_originals(brought: Sequence[Quote], deed: Deed) -> None:
    """Savings are no longer measured against a quote that is taken back; levelling finds what stands in its place."""
    touched = QuoteLine.objects.filter(quote__in=brought).values_list("line_id", flat=True)
    newest = dict(OriginalQuote.objects.filter(line__in=touched).order_by("pk").values_list("line_id", "quote_id"))
    gone = {quote.pk for quote in brought}
    measured = [line for line, quote in newest.items() if quote in gone]
    LineItem.objects.filter(pk__in=measured).update(original_minor=None)
    OriginalQuote.objects.bulk_create(
        OriginalQuote(
            line_id=line, quote=None, levelled_minor=None, set_on=deed.on, set_at=deed.at, set_by=deed.by, reason=deed.note[:300]
        )
        for line in measured
    )  # fmt: skip


def _nothing_rests_on(rows: Sequence[models.Model], *, besides: tuple[type[models.Model], ...]) -> None:
    """Refuse where any row of any table points at some rows, except those that came with them.

    It asks the tables themselves, so that tables of apps above this one, and ones yet to come, are not forgotten. What
    was reversed since does not count.
    """
    if not rows:
        return
    found: list[str] = []
    for relation in type(rows[0])._meta.get_fields(include_hidden=True):
        if not (relation.one_to_many or relation.one_to_one) or relation.concrete or relation.related_model in besides:
            continue
        found += _resting(relation, rows)
    if found:
        raise Refused(
            _("Nothing was taken back: something rests on it since, namely %s. Take that back first.") % _told(found)
        )


def _resting(relation: Any, rows: Sequence[models.Model]) -> list[str]:
    table, column = relation.related_model, relation.field
    standing = table._default_manager.filter(**{f"{column.name}__in": [row.pk for row in rows]})
    if table in (QuoteLine, OriginalQuote):
        standing = standing.exclude(quote=None).exclude(quote__state__in=(Quote.State.WITHDRAWN, Quote.State.REPLACED))
    if any(field.name == "reversal" for field in table._meta.related_objects):
        standing = standing.filter(reversal=None)
    name = table._meta.verbose_name
    return [f"{name} “{row}”" for row in standing[: TOLD + 1]]


def _told(names: Iterable[str]) -> str:
    """At most five names, and that there are more."""
    listed = list(names)
    return "; ".join(listed[:TOLD]) + (" …" if len(listed) > TOLD else "")
