"""What is on its way: deliveries with their stages, what activities still need, and the weekly promises."""

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from projects.append_only import AppendOnly
from projects.models import Project
from schedule.models.plan import Activity, WorkCalendar

USER = settings.AUTH_USER_MODEL


class Delivery(models.Model):
    """A thing that must arrive; the activity it hangs on has its dates."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="deliveries")
    activity = models.OneToOneField(Activity, on_delete=models.PROTECT, related_name="delivery")
    item = models.CharField(max_length=160)
    maker = models.CharField(max_length=120, blank=True)
    carried_by = models.CharField(max_length=160, blank=True)
    papers = models.CharField(max_length=300, blank=True)
    ordered_on = models.DateField(null=True, blank=True)
    #: What the maker or carrier said, and the range it may fall in.
    promised_on = models.DateField(null=True, blank=True)
    earliest_on = models.DateField(null=True, blank=True)
    latest_on = models.DateField(null=True, blank=True)
    #: From the order to leaving the works [days of the maker's calendar]; None for the length of its activity.
    lead_days = models.PositiveIntegerField(null=True, blank=True)
    #: On the road after that, on every day [calendar days].
    road_days = models.PositiveIntegerField(default=0)
    #: Days for approving drawings and placing the order before that [calendar days].
    approval_days = models.PositiveIntegerField(default=0)
    calendar = models.ForeignKey(WorkCalendar, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    note = models.CharField(max_length=300, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "deliveries"

    def __str__(self) -> str:
        return self.item


class DeliveryStage(models.Model):
    """A step on the way, from ordered to on site."""

    class Kind(models.TextChoices):
        ORDERED = "ordered", _("ordered")
        DRAWINGS = "drawings", _("drawings agreed")
        MAKING = "making", _("in the making")
        READY = "ready", _("ready at the works")
        SENT = "sent", _("sent")
        CUSTOMS = "customs", _("through customs")
        ON_SITE = "on_site", _("on site")

    delivery = models.ForeignKey(Delivery, on_delete=models.CASCADE, related_name="stages")
    kind = models.CharField(max_length=10, choices=Kind)
    due_on = models.DateField(null=True, blank=True)
    done_on = models.DateField(null=True, blank=True)
    #: The paper that goes with it, and whether it is there.
    paper = models.CharField(max_length=160, blank=True)
    paper_there = models.BooleanField(default=False)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]
        constraints = [models.UniqueConstraint(fields=["delivery", "kind"], name="stage_kind_once")]

    def __str__(self) -> str:
        return self.kind


class Need(models.Model):
    """What an activity still needs before it can start, who brings it, and by when."""

    class Kind(models.TextChoices):
        WORK = "work", _("earlier work")
        DECISION = "decision", _("decision")
        ANSWER = "answer", _("drawing or answer")
        MATERIAL = "material", _("material")
        LABOUR = "labour", _("labour")
        PLANT = "plant", _("plant or lift")
        SPACE = "space", _("space")
        PERMIT = "permit", _("permit")
        INSPECTION = "inspection", _("inspection")
        MONEY = "money", _("money")
        WEATHER = "weather", _("weather")
        SAFETY = "safety", _("safety")
        EVIDENCE = "evidence", _("evidence")
        ORDER = "order", _("order")
        PAPERS = "papers", _("papers")

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="needs")
    activity = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="needs")
    what = models.CharField(max_length=200)
    kind = models.CharField(max_length=10, choices=Kind)
    who = models.CharField(max_length=120, blank=True)
    by_on = models.DateField()
    raised_on = models.DateField()
    raised_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")
    cleared_on = models.DateField(null=True, blank=True)
    cleared_by = models.ForeignKey(USER, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    removed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["by_on", "pk"]

    def __str__(self) -> str:
        return self.what


class Miss(models.TextChoices):
    """Why a promise was not kept."""

    WORK = "work", _("earlier work unfinished")
    CREW = "crew", _("crew short")
    MATERIAL = "material", _("material late")
    PLANT = "plant", _("plant not there")
    ANSWER = "answer", _("late answer")
    DECISION = "decision", _("decision not made")
    INSPECTOR = "inspector", _("inspector absent")
    WEATHER = "weather", _("weather")
    CHANGE = "change", _("work changed")
    OTHER = "other", _("something else")


class Promise(models.Model):
    """Work that a crew promised to finish in a week."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="promises")
    #: The Monday of the week.
    week_on = models.DateField()
    activity = models.ForeignKey(Activity, null=True, blank=True, on_delete=models.SET_NULL, related_name="promises")
    what = models.CharField(max_length=200)
    who = models.CharField(max_length=120, blank=True)
    kept = models.BooleanField(null=True, blank=True)
    cause = models.CharField(max_length=10, choices=Miss, blank=True)
    promised_at = models.DateTimeField()
    removed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["week_on", "pk"]

    def __str__(self) -> str:
        return self.what


class PromiseWeek(AppendOnly):
    """A week that is closed: how many promises were made and kept, and why the others were not."""

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="promise_weeks")
    week_on = models.DateField()
    promised = models.PositiveIntegerField()
    kept = models.PositiveIntegerField()
    #: The cause of each miss, one entry a promise.
    causes = models.JSONField(default=list)
    closed_at = models.DateTimeField()
    closed_by = models.ForeignKey(USER, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta(AppendOnly.Meta):
        ordering = ["week_on"]
        constraints = [
            models.UniqueConstraint(fields=["project", "week_on"], name="promise_week_once"),
            models.CheckConstraint(condition=models.Q(kept__lte=models.F("promised")), name="kept_of_promised"),
        ]

    def __str__(self) -> str:
        return str(self.week_on)
