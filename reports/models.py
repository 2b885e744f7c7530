"""What the owners are given: issued reports, which stay as they were, and links that show the page without an account."""

from datetime import datetime

from django.conf import settings
from django.db import models

from budget.models import Movement
from projects.append_only import AppendOnly
from projects.models import Attachment, Project

USER = settings.AUTH_USER_MODEL


class IssuedReport(AppendOnly):
    """The owners' page as it stood on a day: its figures, frozen and hashed, and the same as a PDF."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="issued_reports")
    number = models.PositiveIntegerField()
    note = models.CharField(max_length=300, blank=True)
    issued_on = models.DateField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    issued_by_name = models.CharField(max_length=160)
    #: Canonical JSON, kept as text so that the hash can be checked on any database.
    content = models.TextField()
    sha256 = models.CharField(max_length=64)
    pdf = models.ForeignKey(Attachment, on_delete=models.PROTECT, related_name="+")
    #: The likely final in the content, to count from [minor units].
    likely_minor = models.BigIntegerField()
    #: The newest movement that the figures hold; what comes after it has changed since.
    up_to = models.ForeignKey(Movement, null=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="report_number_once")]

    def __str__(self) -> str:
        return f"{self.project} · report {self.number}"


class OwnersLink(models.Model):
    """A link that shows the owners' page to its bearer; only the hash of its secret is kept."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="owners_links")
    note = models.CharField(max_length=120, blank=True)
    secret_hash = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    created_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.note or f"link {self.pk}"

    def works(self, now: datetime) -> bool:
        return self.revoked_at is None and self.expires_at > now
