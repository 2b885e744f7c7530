"""Forms of the look-ahead: a need, a promise, why one was not kept, and a week that was counted on paper."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.forms import DateField, ProjectForm
from schedule.forms import fields
from schedule.models import Activity, Miss, Need
from schedule.services.promises import MOST


class NeedForm(ProjectForm):
    """What an activity still needs."""

    activity = fields.chosen(_("For which activity"))
    what = fields.words(_("What is needed"), 200)
    kind = fields.chips(_("What kind of thing"), Need.Kind.choices)
    who = fields.words(_("Who brings it"), 120, required=False)
    by_on = DateField(label=_("By when"))

    def __init__(self, *args: Any, activities: Sequence[Activity], need: Need | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if need is None:
            self.fields["activity"].choices = fields.activities(activities)
        else:
            del self.fields["activity"]

    def asked(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {name: given[name] for name in ("what", "kind", "who", "by_on")}


class PromiseForm(ProjectForm):
    """Anything that somebody promises for a week, in words or as an activity."""

    activity = fields.chosen(_("Activity"), required=False)
    what = fields.words(_("Or in words"), 200, required=False, help_text=_("A part of an activity, or anything else."))
    who = fields.words(_("Who promises it"), 120, required=False)

    def __init__(self, *args: Any, activities: Sequence[Activity], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["activity"].choices = fields.activities(activities, none=_("none"))

    def asked(self) -> dict[str, Any]:
        given = self.cleaned_data
        activity = given["activity"]
        return {"what": given["what"], "who": given["who"], "activity_id": int(activity) if activity else None}


class WeekForm(ProjectForm):
    """Which week is asked for, by any of its days."""

    week = DateField(required=False)


class TapForm(ProjectForm):
    """The activity that one tap promises."""

    activity = forms.IntegerField(min_value=1, max_value=10**9)

    def activity_id(self) -> int:
        """The number of the activity, or 0, which none has."""
        return self.cleaned_data["activity"] if self.is_valid() else 0


class MissForm(ProjectForm):
    cause = fields.chips(_("What stood in the way"), Miss.choices)


class CountForm(ProjectForm):
    """A week counted on paper: how many, and how often each cause."""

    week_on = DateField(label=_("A day of the week"))
    promised = fields.whole(_("Promised"), most=MOST, required=True)
    kept = fields.whole(_("Kept"), most=MOST, required=True)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for cause, label in Miss.choices:
            self.fields[f"cause_{cause}"] = fields.whole(label, most=MOST, required=True, initial=0)

    def causes(self) -> list[str]:
        """Each cause as often as it was counted."""
        return [str(cause) for cause in Miss.values for _n in range(self.cleaned_data[f"cause_{cause}"])]

    def cause_fields(self) -> list[forms.BoundField]:
        return [self[f"cause_{cause}"] for cause in Miss.values]
