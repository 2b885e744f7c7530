"""The budget: trades, line items, vendors, quotes, agreements, and the ledger of movements.

Every amount is a whole number of minor units of the project's currency, unless the name says that it is in the
currency of a quote (`_quoted_minor`). Rows that record a deed are append-only. The few figures kept beside their
sources for speed (`LineItem.likely_minor` and its neighbours, `QuoteLine.levelled_minor`) are written by
`budget.services.ledger` alone and can be proved again at any time by `manage.py reconcile`.
"""

from datetime import date

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from projects.append_only import AppendOnly
from projects.fields import ExactField
from projects.models import Attachment, Project

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
                ],
                name="line_figures",
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


class Quote(models.Model):
    """A vendor's price on a date; what was given is never edited, a correction is a quote that replaces it."""

    class Basis(models.TextChoices):
        FIRM = "firm", _("firm price")
        ESTIMATE = "estimate", _("estimate")
        RATES = "rates", _("rates only")

    class State(models.TextChoices):
        OPEN = "open", _("open")
        ACCEPTED = "accepted", _("accepted")
        DECLINED = "declined", _("declined")
        WITHDRAWN = "withdrawn", _("withdrawn")
        REPLACED = "replaced", _("replaced")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="quotes")
    vendor = models.ForeignKey(Vendor, on_delete=models.PROTECT, related_name="quotes")
    reference = models.CharField(max_length=60, blank=True)
    currency = models.CharField(max_length=3)
    rate = ExactField()
    basis = models.CharField(max_length=10, choices=Basis, default=Basis.FIRM)
    quoted_on = models.DateField()
    valid_until = models.DateField(null=True, blank=True)
    lead_days = models.PositiveIntegerField(null=True, blank=True)
    discount_quoted_minor = models.BigIntegerField(default=0)
    discount_percent = ExactField(null=True, blank=True)
    freight_quoted_minor = models.BigIntegerField(default=0)
    tax_percent = ExactField(null=True, blank=True)
    tax_inside_percent = ExactField(null=True, blank=True)
    deposit_percent = ExactField(null=True, blank=True)
    payment_terms = models.CharField(max_length=200, blank=True)
    delivery_terms = models.CharField(max_length=100, blank=True)
    method = models.CharField(max_length=200, blank=True)
    note = models.TextField(max_length=2000, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    replaces = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by")
    import_batch = models.ForeignKey(ImportBatch, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    logged_at = models.DateTimeField()
    logged_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["quoted_on", "pk"]
        indexes = [models.Index(fields=["project", "state", "valid_until"], name="quote_running_out")]

    def __str__(self) -> str:
        return f"{self.vendor} {self.quoted_on}"

    def expired(self, today: date) -> bool:
        return self.valid_until is not None and self.valid_until < today


class QuoteLine(models.Model):
    """A quote on one line item, with its kept comparable figures [project minor units]."""

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="lines")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="quote_lines")
    preferred = models.BooleanField(default=False)
    #: As given, at the quote's rate; then what the vendor bills; then made comparable.
    given_minor = models.BigIntegerField(default=0)
    net_minor = models.BigIntegerField(default=0)
    levelled_minor = models.BigIntegerField(default=0)
    complete = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["quote", "line"], name="quote_line_once")]

    def __str__(self) -> str:
        return f"{self.quote} on {self.line}"


class QuoteItem(AppendOnly):
    """One price or statement of a quote: the line as a whole (`scope_item` empty) or an entry of its scope list."""

    class Standing(models.TextChoices):
        PRICED = "priced", _("priced")
        INCLUDED = "included", _("included")
        OUT = "out", _("excluded")
        UNCLEAR = "unclear", _("unclear")
        BY_OWNER = "by owner", _("by owner")

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="items")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="+")
    scope_item = models.ForeignKey(
        ScopeItem, null=True, blank=True, on_delete=models.PROTECT, related_name="quote_items"
    )
    standing = models.CharField(max_length=8, choices=Standing)
    amount_quoted_minor = models.BigIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["quote", "line", "scope_item"], name="quote_item_once"),
            models.UniqueConstraint(
                fields=["quote", "line"], condition=models.Q(scope_item=None), name="quote_item_whole_once"
            ),
            models.CheckConstraint(
                condition=models.Q(standing="priced", amount_quoted_minor__gte=0)
                | (~models.Q(standing="priced") & models.Q(amount_quoted_minor=None)),
                name="priced_items_bear_an_amount",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.quote} · {self.scope_item or self.line}"


class QuoteExtra(AppendOnly):
    """A cost or credit beside a quote that its vendor does not bill [project minor units], such as duty."""

    class Kind(models.TextChoices):
        FREIGHT = "freight", _("freight")
        DUTY = "duty", _("duty")
        CUSTOMS = "customs", _("customs and broker")
        INSURANCE = "insurance", _("insurance")
        ATTENDANCE = "attendance", _("attendance by the owner")
        MISSING = "missing", _("missing scope")
        CREDIT = "credit", _("credit on another line")
        OTHER = "other", _("other")

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="extras")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=Kind)
    name = models.CharField(max_length=160)
    amount_minor = models.BigIntegerField()

    def __str__(self) -> str:
        return self.name


class QuoteRenewal(AppendOnly):
    """A vendor's word that a quote still holds, until a later date than before; `Quote.valid_until` follows it."""

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="renewals")
    valid_until = models.DateField()
    was_until = models.DateField(null=True)
    confirmed_on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.quote} until {self.valid_until}"


class QuoteAttachment(AppendOnly):
    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="attachments")
    attachment = models.ForeignKey(Attachment, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.attachment)


class OriginalQuote(AppendOnly):
    """The quote that a line's later savings are measured against; the newest row stands."""

    line = models.ForeignKey(LineItem, on_delete=models.CASCADE, related_name="originals")
    quote = models.ForeignKey(Quote, null=True, on_delete=models.PROTECT, related_name="+")
    levelled_minor = models.BigIntegerField(null=True)
    set_on = models.DateField()
    set_at = models.DateTimeField()
    set_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    reason = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"{self.line}: {self.quote}"


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


class Cause(models.TextChoices):
    QUOTED = "quoted", _("quotes came in")
    DECISION = "decision", _("decisions")
    CHANGE = "change", _("changes")
    INVOICED = "invoiced", _("invoices")
    REFORECAST = "re-forecast", _("re-forecasts")
    SCOPE = "scope", _("scope")


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
