"""Hold points: what must be shown, who signs, and who went over it."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from projects.append_only import AppendOnly
from projects.models import Attachment, Project
from schedule.models.plan import Activity

USER = settings.AUTH_USER_MODEL


class HoldPoint(models.Model):
    """A check that must be released before the work after it may start."""

    class Kind(models.TextChoices):
        HOLD = "hold", _("hold: the work stops until it is released")
        WITNESS = "witness", _("witness: notice is given, the work may go on")
        RECORD = "record", _("record only")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="hold_points")
    code = models.CharField(max_length=12)
    title = models.CharField(max_length=160)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.HOLD)
    #: The activity in which it is looked at.
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="hold_points")
    #: The activities that may not start before it is released.
    stops = models.ManyToManyField(Activity, through="HoldStop", related_name="held_by")
    cost_if_wrong_minor = models.BigIntegerField(default=0)
    booked_for = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=400, blank=True)
    position = models.PositiveIntegerField(default=0)
    removed_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["project", "code"], name="hold_code_once"),
            models.CheckConstraint(condition=models.Q(cost_if_wrong_minor__gte=0), name="wrong_costs"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class HoldStop(models.Model):
    hold = models.ForeignKey(HoldPoint, on_delete=models.CASCADE, related_name="hold_stops")
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="hold_stops")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["hold", "activity"], name="hold_stop_once")]

    def __str__(self) -> str:
        return f"{self.hold_id} stops {self.activity_id}"


class HoldSigner(models.Model):
    """A role that signs for a hold point."""

    hold = models.ForeignKey(HoldPoint, on_delete=models.CASCADE, related_name="signers")
    role = models.CharField(max_length=80)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["hold", "role"], name="signer_once")]

    def __str__(self) -> str:
        return self.role


class HoldCheck(models.Model):
    """One thing that is looked at: its limit, who set that, and the evidence it asks for."""

    class Source(models.TextChoices):
        START = "start", _("a starting value")
        CODE = "code", _("local code")
        MAKER = "maker", _("the maker")
        ENGINEER = "engineer", _("the engineer")

    class Evidence(models.TextChoices):
        READING = "reading", _("reading")
        PHOTOGRAPH = "photograph", _("photograph")
        DOCUMENT = "document", _("document")
        WORD = "word", _("note")

    hold = models.ForeignKey(HoldPoint, on_delete=models.CASCADE, related_name="checks")
    text = models.CharField(max_length=200)
    limit = models.CharField(max_length=160, blank=True)
    limit_from = models.CharField(max_length=8, choices=Source, default=Source.START)
    #: Whose figure it is: a clause, a data sheet, a drawing.
    limit_named = models.CharField(max_length=160, blank=True)
    evidence = models.CharField(max_length=10, choices=Evidence, default=Evidence.PHOTOGRAPH)
    #: What the evidence is in words, such as "photograph with tape at six places".
    evidence_named = models.CharField(max_length=160, blank=True)
    position = models.PositiveIntegerField(default=0)
    removed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.text


class Proof(AppendOnly):
    """What was found at a check, once; of several the newest stands."""

    hold_check = models.ForeignKey(HoldCheck, on_delete=models.PROTECT, related_name="proofs")
    value = models.CharField(max_length=200, blank=True)
    passes = models.BooleanField()
    seen_on = models.DateField()
    seen_by = models.CharField(max_length=120, blank=True)
    note = models.CharField(max_length=300, blank=True)
    #: The readings of a test, as `calc.pressure_logs` writes them; None for anything else.
    log = models.JSONField(null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta(AppendOnly.Meta):
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.value


class ProofFile(AppendOnly):
    """A photograph or a document that belongs to what was found."""

    proof = models.ForeignKey(Proof, on_delete=models.CASCADE, related_name="files")
    attachment = models.ForeignKey(Attachment, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.attachment)


class Signature(AppendOnly):
    """A role signed for a hold point; taken back by a further row that names it."""

    hold = models.ForeignKey(HoldPoint, on_delete=models.PROTECT, related_name="signatures")
    role = models.CharField(max_length=80)
    name = models.CharField(max_length=120)
    signed_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    #: The newest proof at the hold point when it was given, so that the order needs no clock.
    last_proof = models.ForeignKey(Proof, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    reverses = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="reversal")

    class Meta(AppendOnly.Meta):
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.role}: {self.name}"


class Overrule(AppendOnly):
    """The lead let an activity start although a hold point before it was open, and why."""

    hold = models.ForeignKey(HoldPoint, on_delete=models.PROTECT, related_name="overrules")
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="overrules")
    reason = models.CharField(max_length=400)
    #: What was missing, as it stood then.
    missing = models.JSONField(default=list)
    overruled_on = models.DateField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    #: The newest proof at the hold point when it was given.
    last_proof = models.ForeignKey(Proof, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta(AppendOnly.Meta):
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.hold_id} over {self.activity_id}"
