"""The builder of a what-if: one small form for each thing that can happen, each of which makes a step.

They are sent by GET, so that a question has an address. Whatever has been asked already travels along in hidden fields.
"""

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from projects.forms import DateField, MoneyField, ProjectForm
from schedule.calc.steps import MOST_DAYS, Step
from schedule.selectors.questions import Ground
from schedule.services.questions import NOTE_LENGTH, TITLE_LENGTH

WHICH = _("Which")
WEEKDAYS = [
    ("", _("choose")), ("1", _("Monday")), ("2", _("Tuesday")), ("3", _("Wednesday")), ("4", _("Thursday")),
    ("5", _("Friday")), ("6", _("Saturday")), ("7", _("Sunday")),
]  # fmt: skip


def _days(label: Any, *, least: int = 1, required: bool = True, **more: Any) -> forms.IntegerField:
    wrong = {
        "required": _("Say how many."),
        "invalid": _("Give a whole number of days."),
        "min_value": _("Give at least %(limit_value)s."),
        "max_value": _("Give at most %(limit_value)s."),
    }
    return forms.IntegerField(
        label=label, min_value=least, max_value=MOST_DAYS, required=required, error_messages=wrong, **more
    )


def _activity(label: Any = WHICH) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=[], error_messages={"required": _("Choose an activity.")})


def _calendar() -> forms.ChoiceField:
    return forms.ChoiceField(label=_("Who"), choices=[], error_messages={"required": _("Choose a calendar.")})


class StepForm(ProjectForm):
    """One thing that happens."""

    kind = ""
    title: Any = ""
    hint: Any = ""

    def __init__(self, *args: Any, ground: Ground, about: str = "", **kwargs: Any) -> None:
        super().__init__(*args, auto_id=f"{self.kind}_%s", **kwargs)
        choices = (
            calendar_choices(ground) if self.about_calendars else activity_choices(ground, first=self.first(ground))
        )
        self.fields["about"].choices = choices  # type: ignore[attr-defined]
        self.initial.setdefault("about", about)

    @property
    def about_calendars(self) -> bool:
        return self.kind in ("away", "extra")

    def first(self, ground: Ground) -> frozenset[str]:
        """Activities that are offered before the others."""
        return frozenset()

    def step(self) -> Step:
        """What was entered, as a step. Call it on a form that is valid."""
        return Step(self.kind, self.cleaned_data["about"], self.values())

    def values(self) -> tuple[Any, ...]:
        return (self.cleaned_data["days"],)

    @property
    def cost_minor(self) -> int:
        return self.cleaned_data.get("more_cost") or 0


class AwayForm(StepForm):
    kind = "away"
    title = _("Somebody is away, or a place is closed")
    hint = _("An inspector on leave, a works' holiday, a road that is closed to the crane.")
    about = _calendar()
    first_on = DateField(label=_("From"))
    days = _days(_("For"), required=False, help_text=_("Days, weekends counted."))
    last_on = DateField(label=_("or until"), required=False)

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        first, last = held.get("first_on"), held.get("last_on")
        if not held.get("days") and not last and not {"days", "last_on"} & set(self.errors):
            self.add_error("days", gettext("Say for how many days, or until when."))
        if first and last and last < first:
            self.add_error("last_on", gettext("This is before the first day."))
        return held

    def values(self) -> tuple[date, date]:
        first, last = self.cleaned_data["first_on"], self.cleaned_data["last_on"]
        return first, last or first + timedelta(days=self.cleaned_data["days"] - 1)


class LateForm(StepForm):
    kind = "late"
    title = _("Something comes late")
    hint = _("A shipment held at the port, a works that is behind, an answer that takes longer.")
    about = _activity(_("What"))
    days = _days(_("Days late"), help_text=_("Days of its own calendar."))

    def first(self, ground: Ground) -> frozenset[str]:
        return ground.carried


class LengthForm(StepForm):
    kind = "length"
    title = _("Takes longer or shorter")
    hint = _("Rain, a slab that dries slowly, a check that is done by video.")
    about = _activity()
    days = _days(_("Takes so many days in all"), least=0)


class CrewForm(LengthForm):
    kind = "crew"
    title = _("A second crew")
    hint = _("Fewer days for more money.")
    days = _days(_("Takes so many days then"))
    more_cost = MoneyField(label=_("What it costs more"), required=False)

    def step(self) -> Step:
        return Step("length", self.cleaned_data["about"], self.values())


class MissesForm(StepForm):
    kind = "misses"
    title = _("Misses a visit")
    hint = _("The inspector or the crane does not come and takes the next day they work.")
    about = _activity()
    days = _days(_("How many in a row"), initial=1)


class StartForm(StepForm):
    kind = "start"
    title = _("Cannot start before a day")
    hint = _("A decision put off, a permit, a road.")
    about = _activity()
    day = DateField(label=_("Not before"))

    def values(self) -> tuple[date]:
        return (self.cleaned_data["day"],)


class SplitForm(StepForm):
    kind = "split"
    title = _("Split it in two")
    hint = _("A pour in two parts with days between.")
    about = _activity()
    first_days = _days(_("First part"), help_text=_("Working days."))
    between = _days(_("Days between"), least=0, initial=0)
    second_days = _days(_("Second part"))

    def values(self) -> tuple[int, int, int]:
        held = self.cleaned_data
        return held["first_days"], held["between"], held["second_days"]


class ExtraForm(StepForm):
    kind = "extra"
    title = _("Work an extra day")
    hint = _("Every Saturday, or one day that a road closure is bought for.")
    about = _calendar()
    weekday = forms.ChoiceField(label=_("Every"), choices=WEEKDAYS, required=False)
    day = DateField(label=_("or on one day"), required=False)

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        given = [name for name in ("weekday", "day") if held.get(name)]
        if len(given) != 1 and not {"weekday", "day"} & set(self.errors):
            self.add_error("weekday", gettext("Give a weekday or one day, not both and not neither."))
        return held

    def step(self) -> Step:
        held = self.cleaned_data
        if held["day"]:
            return Step("day", held["about"], (held["day"],))
        return Step("weekday", held["about"], (int(held["weekday"]),))


class OutForm(StepForm):
    kind = "out"
    title = _("Leave it out")
    hint = _("What follows then waits for what came before.")
    about = _activity()

    def values(self) -> tuple[()]:
        return ()


FORMS: tuple[type[StepForm], ...] = (
    AwayForm, LateForm, MissesForm, LengthForm, CrewForm, StartForm, SplitForm, ExtraForm, OutForm,
)  # fmt: skip
BY_KIND = {form.kind: form for form in FORMS}


def builder(data: Any, ground: Ground, project: Any, *, about: str, calendar: str) -> tuple[StepForm, ...]:
    """Every form of the builder; the one that was sent holds what was entered.

    Args:
        about, calendar: the activity and the calendar that are chosen to start with.
    """
    sent = data.get("kind", "")
    made = []
    for form in FORMS:
        start = calendar if form.kind in ("away", "extra") else about
        bound = data if form.kind == sent else None
        made.append(form(bound, project=project, ground=ground, about=start))
    return tuple(made)


def activity_choices(ground: Ground, *, first: frozenset[str]) -> list[tuple[Any, Any]]:
    """Activities that are not done; some of them before the others."""
    rows = [(code, ground.label(code)) for code in ground.open]
    if not first & set(ground.open):
        return [("", _("choose")), *rows]
    made = [row for row in rows if row[0] in first]
    return [
        ("", _("choose")),
        (_("Made or carried"), made),
        (_("All others"), [row for row in rows if row[0] not in first]),
    ]


def calendar_choices(ground: Ground) -> list[tuple[Any, Any]]:
    return [("", _("choose")), *((name, name) for name in ground.calendars)]


class CostForm(ProjectForm):
    """What it costs besides the days; below zero where it saves."""

    cost = MoneyField(label=_("What it costs besides the days"), required=False, negative=True)


class KeepForm(ProjectForm):
    """A title to find the question again by."""

    title = forms.CharField(
        label=_("What is asked"), max_length=TITLE_LENGTH, error_messages={"required": _("Give it a title.")}
    )
    note = forms.CharField(label=_("Note"), max_length=NOTE_LENGTH, required=False)


class ReasonForm(ProjectForm):
    reason = forms.CharField(
        label=_("Why the plan changes"), max_length=200, help_text=_("It stays in the trail, with your name."),
        error_messages={"required": _("Say why; it stays in the trail.")},
    )  # fmt: skip
