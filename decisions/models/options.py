"""Decisions as drafts: a question, the ways to build it, and the checks that each has to pass."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from budget.models import LineItem, Quote
from projects.fields import ExactField
from projects.models import Project

USER = settings.AUTH_USER_MODEL


class Decision(models.Model):
    """A question with two or more options."""

    class State(models.TextChoices):
        OPEN = "open", _("open")
        WAITING = "waiting", _("waiting for an owner")
        DECIDED = "decided", _("decided")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="decisions")
    code = models.CharField(max_length=12)
    title = models.CharField(max_length=160)
    question = models.TextField(blank=True, max_length=1000)
    lines = models.ManyToManyField(LineItem, through="DecisionLine", related_name="decisions")
    need_by = models.DateField(null=True, blank=True)
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["need_by", "pk"]
        constraints = [models.UniqueConstraint(fields=["project", "code"], name="decision_code_once")]

    def __str__(self) -> str:
        return self.title


class DecisionLine(models.Model):
    """A line item that the decision settles: every option has to price it."""

    decision = models.ForeignKey(Decision, on_delete=models.CASCADE, related_name="decision_lines")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="decision_lines")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["decision", "line"], name="decision_line_once")]

    def __str__(self) -> str:
        return f"{self.decision}: {self.line}"


class MustPass(models.Model):
    """A check that bars an option which fails it: a figure held to a bound, or a judgement."""

    decision = models.ForeignKey(Decision, on_delete=models.CASCADE, related_name="must_passes")
    name = models.CharField(max_length=160)
    unit = models.CharField(max_length=20, blank=True)
    at_least = ExactField(null=True, blank=True)
    at_most = ExactField(null=True, blank=True)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.name


class Option(models.Model):
    """One way to build it."""

    decision = models.ForeignKey(Decision, on_delete=models.CASCADE, related_name="options")
    key = models.CharField(max_length=4)
    name = models.CharField(max_length=160)
    note = models.TextField(blank=True, max_length=2000)
    lead_days = models.PositiveIntegerField(null=True, blank=True)
    extra_days = models.PositiveIntegerField(default=0)
    float_days = models.PositiveIntegerField(default=0)
    #: How it can still be moved once placed, in words.
    adjust_how = models.CharField(max_length=160, blank=True)
    adjust_chance = ExactField(null=True, blank=True)
    adjust_cost_minor = models.BigIntegerField(default=0)
    adjust_days = models.PositiveIntegerField(default=0)
    adjust_float_days = models.PositiveIntegerField(null=True, blank=True)
    yearly_cost_minor = models.BigIntegerField(default=0)
    years = models.PositiveIntegerField(default=0)
    discount_percent = ExactField(null=True, blank=True)
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["key"]
        constraints = [models.UniqueConstraint(fields=["decision", "key"], name="option_key_once")]

    def __str__(self) -> str:
        return f"{self.key} {self.name}"


class AdjustAxis(models.Model):
    """How far an option can be moved along one axis, and the spread of the position error there [same unit]."""

    option = models.ForeignKey(Option, on_delete=models.CASCADE, related_name="axes")
    name = models.CharField(max_length=40)
    allows = ExactField()
    spread = ExactField()

    def __str__(self) -> str:
        return self.name


class CostItem(models.Model):
    """A piece of an option's first cost: a quote at its levelled amount on a line, or an estimate."""

    option = models.ForeignKey(Option, on_delete=models.CASCADE, related_name="items")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="+")
    name = models.CharField(max_length=160)
    quote = models.ForeignKey(Quote, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    amount_minor = models.BigIntegerField(null=True, blank=True)
    quantity = ExactField(null=True, blank=True)
    rate = ExactField(null=True, blank=True)
    shared = models.BooleanField(default=False)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(quote=None, amount_minor__gte=0) | models.Q(quote__isnull=False, amount_minor=None),
                name="cost_item_is_a_quote_or_an_estimate",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Effect(models.Model):
    """What an option costs or spares another line."""

    option = models.ForeignKey(Option, on_delete=models.CASCADE, related_name="effects")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="+")
    amount_minor = models.BigIntegerField()
    why = models.CharField(max_length=200)

    def __str__(self) -> str:
        return self.why


class CheckResult(models.Model):
    """How an option stands against a must-pass check."""

    class Verdict(models.TextChoices):
        PASSES = "passes", _("passes")
        FAILS = "fails", _("fails")
        UNKNOWN = "unknown", _("not known yet")

    must_pass = models.ForeignKey(MustPass, on_delete=models.CASCADE, related_name="results")
    option = models.ForeignKey(Option, on_delete=models.CASCADE, related_name="check_results")
    value = ExactField(null=True, blank=True)
    verdict = models.CharField(max_length=8, choices=Verdict, default=Verdict.UNKNOWN)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["must_pass", "option"], name="check_result_once")]

    def __str__(self) -> str:
        return f"{self.must_pass}: {self.verdict}"
