"""Changes: alterations of what was agreed, asked for, priced, agreed or declined."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models.agreements import AgreementGap
from budget.models.plan import KnockOn, LineItem
from projects.append_only import AppendOnly
from projects.fields import ExactField
from projects.models import Attachment, Project

USER = settings.AUTH_USER_MODEL


class Change(models.Model):
    """An agreed or proposed alteration of a line's agreement; its figures follow its newest step."""

    class Reason(models.TextChoices):
        UNFORESEEN = "unforeseen", _("unforeseen condition")
        WISH = "owner's wish", _("owner\u2019s wish")
        DESIGN = "design error", _("design error")
        SITE = "site error", _("error on site")
        GAP = "scope gap", _("scope gap")
        AUTHORITY = "authority", _("asked for by an authority, or for safety")
        PRICE = "price rise", _("price rise")
        PROLONGATION = "prolongation", _("prolongation")
        CUT = "scope cut", _("scope cut")

    class Source(models.TextChoices):
        """Where the money comes from."""

        CONTINGENCY = "contingency", _("contingency")
        OWNER = "owner", _("an owner\u2019s addition")
        SAVING = "saving", _("the saving of a decision")
        BACK_CHARGE = "back-charge", _("charged back to who caused it")
        CREDIT = "credit", _("a credit to the project")
        LINE = "line", _("the line itself")

    class State(models.TextChoices):
        PROPOSED = "proposed", _("proposed")
        AGREED = "agreed", _("agreed")
        DECLINED = "declined", _("declined")
        WITHDRAWN = "withdrawn", _("withdrawn")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="changes")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="changes")
    code = models.CharField(max_length=12)
    title = models.CharField(max_length=200)
    reason = models.CharField(max_length=12, choices=Reason)
    paid_from = models.CharField(max_length=12, choices=Source)
    asked_by = models.CharField(max_length=160, blank=True)
    note = models.TextField(max_length=2000, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.PROPOSED)
    amount_minor = models.BigIntegerField()
    #: The amount is the most it may cost, until it is priced.
    is_ceiling = models.BooleanField(default=False)
    days = models.IntegerField(default=0)
    chance = ExactField()
    #: The piece of scope that the agreement left open and that this change prices; it is then no gap any more.
    gap = models.ForeignKey(AgreementGap, null=True, blank=True, on_delete=models.PROTECT, related_name="changes")
    #: The effect of a decision that this change puts into an agreement; it is then no effect beside it any more.
    knock_on = models.ForeignKey(KnockOn, null=True, blank=True, on_delete=models.PROTECT, related_name="changes")
    raised_on = models.DateField()
    decided_on = models.DateField(null=True, blank=True)
    raised_at = models.DateTimeField()
    raised_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["raised_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["project", "code"], name="change_code_once"),
            models.CheckConstraint(
                condition=~models.Q(reason="owner's wish", paid_from="contingency"), name="wish_never_from_contingency"
            ),
        ]
        indexes = [models.Index(fields=["project", "state", "line"], name="change_by_state")]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class ChangeStep(AppendOnly):
    """One deed on a change, with its figures as they stood after it."""

    class Verb(models.TextChoices):
        RAISED = "raised", _("raised")
        PRICED = "priced", _("priced anew")
        AGREED = "agreed", _("agreed")
        DECLINED = "declined", _("declined")
        WITHDRAWN = "withdrawn", _("withdrawn")
        REOPENED = "reopened", _("taken up again")

    change = models.ForeignKey(Change, on_delete=models.CASCADE, related_name="steps")
    verb = models.CharField(max_length=10, choices=Verb)
    amount_minor = models.BigIntegerField()
    is_ceiling = models.BooleanField(default=False)
    days = models.IntegerField(default=0)
    chance = ExactField()
    note = models.CharField(max_length=500, blank=True)
    taken_on = models.DateField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    taken_by_name = models.CharField(max_length=160, blank=True)

    def __str__(self) -> str:
        return f"{self.change} {self.verb}"


class ChangeAttachment(AppendOnly):
    change = models.ForeignKey(Change, on_delete=models.CASCADE, related_name="attachments")
    attachment = models.ForeignKey(Attachment, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.attachment)
