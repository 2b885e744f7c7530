"""Earlier invoices that a new one looks like, found without reading everything that its vendor has ever sent.

Two numbers that are near have the same digits, and the same amount counts for some days on the same line only. The database
picks out what fits that; the rule itself, which is stricter, is held against the few that are left (ADR 0109).
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from django.db.models import QuerySet

from budget.calc import numbering
from budget.models import Invoice, InvoiceLine

#: Number, date, line, net amount [minor units of the invoice's currency].
Told = tuple[str, date, int, int]


def resemblances(invoice: Invoice, rows: Sequence[InvoiceLine]) -> tuple[numbering.LookAlike, ...]:
    """Find the standing invoices of the same vendor that a new one looks like, the likest first.

    Args:
        rows: what the new one bills.
    Queries: 2; what they give does not grow with the number of invoices.
    """
    own = [_numbered(invoice.number, invoice.invoiced_on, row.line_id, row.net_quoted_minor) for row in rows]
    found: dict[str, numbering.LookAlike] = {}
    for told in _candidates(invoice, rows):
        for mine in own:
            like = numbering.resemblance(_numbered(*told), mine)
            if like and (like.number not in found or like.same_amount):
                found[like.number] = like
    return tuple(sorted(found.values(), key=lambda like: (not like.same_amount, like.days_apart)))


def _candidates(invoice: Invoice, rows: Sequence[InvoiceLine]) -> Iterator[Told]:
    others = InvoiceLine.objects.filter(
        invoice__project_id=invoice.project_id, invoice__vendor_id=invoice.vendor_id, invoice__kind=invoice.kind
    )
    others = others.exclude(invoice__state=Invoice.State.REFUSED).exclude(invoice=invoice).order_by("-invoice_id")
    yield from _told(others.filter(invoice__number_key__regex=numbering.near_pattern(invoice.number)))
    days = timedelta(days=numbering.NEAR_DAYS)
    near = others.filter(invoice__invoiced_on__range=(invoice.invoiced_on - days, invoice.invoiced_on + days))
    lines, nets = {row.line_id for row in rows}, {row.net_quoted_minor for row in rows}
    yield from _told(near.filter(line_id__in=lines, net_quoted_minor__in=nets))


def _told(rows: QuerySet) -> Iterator[Told]:
    return iter(rows.values_list("invoice__number", "invoice__invoiced_on", "line_id", "net_quoted_minor"))


def _numbered(number: str, on: date, line: int, net: int) -> numbering.Numbered:
    return numbering.Numbered("", number, str(line), net, on)
