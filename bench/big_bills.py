"""Changes, 50,000 invoices and as many payments for the generated project, on the lines that are let."""

import random
from datetime import date, datetime, timedelta
from decimal import Decimal

from budget.calc.numbering import number_key
from budget.models import AgreementLine, Change, Invoice, InvoiceLine, Payment
from projects.models import Project

INVOICES, CHANGES = 50_000, 1_000
BATCH = 2_000


def write(project: Project, draw: random.Random, *, today: date, now: datetime) -> None:
    """Write the rows alone; the caller settles. Every invoice is small, so that agreements are not passed."""
    let = list(
        AgreementLine.objects.filter(agreement__project=project).select_related("agreement__quote").order_by("pk")
    )
    _changes(project, let, draw, today, now)
    share = {row.pk: row.amount_minor // (2 * INVOICES // len(let) + 1) for row in let}
    invoices, lines = [], []
    for number in range(INVOICES):
        row = let[number % len(let)]
        on = today - timedelta(days=draw.randrange(0, 300))
        net = max(100, share[row.pk] * draw.randrange(50, 150) // 100)
        retention, tax = net // 20, (net - net // 20) // 5
        payable = net - retention + tax
        invoice = Invoice(
            project=project, vendor_id=row.agreement.vendor_id, number=f"N{number:06d}", number_key=number_key(f"N{number:06d}"),
            currency=project.currency, rate=Decimal(1), invoiced_on=on, received_on=on, due_on=on + timedelta(days=30),
            tax_percent=Decimal(20), state=Invoice.State.APPROVED, payable_quoted_minor=payable, paid_quoted_minor=payable, entered_at=now,
        )  # fmt: skip
        invoices.append(invoice)
        lines.append(
            InvoiceLine(
                invoice=invoice,
                line_id=row.line_id,
                net_quoted_minor=net,
                tax_quoted_minor=tax,
                retention_quoted_minor=retention,
                net_minor=net,
                cost_minor=net,
                retention_minor=retention,
            )  # fmt: skip
        )
    Invoice.objects.bulk_create(invoices, batch_size=BATCH)
    InvoiceLine.objects.bulk_create(lines, batch_size=BATCH)
    Payment.objects.bulk_create(
        (
            Payment(
                invoice=invoice,
                amount_quoted_minor=invoice.paid_quoted_minor,
                amount_minor=invoice.paid_quoted_minor,
                rate=Decimal(1),
                paid_on=invoice.invoiced_on,
                entered_at=now,
            )  # fmt: skip
            for invoice in invoices
        ),
        batch_size=BATCH,
    )


def _changes(project: Project, let: list[AgreementLine], draw: random.Random, today: date, now: datetime) -> None:
    Change.objects.bulk_create(
        Change(
            project=project,
            line_id=let[number % len(let)].line_id,
            code=f"C{number:04d}",
            title=f"Change {number}",
            reason=draw.choice(list(Change.Reason)),
            paid_from=Change.Source.LINE,
            state=draw.choice(("proposed", "agreed", "declined")),
            amount_minor=draw.randrange(-50_000, 200_000),
            chance=Decimal("0.5"),
            raised_on=today,
            raised_at=now,
        )  # fmt: skip
        for number in range(CHANGES)
    )
