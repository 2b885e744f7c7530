"""Paying invoices, whole or in part, and taking a payment back that was entered by a slip."""

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import Cause, Invoice, Payment
from budget.selectors import verdicts
from budget.services.bounds import amount_within_bounds, columns_within_bounds, date_within_bounds
from budget.services.invoices import lines_of
from budget.services.ledger import Deed, lock, settle
from budget.services.rates import rate_of
from projects import display, trail
from projects.faults import Refused
from projects.models import Project, User
from units import money


@transaction.atomic
def pay(
    invoice: Invoice,
    *,
    amount_quoted_minor: int | None = None,
    paid_on: date,
    rate: Decimal | None = None,
    reference: str = "",
    note: str = "",
    by: User | None,
    now: datetime,
    today: date,
) -> Payment:
    """Write that an approved invoice was paid, whole or in part.

    Args:
        amount_quoted_minor: [minor units of the invoice's currency], of a credit note below zero; None for all that is open.
        rate: project units for one unit of its currency on the day; None for today's rate, else the invoice's.
    Writes Payment, the invoice's paid figure, movements `currency` where the rate differs, and a trail row. Paying more
    than is open is refused, and so is paying to bank details that nobody has confirmed. Not safe to repeat in part.
    """
    project = lock(invoice.project)
    invoice = Invoice.objects.select_related("vendor").select_for_update(of=("self",)).get(pk=invoice.pk)
    amount = _checked(project, invoice, amount_quoted_minor)
    date_within_bounds(paid_on, field="paid_on", latest=today)
    used = rate_of(project, invoice.currency, rate, otherwise=invoice.rate)
    paid, billed = (_converted(project, invoice, amount, one) for one in (used, invoice.rate))
    row = Payment(
        invoice=invoice, amount_quoted_minor=amount, rate=used, amount_minor=paid, exchange_minor=paid - billed, paid_on=paid_on,
        reference=reference.strip(), note=note.strip(), entered_at=now, entered_by=by,
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    _keep(project, invoice, amount, Deed(by, now, today, Cause.CURRENCY, str(invoice), "payment", row.pk))
    trail.note(
        project, by=by, at=now, verb="paid", subject="payment", subject_id=row.pk, details={"invoice": invoice.pk},
        summary=_("Paid %(amount)s on %(number)s of %(vendor)s")
        % {"amount": _text(project, invoice, amount), "number": invoice.number, "vendor": invoice.vendor},
    )  # fmt: skip
    return row


def _checked(project: Project, invoice: Invoice, amount: int | None) -> int:
    """The amount to be paid [minor units of the invoice's currency]."""
    if invoice.state != Invoice.State.APPROVED:
        raise Refused(
            _("Only an approved invoice is paid; this one is %(state)s.") % {"state": invoice.get_state_display()}
        )
    if invoice.bank_print and not verdicts.bank_is_known(invoice):
        raise Refused(
            _(
                "Nobody has confirmed the bank details on it. Ring the vendor on a number you knew before; a second person confirms them."
            )
        )
    left = open_minor(invoice)
    if not left:
        raise Refused(_("It is paid in full."))
    amount = left if amount is None else amount
    if amount == 0 or (amount < 0) != (left < 0) or abs(amount) > abs(left):
        raise Refused(
            _("At most %(open)s is open on it.") % {"open": _text(project, invoice, abs(left))}, field="amount"
        )
    return amount


def open_minor(invoice: Invoice) -> int:
    """What is still to be paid on an invoice [minor units of its currency]; of a credit note below zero."""
    return invoice.payable_quoted_minor - invoice.paid_quoted_minor


def _converted(project: Project, invoice: Invoice, amount: int, rate: Decimal) -> int:
    found = money.convert(amount, from_currency=invoice.currency, to_currency=project.currency, rate=rate)
    return amount_within_bounds(found, project.currency, field="amount", negative=True)


def _keep(project: Project, invoice: Invoice, amount: int, deed: Deed) -> None:
    invoice.paid_quoted_minor += amount
    invoice.version += 1
    invoice.save(update_fields=["paid_quoted_minor", "version"])
    settle(project, lines_of(invoice), deed)


def _text(project: Project, invoice: Invoice, amount: int) -> str:
    return display.money(amount, display.InCurrency(invoice.currency, project.locale), brief=True)


@transaction.atomic
def take_back(payment: Payment, reason: str, *, by: User | None, now: datetime, today: date) -> Payment:
    """Take a payment back that was not made, or not like that.

    Writes a Payment of the opposite amounts that names it, the invoice's paid figure, movements `currency` and a trail
    row. A second call is refused.
    """
    project = lock(payment.invoice.project)
    invoice = Invoice.objects.select_related("vendor").select_for_update(of=("self",)).get(pk=payment.invoice_id)
    if payment.reverses_id is not None or Payment.objects.filter(reverses=payment).exists():
        raise Refused(_("This payment was taken back already."))
    if not reason.strip():
        raise Refused(_("Say why the payment is taken back."), field="reason")
    row = Payment(
        invoice=invoice, amount_quoted_minor=-payment.amount_quoted_minor, rate=payment.rate, amount_minor=-payment.amount_minor,
        exchange_minor=-payment.exchange_minor, paid_on=today, reference=payment.reference, note=reason.strip(), entered_at=now,
        entered_by=by, reverses=payment,
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    amount = row.amount_quoted_minor
    _keep(project, invoice, amount, Deed(by, now, today, Cause.CURRENCY, reason, "payment", row.pk))
    trail.note(
        project, by=by, at=now, verb="took back", subject="payment", subject_id=row.pk, details={"invoice": invoice.pk},
        summary=_("Took back a payment of %(amount)s on %(number)s of %(vendor)s: %(reason)s")
        % {
            "amount": _text(project, invoice, -amount), "number": invoice.number, "vendor": invoice.vendor,
            "reason": reason.strip(),
        },
    )  # fmt: skip
    return row
