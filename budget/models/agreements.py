"""Agreements: quotes accepted, how they are paid in stages, and what has come of them to the site."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models.plan import LineItem, Vendor
from budget.models.quotes import Quote
from projects.append_only import AppendOnly
from projects.fields import ExactField
from projects.models import Attachment, Project

USER = settings.AUTH_USER_MODEL


class Agreement(AppendOnly):
    """A quote accepted, whole or in part."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="agreements")
    vendor = models.ForeignKey(Vendor, on_delete=models.PROTECT, related_name="agreements")
    quote = models.ForeignKey(Quote, on_delete=models.PROTECT, related_name="agreements")
    agreed_on = models.DateField()
    retention_percent = ExactField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.vendor} {self.agreed_on}"


class AgreementLine(AppendOnly):
    agreement = models.ForeignKey(Agreement, on_delete=models.CASCADE, related_name="lines")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="agreement_lines")
    amount_minor = models.BigIntegerField()
    amount_quoted_minor = models.BigIntegerField()
    still_to_let_minor = models.BigIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["agreement", "line"], name="agreement_line_once")]

    def __str__(self) -> str:
        return f"{self.agreement} on {self.line}"


class AgreementGap(AppendOnly):
    """Scope that the agreed price does not hold and that will have to be paid for all the same."""

    agreement_line = models.ForeignKey(AgreementLine, on_delete=models.CASCADE, related_name="gaps")
    name = models.CharField(max_length=160)
    amount_minor = models.BigIntegerField()

    def __str__(self) -> str:
        return self.name


class AgreementReversal(AppendOnly):
    agreement = models.OneToOneField(Agreement, on_delete=models.PROTECT, related_name="reversal")
    reason = models.CharField(max_length=300)
    reversed_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"reversal of {self.agreement}"


class PaymentStage(AppendOnly):
    """One stage in which an agreement is paid, such as a deposit; of several plans the one with the highest number stands."""

    class Kind(models.TextChoices):
        DEPOSIT = "deposit", _("deposit")
        STAGE = "stage", _("stage")
        DELIVERY = "delivery", _("on delivery")
        FINAL = "final", _("final")

    agreement = models.ForeignKey(Agreement, on_delete=models.CASCADE, related_name="payment_stages")
    plan = models.PositiveIntegerField(default=1)
    position = models.PositiveIntegerField(default=0)
    kind = models.CharField(max_length=8, choices=Kind)
    name = models.CharField(max_length=120)
    #: Either a share of the agreed amount or an amount in the agreement's currency.
    share_percent = ExactField(null=True, blank=True)
    amount_quoted_minor = models.BigIntegerField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["plan", "position"]
        constraints = [
            models.UniqueConstraint(fields=["agreement", "plan", "position"], name="payment_stage_once"),
            models.CheckConstraint(
                condition=models.Q(share_percent=None) ^ models.Q(amount_quoted_minor=None),
                name="stage_share_or_amount",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class RetentionStage(AppendOnly):
    """When a part of the retention falls due; without any, half at the opening and the rest a year later."""

    agreement = models.ForeignKey(Agreement, on_delete=models.CASCADE, related_name="retention_stages")
    plan = models.PositiveIntegerField(default=1)
    position = models.PositiveIntegerField(default=0)
    name = models.CharField(max_length=120)
    share_percent = ExactField()
    due_on = models.DateField(null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["plan", "position"]
        constraints = [models.UniqueConstraint(fields=["agreement", "plan", "position"], name="retention_stage_once")]

    def __str__(self) -> str:
        return self.name


class RetentionRelease(AppendOnly):
    """Retention paid out to the vendor; a reversal bears the opposite amount."""

    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="retention_releases")
    amount_quoted_minor = models.BigIntegerField()
    amount_minor = models.BigIntegerField()
    released_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    def __str__(self) -> str:
        return f"{self.agreement}: {self.amount_quoted_minor}"


class Arrival(AppendOnly):
    """Goods made elsewhere have come to the site: what was paid for them is no longer at their maker's risk."""

    agreement = models.ForeignKey(Agreement, on_delete=models.PROTECT, related_name="arrivals")
    arrived_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    attachment = models.ForeignKey(Attachment, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    def __str__(self) -> str:
        return f"{self.agreement}: {self.arrived_on}"
