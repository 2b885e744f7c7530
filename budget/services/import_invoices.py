"""Invoices that a sheet brings in, and taking them back; each obeys the rules of one that is entered by hand."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from django.utils.translation import gettext as _

from budget.calc.sheets.preview import Preview
from budget.models import Cause, Change, ImportBatch, Invoice, LineItem, Payment
from budget.selectors import proposals
from budget.selectors.proposals import Typed
from budget.services import invoices
from budget.services.invoice_rules import InvoiceDraft
from budget.services.ledger import Deed, settle
from projects.faults import Refused
from projects.models import Project, User

#: So many lines are settled, and so many names are told, at a time.
LINES_AT_ONCE, TOLD = 500, 5
Row = Mapping[str, Any]


def write(project: Project, batch: ImportBatch, seen: Preview, *, by: User, now: datetime, today: date) -> None:
    """Enter every invoice of a preview in the order of the sheet, and settle their lines once.

    Writes what `invoices.enter_invoice` writes, but one trail row for all, which is the batch's.
    """
    lines = dict(LineItem.objects.filter(project=project, removed_on=None).values_list("code", "pk"))
    changes = dict(Change.objects.filter(project=project).values_list("code", "pk"))
    touched: dict[int, None] = {}
    for rows in _by_invoice(seen):
        typed = [
            Typed(lines[row["line"]], row["amount"], row["retention"], changes.get(row["change"] or "")) for row in rows
        ]
        draft = _draft(project, rows, typed)
        invoices.write_invoice(project, draft, by=by, now=now, today=today, batch=batch)
        touched |= dict.fromkeys(row.line_id for row in typed)
    _settle(project, list(touched), Deed(by, now, today, Cause.INVOICED, _told_of(batch), "import", batch.pk))


def _told_of(batch: ImportBatch) -> str:
    return _("brought in from %s") % batch.file_name


def _by_invoice(seen: Preview) -> Iterable[list[Row]]:
    names = list(seen.read)
    found: dict[int, list[Row]] = {}
    for values in zip(*seen.read.values(), strict=True):
        row = dict(zip(names, values, strict=True))
        found.setdefault(row["invoice"], []).append(row)
    return found.values()


def _draft(project: Project, rows: Sequence[Row], typed: Sequence[Typed]) -> InvoiceDraft:
    """The invoice of some rows; tax that no row states follows from the project's rate, as the form would fill it in."""
    head = rows[0]
    stated = [row["tax"] for row in rows if row["tax"] is not None]
    percent = project.tax_percent if head["currency"] == project.currency else None
    lines = proposals.fill_in(
        project, head["vendor"], typed, tax_minor=sum(stated) if stated else None, tax_percent=percent
    )
    return InvoiceDraft(
        vendor=head["vendor"], number=head["number"], currency=head["currency"], invoiced_on=head["invoiced_on"],
        due_on=head["due_on"], note=head["note"], lines=lines,
    )  # fmt: skip


def _settle(project: Project, line_ids: Sequence[int], deed: Deed) -> None:
    for first in range(0, len(line_ids), LINES_AT_ONCE):
        settle(project, line_ids[first : first + LINES_AT_ONCE], deed)


def take(project: Project, batch: ImportBatch, deed: Deed) -> int:
    """Refuse every invoice that a sheet brought in; their numbers are free again.

    Returns: how many. Raises: Refused, with names, where somebody has done something about one since.
    """
    brought = list(
        Invoice.objects.filter(project=project, import_batch=batch)
        .exclude(state=Invoice.State.REFUSED)
        .select_related("vendor")
        .prefetch_related("steps", "credit_notes")
    )
    paid = set(Payment.objects.filter(invoice__in=brought).values_list("invoice_id", flat=True))
    worked_on = [one for one in brought if one.pk in paid or len(one.steps.all()) > 1 or one.credit_notes.all()]
    if worked_on:
        names = "; ".join(map(str, worked_on[:TOLD])) + (" …" if len(worked_on) > TOLD else "")
        raise Refused(_("Nothing was taken back: something was done about %s since.") % names)
    touched: dict[int, None] = {}
    for invoice in brought:
        invoices.write_refusal(invoice, deed)
        touched |= dict.fromkeys(invoices.lines_of(invoice))
    _settle(project, list(touched), Deed(deed.by, deed.at, deed.on, Cause.INVOICED, deed.note, "import", batch.pk))
    return len(brought)
