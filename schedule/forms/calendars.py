"""The forms of calendars: the weekdays, whose public holidays, and the days it is closed or worked all the same."""

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from projects.faults import Refused
from projects.forms import DateField
from projects.forms.rows import PatientForm, Rows, grown, rows_of
from projects.models import Project
from schedule import regions, wording_calendars
from schedule.services.calendars import NAME_LENGTH, REASON_LENGTH, CalendarDraft, ClosureDraft


class CloseForm(PatientForm):
    """Somebody is away, or a works rests."""

    first_on = DateField(label=_("From"))
    last_on = DateField(label=_("To"), required=False, help_text=_("The last day; empty for one day."))
    reason = forms.CharField(
        label=_("Why"),
        max_length=REASON_LENGTH,
        error_messages={"required": _("Say why, such as: the inspector is away.")},
    )

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if held.get("first_on") and held.get("last_on") and held["last_on"] < held["first_on"]:
            self.add_error("last_on", gettext("The last day is before the first; turn them round."))
        return held

    def draft(self) -> ClosureDraft:
        held = self.cleaned_data
        return ClosureDraft(held["first_on"], held["last_on"] or held["first_on"], held["reason"])


class ClosureForm(CloseForm):
    """A row of the closures of a calendar."""

    first_on = DateField(label=_("Closed from"), required=False)
    last_on = DateField(label=_("to"), required=False)
    reason = forms.CharField(label=_("Why"), max_length=REASON_LENGTH, required=False)

    def clean(self) -> dict[str, Any]:
        held = super().clean()
        if (held.get("last_on") or held.get("reason")) and not held.get("first_on") and "first_on" not in self.errors:
            self.add_error("first_on", gettext("Give the first day."))
        return held


class ExtraForm(PatientForm):
    """A single day that is worked whatever the rest says."""

    on = DateField(label=_("Worked on"), required=False)


ClosureRows, ExtraRows = rows_of(ClosureForm), rows_of(ExtraForm)


class CalendarForm(PatientForm):
    name = forms.CharField(
        label=_("Whose days are these"), max_length=NAME_LENGTH, help_text=_("Such as: trades, crane, inspector, the maker."),
        error_messages={"required": _("Give the calendar a name, such as who works by it.")},
    )  # fmt: skip
    weekdays = forms.MultipleChoiceField(
        label=_("Works on"),
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": _("Tick at least one weekday.")},
    )
    region = forms.CharField(
        label=_("Rests on the public holidays of"), max_length=80, required=False,
        widget=forms.TextInput(attrs={"list": "regions", "autocomplete": "off"}),
        help_text=_("A country, or a part of one such as Scotland or Texas; empty for none."),
    )  # fmt: skip
    note = forms.CharField(label=_("Note"), max_length=300, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, project: Project, **kwargs: Any) -> None:
        super().__init__(*args, project=project, **kwargs)
        days = [(str(day), wording_calendars.weekday(day, project.locale)) for day in range(1, 8)]
        self.fields["weekdays"].choices = days  # type: ignore[attr-defined]

    def clean_region(self) -> str:
        code = regions.understood(self.cleaned_data["region"])
        if code is None:
            raise forms.ValidationError(
                gettext("No public holidays are known for this place; choose one from the list.")
            )
        return code


class CalendarEntry:
    """Everything about one calendar, entered on one page."""

    def __init__(
        self, data: Any, *, project: Project, standing: CalendarDraft | None = None, version: int | None = None
    ) -> None:
        data, self.growing = grown(data)
        kwargs = {"form_kwargs": {"project": project}}
        self.form = CalendarForm(data, project=project, initial=_initial(standing, version))
        closures = (
            [{"first_on": one.first_on, "last_on": one.last_on, "reason": one.reason} for one in standing.closures]
            if standing
            else []
        )
        extra = [{"on": day} for day in standing.extra_days] if standing else []
        self.closures: Rows = ClosureRows(data, prefix="closures", initial=closures, **kwargs)
        self.extra: Rows = ExtraRows(data, prefix="extra", initial=extra, **kwargs)
        self.closures.extra = 0 if closures else 1
        for part in (self.form, self.closures, self.extra):
            part.patient = self.growing

    def is_valid(self) -> bool:
        if self.growing:
            return False
        valid = [part.is_valid() for part in (self.form, self.closures, self.extra)]  # all are judged, none is skipped
        return all(valid)

    @property
    def faulty(self) -> bool:
        """Whether something about the days is wrong, for a word at their head."""
        parts = (self.closures, self.extra)
        return not self.growing and any(
            part.is_bound and (any(part.errors) or part.non_form_errors()) for part in parts
        )

    def draft(self) -> CalendarDraft:
        held = self.form.cleaned_data
        return CalendarDraft(
            name=held["name"],
            weekdays=frozenset(map(int, held["weekdays"])),
            region=held["region"],
            note=held["note"],
            closures=tuple(row.draft() for row in self.closures.kept),
            extra_days=tuple(row.cleaned_data["on"] for row in self.extra.kept),
        )

    def refuse(self, fault: Refused) -> None:
        self.form.refuse(fault)


def _initial(standing: CalendarDraft | None, version: int | None) -> dict[str, Any]:
    if standing is None:
        return {"weekdays": ["1", "2", "3", "4", "5"]}
    return {
        "name": standing.name, "weekdays": [str(day) for day in sorted(standing.weekdays)],
        "region": regions.label_of(standing.region), "note": standing.note, "version": version,
    }  # fmt: skip


class RemoveForm(PatientForm):
    """Nothing to say; the page asks once."""
