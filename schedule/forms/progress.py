"""The forms of progress and of freezing the plan; both are short, for they are filled in on site."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.forms import DateField, ProjectForm
from schedule.services.activities import MOST_DAYS


class ReportForm(ProjectForm):
    """When an activity began and ended, and how long it takes as known today."""

    started_on = DateField(label=_("It began on"), required=False)
    finished_on = DateField(label=_("It was done on"), required=False, help_text=_("Empty while it goes on."))
    days = forms.IntegerField(
        label=_("Days it takes in all, as known today"), required=False, min_value=0, max_value=MOST_DAYS,
    )  # fmt: skip
    reason = forms.CharField(label=_("Why it differs from the plan"), required=False, max_length=300)

    def asked(self) -> dict[str, Any]:
        """What was entered, as the service takes it."""
        return dict(self.cleaned_data)


class FreezeForm(ProjectForm):
    """A name for the plan as it stands, and why it is frozen."""

    name = forms.CharField(
        label=_("Name"), max_length=80, error_messages={"required": _("Give it a name, such as First plan.")}
    )
    reason = forms.CharField(label=_("Why now"), required=False, max_length=300)
