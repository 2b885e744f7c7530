"""An owner's answer to a record, and the reason for which a decision is taken back."""

from django import forms
from django.utils.translation import gettext_lazy as _

from decisions.models import Approval


class AnswerForm(forms.Form):
    verdict = forms.ChoiceField(choices=Approval.Verdict, widget=forms.HiddenInput)
    note = forms.CharField(
        label=_("Note"), required=False, max_length=500, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("When you decline: what has to change."),
    )  # fmt: skip


class ReopenForm(forms.Form):
    reason = forms.CharField(
        label=_("Why it is taken back"), max_length=500, widget=forms.Textarea(attrs={"rows": 3}),
        help_text=_("It stays in the record, with your name."),
    )  # fmt: skip
