"""What ties money and decisions to the sequence."""

from django.db import models

from budget.models import LineItem
from decisions.models.options import Decision, Option
from decisions.models.records import Record
from projects.append_only import AppendOnly
from schedule.models import Activity


class ActivityLine(models.Model):
    """The work of a line item is done in an activity; its money follows the activity's dates."""

    activity = models.ForeignKey(Activity, on_delete=models.CASCADE, related_name="activity_lines")
    line = models.ForeignKey(LineItem, on_delete=models.PROTECT, related_name="activity_lines")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["activity", "line"], name="activity_line_once")]

    def __str__(self) -> str:
        return f"{self.activity_id}: {self.line_id}"


class DecisionActivity(models.Model):
    """An activity that waits for the answer; one of kind decision stands for the answer itself."""

    decision = models.ForeignKey(Decision, on_delete=models.CASCADE, related_name="decision_activities")
    activity = models.ForeignKey(Activity, on_delete=models.PROTECT, related_name="decision_activities")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["decision", "activity"], name="decision_activity_once")]

    def __str__(self) -> str:
        return f"{self.decision_id}: {self.activity_id}"


class OptionPlan(models.Model):
    """What an option does to the network; none for an option that leaves it as it is, or gives its days by hand."""

    option = models.OneToOneField(Option, on_delete=models.CASCADE, related_name="plan")
    #: As `schedule.calc.alter_json` writes it, with activities by their codes.
    changes = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"{self.option_id}"


class RecordPlan(AppendOnly):
    """What a record put into the plan, and what stood there before, so that a reopening takes it out again."""

    record = models.OneToOneField(Record, on_delete=models.CASCADE, related_name="plan")
    changes = models.JSONField(default=dict)
    before = models.JSONField(default=dict)

    def __str__(self) -> str:
        return f"{self.record_id}"
