"""Quotes: what vendors ask, and the quote that later savings are measured against."""

from datetime import date

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models.plan import ImportBatch, LineItem, ScopeItem, Vendor
from projects.append_only import AppendOnly
from projects.fields import ExactField
from projects.models import Attachment, Project

USER = settings.AUTH_USER_MODEL


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
