"""The ledger: the movements of the likely finals, and budget moved between lines."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models.changes import Change
from budget.models.plan import LineItem
from projects.append_only import AppendOnly
from projects.models import Project

USER = settings.AUTH_USER_MODEL


class Cause(models.TextChoices):
    QUOTED = "quoted", _("quotes came in")
    DECISION = "decision", _("decisions")
    CHANGE = "change", _("changes")
    INVOICED = "invoiced", _("invoices")
    REFORECAST = "re-forecast", _("re-forecasts")
    SCOPE = "scope", _("scope")
    CURRENCY = "currency", _("currency")
    TRANSFER = "transfer", _("transfers")


class Movement(AppendOnly):
    """One signed step of a line's likely final, with its cause; never edited, only reversed."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="movements")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="movements")
    cause = models.CharField(max_length=12, choices=Cause)
    amount_minor = models.BigIntegerField()
    occurred_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    note = models.CharField(max_length=300, blank=True)
    #: What it came from: "quote", "agreement", "decision record", … and its id; the tie itself lies in the higher app.
    source = models.CharField(max_length=20, blank=True)
    source_id = models.BigIntegerField(null=True, blank=True)
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    class Meta:
        indexes = [
            models.Index(fields=["project", "cause", "line", "amount_minor"], name="movement_by_cause"),
            models.Index(fields=["source", "source_id"], name="movement_source"),
        ]
        constraints = [models.CheckConstraint(condition=~models.Q(amount_minor=0), name="movement_moves")]

    def __str__(self) -> str:
        return f"{self.cause} {self.amount_minor}"


class Transfer(AppendOnly):
    """Budget moved from one line to another; the total of the budgets stays. A reversal runs the other way."""

    class Cause(models.TextChoices):
        DRAW = "draw", _("drawn for a change")
        RETURN = "return", _("given back when its line was closed")
        SHIFT = "shift", _("moved between lines")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="transfers")
    from_line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="transfers_out")
    to_line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="transfers_in")
    amount_minor = models.BigIntegerField()
    cause = models.CharField(max_length=8, choices=Cause)
    change = models.ForeignKey(Change, null=True, blank=True, on_delete=models.PROTECT, related_name="transfers")
    #: What money is needed for that leaves a contingency; empty for any other move.
    need = models.CharField(max_length=12, choices=Change.Reason, blank=True)
    reason = models.CharField(max_length=300)
    moved_on = models.DateField()
    approved_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    approved_by_name = models.CharField(max_length=160)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(amount_minor__gt=0), name="transfer_above_zero"),
            models.CheckConstraint(condition=~models.Q(from_line=models.F("to_line")), name="transfer_elsewhere"),
            models.CheckConstraint(condition=~models.Q(need="owner's wish"), name="transfer_never_for_a_wish"),
        ]

    def __str__(self) -> str:
        return f"{self.from_line} to {self.to_line}: {self.amount_minor}"
