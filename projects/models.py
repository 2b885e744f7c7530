"""Who is on the build, what they may do, and the trail of what they did."""

from django.conf import settings
from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _

from projects.append_only import AppendOnly
from projects.fields import ExactField


class User(AbstractUser):
    """An account of Django's own, kept ours so that it can grow."""

    @property
    def called(self) -> str:
        return self.get_full_name() or self.username


class Role(models.TextChoices):
    LEAD = "lead", _("lead")
    OWNER = "owner", _("owner")
    BOOKKEEPER = "bookkeeper", _("bookkeeper")
    VIEWER = "viewer", _("viewer")


class Units(models.TextChoices):
    METRIC = "metric", _("metric (metres, millimetres)")
    US = "us", _("US customary (feet, inches)")


class Project(models.Model):
    """One build: one currency of account, one unit system, one opening date."""

    slug = models.SlugField(max_length=60, unique=True)
    name = models.CharField(max_length=120)
    about = models.TextField(blank=True, max_length=2000)
    currency = models.CharField(max_length=3)
    units = models.CharField(max_length=8, choices=Units, default=Units.METRIC)
    locale = models.CharField(max_length=12, default="en-GB")
    time_zone = models.CharField(max_length=40, default="UTC")
    starts_on = models.DateField(null=True, blank=True)
    opens_on = models.DateField(null=True, blank=True)
    cost_of_day_minor = models.BigIntegerField(default=0)
    #: The tax that invoices usually bear, and whether the project gets it back; if not, it is part of every cost.
    tax_percent = ExactField(null=True, blank=True)
    tax_recovered = models.BooleanField(default=True)
    #: How far today's exchange rates may still move, for the exposure of what is not yet billed.
    rate_swing_percent = ExactField(default="5")
    #: The project's date is held here, as for a demo or a rehearsal; empty means the real date.
    held_on = models.DateField(null=True, blank=True)
    #: The date up to which expired quotes have been taken out of the likely finals.
    settled_on = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField()
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(cost_of_day_minor__gte=0), name="cost_of_day_not_negative")
        ]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="memberships")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role)
    joined_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["project", "user"], name="one_membership_each")]

    def __str__(self) -> str:
        return f"{self.user} · {self.role}"


class ApprovalLimit(models.Model):
    """Up to how much a role may commit the project in one decision; no row means nothing, empty means no limit."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="approval_limits")
    role = models.CharField(max_length=12, choices=Role)
    amount_minor = models.BigIntegerField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["project", "role"], name="one_limit_per_role"),
            models.CheckConstraint(
                condition=models.Q(amount_minor__isnull=True) | models.Q(amount_minor__gte=0), name="limit_not_negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.role}: {self.amount_minor}"


class ExchangeRate(AppendOnly):
    """Project units for one unit of another currency; of each purpose the newest row of a currency stands."""

    class Purpose(models.TextChoices):
        BUDGET = "budget", _("budget rate, for quotes and agreements")
        TODAY = "today", _("today\u2019s rate, for what is not yet billed")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="rates")
    currency = models.CharField(max_length=3)
    purpose = models.CharField(max_length=6, choices=Purpose, default=Purpose.BUDGET)
    rate = ExactField()
    rated_on = models.DateField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.currency} {self.rate}"


class Invitation(models.Model):
    """A link that makes its bearer a member, once; only the hash of its secret is kept."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="invitations")
    role = models.CharField(max_length=12, choices=Role)
    note = models.CharField(max_length=120, blank=True)
    secret_hash = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    accepted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.role} for {self.project}"


class TrailEntry(AppendOnly):
    """Who did what and when, written in the same transaction as the deed."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="trail")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    by_name = models.CharField(max_length=160)
    verb = models.CharField(max_length=40)
    subject = models.CharField(max_length=40)
    subject_id = models.BigIntegerField(null=True)
    summary = models.CharField(max_length=400)
    details = models.JSONField(default=dict)

    class Meta:
        indexes = [
            models.Index(fields=["project", "-at"], name="trail_newest"),
            models.Index(fields=["project", "subject", "subject_id"], name="trail_of_subject"),
        ]

    def __str__(self) -> str:
        return self.summary


class Attachment(AppendOnly):
    """A photograph or document; its bytes lie outside the static files and are served to members only."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="attachments")
    name = models.CharField(max_length=160)
    kind = models.CharField(max_length=8)
    size = models.PositiveIntegerField()
    sha256 = models.CharField(max_length=64)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return self.name
