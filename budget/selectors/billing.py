"""What was billed on lines, what is held back of it, and what exchange rates have made of agreements."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Q, QuerySet, Sum

from budget.calc.currencies import Billed, Foreign, movement_minor
from budget.models import AgreementLine, Invoice, InvoiceLine, Payment
from projects.models import ExchangeRate, Project
from units.sharing import share_out

#: An invoice counts as invoiced while it waits or is approved.
COUNTED = (Invoice.State.WAITING, Invoice.State.APPROVED)


@dataclass(frozen=True, slots=True)
class Billing:
    """By line [project minor units]: what counts as invoiced, and the movement from currency."""

    invoiced: dict[int, int]
    currency: dict[int, int]


def billed(project: Project, line_ids: Collection[int] | None = None) -> Billing:
    """Read what was billed on some lines, or on all of them.

    Queried and refused invoices are left out. Queries: 3, and up to 4 more where something is let in another currency.
    """
    invoiced: dict[int, int] = defaultdict(int, _sums(project, line_ids, "cost_minor"))
    exchange = exchange_of_payments(project, line_ids)
    for (line, _invoice), amount in exchange.items():
        invoiced[line] += amount
    currency = {
        line: sum(movement_minor(agreed, currency=project.currency) for agreed in found)
        for line, found in foreign(project, line_ids, exchange).items()
    }
    return Billing(dict(invoiced), currency)


def withheld(project: Project, line_ids: Collection[int] | None = None) -> dict[int, int]:
    """Read the retention withheld on lines, before what was released of it [project minor units]. Queries: 1."""
    return _sums(project, line_ids, "retention_minor")


def _sums(project: Project, line_ids: Collection[int] | None, column: str) -> dict[int, int]:
    counted = _of(InvoiceLine.objects.filter(invoice__state__in=COUNTED), line_ids)
    if line_ids is None:
        counted = counted.filter(invoice__project=project)
    return dict(counted.values_list("line_id").annotate(total=Sum(column)).order_by())


def _of(rows: QuerySet, line_ids: Collection[int] | None) -> QuerySet:
    return rows if line_ids is None else rows.filter(line_id__in=line_ids)


def exchange_of_payments(project: Project, line_ids: Collection[int] | None = None) -> dict[tuple[int, int], int]:
    """What the rates of payments have added, shared out over the lines of their invoices.

    Returns: {(line, invoice): amount [project minor units]}. Queries: 1, and 1 more where rates moved anything.
    """
    paid = Payment.objects.filter(invoice__state__in=COUNTED).exclude(exchange_minor=0)
    if line_ids is None:
        paid = paid.filter(invoice__project=project)
    else:
        # Told the project too, SQLite would go through every invoice of it.
        paid = paid.filter(invoice__in=InvoiceLine.objects.filter(line_id__in=line_ids).values("invoice_id"))
    by_invoice: dict[int, int] = defaultdict(int)
    for invoice, amount in paid.values_list("invoice_id", "exchange_minor"):
        by_invoice[invoice] += amount
    lines: dict[int, list[tuple[int, int]]] = defaultdict(list)
    if by_invoice:
        rows = InvoiceLine.objects.filter(invoice_id__in=by_invoice).order_by("pk")
        for invoice, line, cost in rows.values_list("invoice_id", "line_id", "cost_minor"):
            lines[invoice].append((line, abs(cost)))
    wanted = None if line_ids is None else set(line_ids)
    found: dict[tuple[int, int], int] = defaultdict(int)
    for invoice, parts in lines.items():
        for (line, _cost), amount in zip(parts, _shared(by_invoice[invoice], parts), strict=True):
            if wanted is None or line in wanted:
                found[line, invoice] += amount
    return found


def _shared(amount: int, parts: list[tuple[int, int]]) -> Iterable[int]:
    weights = [cost for _line, cost in parts]
    return share_out(amount, weights if any(weights) else [1] * len(weights))


def foreign(
    project: Project, line_ids: Collection[int] | None = None, exchange: dict[tuple[int, int], int] | None = None
) -> dict[int, list[Foreign]]:
    """Read the standing agreements in another currency, by line, with what was billed of them. Queries: 1 to 4."""
    standing = AgreementLine.objects.filter(agreement__project=project, agreement__reversal=None)
    rows = _of(standing.exclude(agreement__quote__currency=project.currency), line_ids).order_by("pk")
    agreed = list(
        rows.values_list(
            "line_id", "agreement__vendor_id", "agreement__quote__currency", "amount_quoted_minor", "agreement__quote__rate"
        )
    )  # fmt: skip
    if not agreed:
        return {}
    exchange = exchange_of_payments(project, line_ids) if exchange is None else exchange
    parts = _billed_parts(project, {row[0] for row in agreed}, exchange)
    today = rates_of_today(project)
    found: dict[int, list[Foreign]] = defaultdict(list)
    for line, vendor, currency, amount, rate in agreed:
        billed_parts = parts.pop((line, vendor, currency), [])  # two agreements of one vendor: billed on the first
        found[line].append(Foreign(currency, amount, rate, today.get(currency, rate), tuple(billed_parts)))
    return found


def _billed_parts(
    project: Project, line_ids: Collection[int], exchange: dict[tuple[int, int], int]
) -> dict[tuple[int, int, str], list[Billed]]:
    """What was billed of agreed amounts; what was billed for a change is priced by the change."""
    rows = InvoiceLine.objects.filter(
        ~Q(invoice__currency=project.currency), invoice__project=project, invoice__state__in=COUNTED, line_id__in=line_ids, change=None,
    ).order_by("pk")  # fmt: skip
    found: dict[tuple[int, int, str], list[Billed]] = defaultdict(list)
    for line, invoice, vendor, currency, quoted, cost in rows.values_list(
        "line_id", "invoice_id", "invoice__vendor_id", "invoice__currency", "net_quoted_minor", "net_minor"
    ):
        found[line, vendor, currency].append(Billed(quoted, cost + exchange.get((line, invoice), 0)))
    return found


def rates_of_today(project: Project) -> dict[str, Decimal]:
    """Today's rates, the newest of each currency. Queries: 1."""
    rows = ExchangeRate.objects.filter(project=project, purpose=ExchangeRate.Purpose.TODAY).order_by("rated_on", "pk")
    return dict(rows.values_list("currency", "rate"))
