"""Invoices, credit notes and payments, what was seen done of the work, and where vendors are paid."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models.changes import Change
from budget.models.plan import ImportBatch, LineItem, Vendor
from projects.append_only import AppendOnly
from projects.fields import ExactField
from projects.models import Attachment, Project

USER = settings.AUTH_USER_MODEL


class Invoice(models.Model):
    """What a vendor bills, or credits; its amounts are rows of their own, its state follows its newest step.

    It counts as invoiced while it waits or is approved; a queried or refused one does not.
    """

    class Kind(models.TextChoices):
        INVOICE = "invoice", _("invoice")
        CREDIT = "credit", _("credit note")

    class State(models.TextChoices):
        WAITING = "waiting", _("waiting")
        APPROVED = "approved", _("approved")
        QUERIED = "queried", _("queried")
        REFUSED = "refused", _("refused")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="invoices")
    vendor = models.ForeignKey(Vendor, on_delete=models.PROTECT, related_name="invoices")
    number = models.CharField(max_length=60)
    #: The number without case, spacing and punctuation, so that one invoice is not two.
    number_key = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.INVOICE)
    credits = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="credit_notes")
    currency = models.CharField(max_length=3)
    #: Project units for one unit of `currency` on the day it was entered.
    rate = ExactField()
    invoiced_on = models.DateField()
    received_on = models.DateField()
    due_on = models.DateField(null=True, blank=True)
    #: The rate of tax that the invoice states; the tax itself stands on its lines.
    tax_percent = ExactField(null=True, blank=True)
    #: A fingerprint of the bank details on the invoice, and their last characters; never the details themselves.
    bank_print = models.CharField(max_length=64, blank=True)
    bank_shown = models.CharField(max_length=40, blank=True)
    note = models.TextField(max_length=2000, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    #: Kept figures in the invoice's currency: what falls to be paid (net less retention, with tax), and what was.
    payable_quoted_minor = models.BigIntegerField(default=0)
    paid_quoted_minor = models.BigIntegerField(default=0)
    #: Kept: it was approved although something did not fit, so it is looked at again until that is explained.
    flagged = models.BooleanField(default=False)
    import_batch = models.ForeignKey(ImportBatch, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["invoiced_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "vendor", "number_key"],
                condition=~models.Q(state="refused"),
                name="invoice_number_once",
            )
        ]
        indexes = [
            models.Index(fields=["project", "state", "due_on"], name="invoice_by_state"),
            models.Index(fields=["project"], condition=models.Q(flagged=True), name="invoice_flagged"),
        ]

    def __str__(self) -> str:
        return f"{self.vendor} {self.number}"


class InvoiceLine(AppendOnly):
    """What an invoice bills on one line item; a credit note's amounts are below zero.

    `cost_minor` is what counts against the agreement [project minor units]: the net amount, with the tax where the
    project does not get it back.
    """

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="lines")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="invoice_lines")
    change = models.ForeignKey(Change, null=True, blank=True, on_delete=models.PROTECT, related_name="invoice_lines")
    net_quoted_minor = models.BigIntegerField()
    tax_quoted_minor = models.BigIntegerField(default=0)
    retention_quoted_minor = models.BigIntegerField(default=0)
    net_minor = models.BigIntegerField()
    cost_minor = models.BigIntegerField()
    retention_minor = models.BigIntegerField(default=0)

    class Meta:
        indexes = [models.Index(fields=["line", "invoice", "cost_minor", "retention_minor"], name="invoiced_by_line")]

    def __str__(self) -> str:
        return f"{self.invoice} on {self.line}"


class InvoiceStep(AppendOnly):
    """One deed on an invoice, with the verdict and its reasons as they were that day."""

    class Verb(models.TextChoices):
        ENTERED = "entered", _("entered")
        QUERIED = "queried", _("queried")
        APPROVED = "approved", _("approved")
        REFUSED = "refused", _("refused")
        REOPENED = "reopened", _("taken up again")
        EXPLAINED = "explained", _("explained")

    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="steps")
    verb = models.CharField(max_length=10, choices=Verb)
    #: {"verdict", "reasons": [{"code", "severity", "figures"}]}
    judgement = models.JSONField(default=dict)
    note = models.CharField(max_length=500, blank=True)
    taken_on = models.DateField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    taken_by_name = models.CharField(max_length=160, blank=True)

    def __str__(self) -> str:
        return f"{self.invoice} {self.verb}"


class InvoiceAttachment(AppendOnly):
    invoice = models.ForeignKey(Invoice, on_delete=models.CASCADE, related_name="attachments")
    attachment = models.ForeignKey(Attachment, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.attachment)


class Payment(AppendOnly):
    """Money paid on an invoice, whole or in part; a reversal bears the opposite amounts."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="payments")
    amount_quoted_minor = models.BigIntegerField()
    rate = ExactField()
    amount_minor = models.BigIntegerField()
    #: What the rate of the day cost beside the rate of the invoice [project minor units], above zero for dearer.
    exchange_minor = models.BigIntegerField(default=0)
    paid_on = models.DateField()
    reference = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=300, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    class Meta:
        indexes = [models.Index(fields=["invoice", "amount_quoted_minor", "exchange_minor"], name="paid_by_invoice")]

    def __str__(self) -> str:
        return f"{self.invoice}: {self.amount_quoted_minor}"


class Progress(AppendOnly):
    """How much of a line's work somebody has seen done; the newest stands."""

    line = models.ForeignKey(LineItem, on_delete=models.CASCADE, related_name="progress")
    seen_percent = ExactField()
    seen_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    attachment = models.ForeignKey(Attachment, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.line}: {self.seen_percent} %"


class VendorBank(AppendOnly):
    """Where a vendor is paid, as a fingerprint and the last characters; only a confirmed one is known."""

    vendor = models.ForeignKey(Vendor, on_delete=models.CASCADE, related_name="banks")
    bank_print = models.CharField(max_length=64)
    bank_shown = models.CharField(max_length=40)
    entered_on = models.DateField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.vendor} {self.bank_shown}"


class VendorBankConfirmation(AppendOnly):
    """A second person's word that the details are the vendor's own, and how that was found out."""

    bank = models.OneToOneField(VendorBank, on_delete=models.PROTECT, related_name="confirmation")
    how = models.CharField(max_length=300)
    confirmed_on = models.DateField()
    confirmed_at = models.DateTimeField()
    confirmed_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.bank} confirmed"
