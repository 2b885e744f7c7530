"""Decisions as taken: the frozen record, its approval, what it put into effect, and what it saves.

A record never changes; approving, declining and reopening are further rows beside it.
"""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models import Agreement, Estimate, KnockOn, LineItem, Quote
from decisions.models.options import Decision, Option
from projects.append_only import AppendOnly

USER = settings.AUTH_USER_MODEL


class Record(AppendOnly):
    """What was decided, frozen: inputs, results, reason, and a hash over all of it."""

    decision = models.ForeignKey(Decision, on_delete=models.PROTECT, related_name="records")
    number = models.PositiveIntegerField()
    option = models.ForeignKey(Option, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField(max_length=2000)
    decided_on = models.DateField()
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    #: What the project commits by it [minor units]; compared with the approval limits.
    commits_minor = models.BigIntegerField()
    needs_approval = models.BooleanField()
    #: Canonical JSON, kept as text so that the hash can be checked on any database.
    frozen = models.TextField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["decision", "number"], name="record_number_once")]

    def __str__(self) -> str:
        return f"{self.decision} · record {self.number}"


class Approval(AppendOnly):
    class Verdict(models.TextChoices):
        APPROVED = "approved", _("approved")
        DECLINED = "declined", _("declined")

    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="approval")
    verdict = models.CharField(max_length=8, choices=Verdict)
    note = models.CharField(max_length=500, blank=True)
    given_at = models.DateTimeField()
    given_on = models.DateField()
    given_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    given_by_name = models.CharField(max_length=160)

    def __str__(self) -> str:
        return f"{self.record}: {self.verdict}"


class Taking(AppendOnly):
    """The moment a record took effect: agreements made, estimates and knock-ons entered, movements written."""

    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="taking")
    taken_on = models.DateField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.record} in force"


class RecordAgreement(AppendOnly):
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="agreements")
    agreement = models.OneToOneField(Agreement, on_delete=models.PROTECT, related_name="from_record")

    def __str__(self) -> str:
        return str(self.agreement)


class RecordEstimate(AppendOnly):
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="estimates")
    estimate = models.OneToOneField(Estimate, on_delete=models.PROTECT, related_name="from_record")

    def __str__(self) -> str:
        return str(self.estimate)


class RecordKnockOn(AppendOnly):
    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="knock_ons")
    knock_on = models.OneToOneField(KnockOn, on_delete=models.PROTECT, related_name="from_record")

    def __str__(self) -> str:
        return str(self.knock_on)


class RecordDeclined(AppendOnly):
    """A quote that the record turned down, so that reopening can put it back."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="declined")
    quote = models.ForeignKey(Quote, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.quote)


class Reopening(AppendOnly):
    record = models.OneToOneField(Record, on_delete=models.PROTECT, related_name="reopening")
    reason = models.CharField(max_length=500)
    reopened_on = models.DateField()
    reopened_at = models.DateTimeField()
    reopened_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    def __str__(self) -> str:
        return f"{self.record} reopened"


class SavingKind(models.TextChoices):
    SAME_FOR_LESS = "same for less", _("the same function for less")
    SCOPE_CUT = "scope cut", _("a scope cut")
    LOWER_QUALITY = "lower quality", _("a lower quality")
    DEFERRAL = "deferral", _("a deferral")
    MOVED = "moved", _("a cost moved elsewhere")
    EFFECT = "effect", _("effects on other lines")
    AVOIDED = "avoided", _("a cost avoided that was never quoted")
    EXTRA = "extra", _("an extra")


class Saving(AppendOnly):
    """A part of what a record saves against the original quotes, by kind; a negative amount is an extra."""

    record = models.ForeignKey(Record, on_delete=models.PROTECT, related_name="savings")
    kind = models.CharField(max_length=14, choices=SavingKind)
    amount_minor = models.BigIntegerField()
    what = models.CharField(max_length=200, blank=True)
    lines = models.ManyToManyField(LineItem, related_name="savings")

    def __str__(self) -> str:
        return f"{self.kind} {self.amount_minor}"
