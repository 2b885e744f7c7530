"""What may still happen, and the money to pay for it: risks and funding."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models.changes import Change
from budget.models.plan import LineItem
from projects.append_only import AppendOnly
from projects.fields import ExactField
from projects.models import Project

USER = settings.AUTH_USER_MODEL


class Risk(models.Model):
    """Something that may happen, what it would cost, and who watches it."""

    class State(models.TextChoices):
        OPEN = "open", _("open")
        HAPPENED = "happened", _("happened")
        CLOSED = "closed", _("closed")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="risks")
    line = models.ForeignKey(LineItem, null=True, blank=True, on_delete=models.PROTECT, related_name="risks")
    code = models.CharField(max_length=12)
    what = models.CharField(max_length=200)
    chance = ExactField()
    cost_minor = models.BigIntegerField(default=0)
    days = models.PositiveIntegerField(default=0)
    owner = models.CharField(max_length=120, blank=True)
    response = models.CharField(max_length=300, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)
    #: The change that it became when it happened.
    change = models.ForeignKey(Change, null=True, blank=True, on_delete=models.PROTECT, related_name="risks")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["code", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["project", "code"], name="risk_code_once"),
            models.CheckConstraint(condition=models.Q(cost_minor__gte=0), name="risk_costs"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.what}"


class FundingSource(models.Model):
    """Money promised to the project, such as shares, a grant or a loan."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="funding")
    name = models.CharField(max_length=120)
    amount_minor = models.BigIntegerField()
    note = models.CharField(max_length=300, blank=True)
    position = models.PositiveIntegerField(default=0)
    removed_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.CheckConstraint(condition=models.Q(amount_minor__gte=0), name="funding_not_negative")]

    def __str__(self) -> str:
        return self.name


class FundingReceipt(AppendOnly):
    """Money that came in from a source; a reversal bears the opposite amount."""

    source = models.ForeignKey(FundingSource, on_delete=models.PROTECT, related_name="receipts")
    amount_minor = models.BigIntegerField()
    received_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    def __str__(self) -> str:
        return f"{self.source}: {self.amount_minor}"
