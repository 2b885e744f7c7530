"""The plan: calendars, activities and the links between them, and the dates that were promised once."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from projects.append_only import AppendOnly
from projects.models import Project

USER = settings.AUTH_USER_MODEL


class WorkCalendar(models.Model):
    """The days somebody works: weekdays, less the public holidays of a region, less closures."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="calendars")
    name = models.CharField(max_length=80)
    #: Digits of ISO 8601 weekdays in order, "12345" for Monday to Friday.
    weekdays = models.CharField(max_length=7)
    #: Whose public holidays are kept, such as "US" or "GB-SCT"; empty for none.
    region = models.CharField(max_length=8, blank=True)
    #: Single days that are worked whatever the rest says, such as a Thursday that a road closure was bought for (ISO 8601).
    extra_days = models.JSONField(default=list, blank=True)
    note = models.CharField(max_length=300, blank=True)
    position = models.PositiveIntegerField(default=0)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["project", "name"], name="calendar_name_once")]

    def __str__(self) -> str:
        return self.name


class Closure(models.Model):
    """Days on which a calendar rests, with the reason: a works' holiday, a crew or an inspector away."""

    calendar = models.ForeignKey(WorkCalendar, on_delete=models.CASCADE, related_name="closures")
    first_on = models.DateField()
    last_on = models.DateField()
    reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["first_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=models.Q(last_on__gte=models.F("first_on")), name="closure_in_order")
        ]

    def __str__(self) -> str:
        return self.reason or str(self.first_on)


class Plan(models.Model):
    """What a project's sequence rests on, and what it came to when it was last worked out."""

    project = models.OneToOneField(Project, on_delete=models.CASCADE, related_name="plan")
    starts_on = models.DateField()
    calendar = models.ForeignKey(WorkCalendar, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    #: The day up to which progress is known; work that has not started cannot start before it.
    data_on = models.DateField(null=True, blank=True)
    #: Kept: the last day of the last activity; None where nothing is planned.
    finish_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    def __str__(self) -> str:
        return f"{self.project}: {self.finish_on}"


class Activity(models.Model):
    """A piece of work with a length and a place in the order; its dates are kept figures."""

    class Kind(models.TextChoices):
        WORK = "work", _("work")
        POUR = "pour", _("pour")
        CURE = "cure", _("curing or drying")
        TEST = "test", _("test")
        INSPECTION = "inspection", _("inspection")
        FABRICATION = "fabrication", _("made off site")
        DELIVERY = "delivery", _("delivery")
        DECISION = "decision", _("decision")
        MILESTONE = "milestone", _("milestone")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="activities")
    code = models.CharField(max_length=12)
    name = models.CharField(max_length=160)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.WORK)
    #: Who does it, as the project names its trades; where it is done.
    trade = models.CharField(max_length=80, blank=True)
    area = models.CharField(max_length=80, blank=True)
    #: Days of its own calendar, as thought today; zero for a milestone.
    days = models.PositiveIntegerField(default=1)
    calendar = models.ForeignKey(
        WorkCalendar, null=True, blank=True, on_delete=models.PROTECT, related_name="activities"
    )
    #: Goes on every day, whatever the calendar: curing, drying, a crossing.
    elapsed = models.BooleanField(default=False)
    #: It cannot begin before this day; a milestone falls on it at the earliest.
    not_before_on = models.DateField(null=True, blank=True)
    not_before_why = models.CharField(max_length=200, blank=True)
    #: Buries or fixes what is under it.
    covers = models.BooleanField(default=False)
    weather = models.BooleanField(default=False)
    #: Working days of notice that those who attend ask for.
    notice_days = models.PositiveIntegerField(default=0)
    attended_by = models.CharField(max_length=160, blank=True)
    note = models.CharField(max_length=400, blank=True)
    started_on = models.DateField(null=True, blank=True)
    finished_on = models.DateField(null=True, blank=True)
    position = models.PositiveIntegerField(default=0)
    removed_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)
    # Kept figures, worked out by `services.plan.settle` and proved by `services.plan.drifted`.
    early_start_on = models.DateField(null=True, blank=True)
    early_finish_on = models.DateField(null=True, blank=True)
    #: Worked back from the project's own finish.
    late_start_on = models.DateField(null=True, blank=True)
    late_finish_on = models.DateField(null=True, blank=True)
    #: Working days of its own calendar to the project's own finish.
    float_days = models.IntegerField(default=0)
    free_days = models.IntegerField(default=0)
    #: The same, worked back from the day the project is to open; below zero when that day is missed.
    target_finish_on = models.DateField(null=True, blank=True)
    target_float_days = models.IntegerField(null=True, blank=True)
    critical = models.BooleanField(default=False)

    class Meta:
        ordering = ["position", "pk"]
        verbose_name_plural = "activities"
        constraints = [
            models.UniqueConstraint(fields=["project", "code"], name="activity_code_once"),
            models.CheckConstraint(
                condition=models.Q(finished_on=None) | models.Q(started_on__isnull=False), name="finished_has_started"
            ),
            models.CheckConstraint(
                condition=models.Q(finished_on=None) | models.Q(finished_on__gte=models.F("started_on")),
                name="activity_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    @property
    def state(self) -> str:
        """done, under way, or not started."""
        return "done" if self.finished_on else "under way" if self.started_on else "not started"


class Link(models.Model):
    """An activity waits for another."""

    class Kind(models.TextChoices):
        FS = "FS", _("starts after its finish")
        SS = "SS", _("starts after its start")
        FF = "FF", _("finishes after its finish")
        SF = "SF", _("finishes after its start")

    waiting = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="waits_for")
    before = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="leads_to")
    kind = models.CharField(max_length=2, choices=Kind, default=Kind.FS)
    #: Days in the calendar of the one that waits, or calendar days where `lag_elapsed`.
    lag_days = models.IntegerField(default=0)
    lag_elapsed = models.BooleanField(default=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["waiting", "before", "kind"], name="link_once"),
            models.CheckConstraint(condition=~models.Q(waiting=models.F("before")), name="link_of_two"),
        ]

    def __str__(self) -> str:
        return f"{self.waiting_id} {self.kind} {self.before_id}"


class Baseline(AppendOnly):
    """The plan as it stood on a day that the project is measured against."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="baselines")
    name = models.CharField(max_length=80)
    reason = models.CharField(max_length=300, blank=True)
    taken_on = models.DateField()
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    finish_on = models.DateField(null=True)

    class Meta(AppendOnly.Meta):
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name


class BaselineDate(AppendOnly):
    """When an activity was to be done by a baseline."""

    baseline = models.ForeignKey(Baseline, on_delete=models.CASCADE, related_name="dates")
    activity = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="planned")
    days = models.PositiveIntegerField()
    start_on = models.DateField()
    finish_on = models.DateField()

    class Meta(AppendOnly.Meta):
        constraints = [models.UniqueConstraint(fields=["baseline", "activity"], name="planned_once")]

    def __str__(self) -> str:
        return f"{self.activity}: {self.finish_on}"


class Question(models.Model):
    """A what-if that somebody wants to ask again; it changes nothing."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="questions")
    title = models.CharField(max_length=200)
    #: What would be otherwise, as `calc.alter_json` writes it, with activities by their codes and calendars by name.
    changes = models.JSONField(default=dict)
    #: What it would cost beside the days.
    cost_minor = models.BigIntegerField(default=0)
    note = models.CharField(max_length=300, blank=True)
    asked_at = models.DateTimeField()
    asked_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    position = models.PositiveIntegerField(default=0)
    #: The day it was put into the plan, or None.
    kept_on = models.DateField(null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.title
