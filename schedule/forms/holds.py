"""The forms of hold points: what is found, who signs, when they come, and going over one.

What is found is entered on site: the reading or the photograph first, then whether it passes; nothing is ticked beforehand.
"""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from projects.forms import DateField
from projects.forms.entry import ProjectForm
from projects.forms.files import ManyFiles, ManyFilesField
from projects.forms.rows import PatientForm
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

    def __init__(self, *args: Any, evidence: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if evidence == HoldCheck.Evidence.READING:
            self.fields["value"].label = _("Reading, with its unit")
            self.fields["value"].required = True
            self.fields["value"].error_messages["required"] = _now("Give the reading.")
        if evidence in {HoldCheck.Evidence.PHOTOGRAPH, HoldCheck.Evidence.DOCUMENT}:
            self.order_fields(["files", "value"])

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
