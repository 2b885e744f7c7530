"""The forms of hold points: what is found, who signs, when they come, and going over one.

What is found is entered on site: the reading or the photograph first, then whether it passes; nothing is ticked beforehand.
"""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from projects.forms import DateField, NumberField
from projects.forms.entry import ProjectForm
from projects.forms.files import ManyFiles, ManyFilesField
from projects.forms.rows import PatientForm
from schedule.calc import pressure_logs
from schedule.calc.pressure_logs import NoLog, PressureLog
from schedule.forms.fields import chips, words
from schedule.models import HoldCheck
from schedule.services.proofs import Found

PASSES, FAILS = "passes", "fails"
ANSWERS = [(PASSES, _("it passes")), (FAILS, _("it does not"))]


class FoundForm(PatientForm):
    """What was found at one check."""

    value = words(_("What was found"), 200, required=False)
    files = ManyFilesField(
        label=_("Photograph or document"), required=False,
        widget=ManyFiles(attrs={"accept": "image/*,application/pdf", "multiple": True}),
    )  # fmt: skip
    answer = chips(_("Within the limit"), ANSWERS, error_messages={"required": _("Say whether it passes.")})
    sure = forms.BooleanField(label=_("I have looked again, and it is so"), required=False)
    note = words(_("Note, or where the paper is kept"), 300, required=False)
    seen_on = DateField(label=_("Seen on"))
    seen_by = words(_("Seen by"), 120, required=False)
    readings = forms.CharField(
        label=_("Time and reading, one to a line"), required=False, max_length=4000,
        widget=forms.Textarea(attrs={"rows": 4, "placeholder": "09:00 6.0\n09:30 5.98", "inputmode": "text"}),
    )  # fmt: skip
    unit = words(_("Unit"), 12, required=False)
    allowed_drop = NumberField(label=_("It may fall by"), required=False, places=6, least=0, most=100_000)
    gauge = words(_("Gauge number"), 40, required=False)
    calibrated_on = DateField(label=_("Gauge calibrated on"), required=False)
    #: What stays behind "More" unless it is filled in.
    LOG = ("readings", "unit", "allowed_drop", "gauge", "calibrated_on")

    def __init__(self, *args: Any, evidence: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if evidence == HoldCheck.Evidence.READING:
            self.fields["value"].label = _("Reading, with its unit")
            self.fields["value"].required = True
            self.fields["value"].error_messages["required"] = _now("Give the reading.")
        if evidence in {HoldCheck.Evidence.PHOTOGRAPH, HoldCheck.Evidence.DOCUMENT}:
            self.order_fields(["files", "value"])
            self.fields["files"].help_text = _now("Without one, say in the note where it is kept.")

    @property
    def log_open(self) -> bool:
        return any(self[name].errors or self[name].value() for name in self.LOG)

    def clean(self) -> dict[str, Any]:
        """A log is read from its lines; the reading of the check may then be left out, for the log says it."""
        given = self.cleaned_data
        given["log"] = self._log(given) if given.get("readings") else None
        if given["log"] and not given.get("value") and "value" in self.errors:
            del self.errors["value"]
            given["value"] = ""
        return given

    def _log(self, given: dict[str, Any]) -> PressureLog | None:
        try:
            readings = pressure_logs.read(given["readings"])
        except NoLog as fault:
            self.add_error(
                "readings",
                _now("“%s” cannot be read; write a time and a reading to each line, in order, such as 09:30 5.98.")
                % fault.line[:40],
            )
            return None
        told = {name: given.get(name) for name in ("allowed_drop", "calibrated_on")}
        return PressureLog(readings, unit=given.get("unit", ""), gauge=given.get("gauge", ""), **told)

    def found(self, attachments: Iterable[int]) -> Found:
        given = self.cleaned_data
        return Found(
            passes=given["answer"] == PASSES,
            value=given["value"],
            seen_on=given["seen_on"],
            seen_by=given["seen_by"],
            note=given["note"],
            attachment_ids=tuple(attachments),
            sure=given["sure"],
            log=given["log"],
        )


class SignForm(ProjectForm):
    role = chips(_("Who signs"), [], error_messages={"required": _("Choose who signs.")})
    name = words(_("Name"), 120, widget=forms.TextInput(attrs={"autocomplete": "name"}))
    signed_on = DateField(label=_("Signed on"))
    note = words(_("Note"), 300, required=False)

    def __init__(self, *args: Any, roles: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["role"].choices = [(role, role) for role in roles]  # type: ignore[attr-defined]


class ReasonForm(ProjectForm):
    """Why a signature is taken back, or a hold point away."""

    reason = words(_("Why"), 300)


class VisitForm(ProjectForm):
    visit_on = DateField(label=_("They come on"), required=False, help_text=_("Empty: nobody is booked."))


class OverruleForm(ProjectForm):
    reason = words(_("Why the work goes on all the same"), 400, help_text=_("The owners read this."))
