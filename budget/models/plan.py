"""The plan of the money: trades, line items, vendors, scope, and what is reckoned before and beside quotes."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from projects.append_only import AppendOnly
from projects.fields import ExactField
from projects.models import Project

USER = settings.AUTH_USER_MODEL


class Trade(models.Model):
    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="trades")
    code = models.CharField(max_length=12)
    name = models.CharField(max_length=120)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["position", "code"]
        constraints = [models.UniqueConstraint(fields=["project", "code"], name="trade_code_once")]

    def __str__(self) -> str:
        return self.name


class Vendor(models.Model):
    """Whoever quotes and invoices; `key` is the name without case and spacing, so that one vendor is not two."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="vendors")
    name = models.CharField(max_length=160)
    key = models.CharField(max_length=160)
    contact = models.CharField(max_length=300, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["project", "key"], name="vendor_once")]

    def __str__(self) -> str:
        return self.name


class ImportBatch(models.Model):
    """One file read in: previewed, then brought in whole, and, if asked for, taken back whole."""

    class Kind(models.TextChoices):
        LINES = "lines", _("line items")
        QUOTES = "quotes", _("quotes")
        INVOICES = "invoices", _("invoices")
        WORKBOOK = "workbook", _("a budget with its quotes")

    class State(models.TextChoices):
        PREVIEWED = "previewed", _("previewed")
        APPLIED = "applied", _("brought in")
        UNDONE = "undone", _("taken back")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="imports")
    kind = models.CharField(max_length=8, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.PREVIEWED)
    file_name = models.CharField(max_length=160)
    sha256 = models.CharField(max_length=64)
    #: {"grid", "choices", "sheet", "columns", "out"}: what was in the file, and how the reader chose to read it.
    content = models.JSONField(default=dict)
    row_count = models.PositiveIntegerField(default=0)
    read_at = models.DateTimeField()
    read_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    applied_at = models.DateTimeField(null=True, blank=True)
    undone_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.file_name


class LineState(models.TextChoices):
    UNQUOTED = "unquoted", _("unquoted")
    QUOTED = "quoted", _("quoted")
    AGREED = "agreed", _("agreed")
    INVOICED = "invoiced", _("invoiced")
    CLOSED = "closed", _("closed")
    OWN_FORECAST = "own forecast", _("own forecast")


class LineItem(models.Model):
    """A piece of the budget, in one trade, with its first budget amount and three later figures."""

    class Kind(models.TextChoices):
        WORK = "work", _("work")
        ALLOWANCE = "allowance", _("allowance")
        CONTINGENCY = "contingency", _("contingency")

    class PlugRule(models.TextChoices):
        MEDIAN = "median", _("the middle of the other quotes")
        HIGHEST = "highest", _("the highest of the other quotes")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="lines")
    trade = models.ForeignKey(Trade, on_delete=models.PROTECT, related_name="lines")
    code = models.CharField(max_length=20)
    description = models.CharField(max_length=200)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.WORK)
    unit = models.CharField(max_length=20, blank=True)
    quantity = ExactField(null=True, blank=True)
    plug_rule = models.CharField(max_length=8, choices=PlugRule, default=PlugRule.MEDIAN)
    budget_minor = models.BigIntegerField(default=0)
    # Kept figures; see the module's note.
    original_minor = models.BigIntegerField(null=True, blank=True)
    agreed_minor = models.BigIntegerField(null=True, blank=True)
    likely_minor = models.BigIntegerField(default=0)
    changes_minor = models.BigIntegerField(default=0)
    invoiced_minor = models.BigIntegerField(default=0)
    retention_minor = models.BigIntegerField(default=0)
    moved_minor = models.BigIntegerField(default=0)
    currency_minor = models.BigIntegerField(default=0)
    state = models.CharField(max_length=12, choices=LineState, default=LineState.UNQUOTED)
    closed_on = models.DateField(null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    import_batch = models.ForeignKey(ImportBatch, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    position = models.PositiveIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["position", "code"]
        constraints = [
            models.UniqueConstraint(fields=["project", "code"], name="line_code_once"),
            models.CheckConstraint(condition=models.Q(budget_minor__gte=0), name="budget_not_negative"),
        ]
        indexes = [
            models.Index(
                fields=[
                    "project",
                    "removed_on",
                    "trade",
                    "kind",
                    "budget_minor",
                    "original_minor",
                    "agreed_minor",
                    "likely_minor",
                    "changes_minor",
                    "invoiced_minor",
                ],
                name="line_all_figures",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.description}"


class ScopeItem(models.Model):
    """One entry of a package's scope list, with the project's own plug where somebody has priced the gap."""

    line = models.ForeignKey(LineItem, on_delete=models.CASCADE, related_name="scope")
    name = models.CharField(max_length=160)
    plug_minor = models.BigIntegerField(null=True, blank=True)
    position = models.PositiveIntegerField(default=0)
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["line", "name"], name="scope_item_once")]

    def __str__(self) -> str:
        return self.name


class Estimate(AppendOnly):
    """What somebody reckons a line to cost before a quote; the newest that is not reversed stands."""

    line = models.ForeignKey(LineItem, on_delete=models.CASCADE, related_name="estimates")
    amount_minor = models.BigIntegerField()
    estimated_on = models.DateField()
    basis = models.CharField(max_length=300, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    def __str__(self) -> str:
        return f"{self.line}: {self.amount_minor}"


class OwnForecast(AppendOnly):
    """The lead's own figure for a line, with the reason; an empty amount lifts it."""

    line = models.ForeignKey(LineItem, on_delete=models.CASCADE, related_name="own_forecasts")
    amount_minor = models.BigIntegerField(null=True)
    reason = models.CharField(max_length=300)
    entered_on = models.DateField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.line}: {self.amount_minor}"


class KnockOn(AppendOnly):
    """What a decision taken elsewhere costs or spares a line, until a price of the line holds it."""

    line = models.ForeignKey(LineItem, on_delete=models.CASCADE, related_name="knock_ons")
    amount_minor = models.BigIntegerField()
    reason = models.CharField(max_length=300)
    entered_on = models.DateField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    def __str__(self) -> str:
        return f"{self.line}: {self.amount_minor}"


class SheetRow(AppendOnly):
    """What a row of a sheet said about the line it became: each cell in its own words, beside what was read.

    `cells` is a list of [heading, as given, minor units or None, currency]; amounts that nobody has entered yet, such as
    what was paid so far, are kept here and count nowhere.
    """

    line = models.ForeignKey(LineItem, on_delete=models.CASCADE, related_name="sheet_rows")
    batch = models.ForeignKey(ImportBatch, on_delete=models.CASCADE, related_name="sheet_rows")
    row = models.PositiveIntegerField()
    cells = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"{self.batch}: row {self.row}"
