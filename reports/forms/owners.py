"""The forms of the owners' page: give a link, issue a report."""

from django import forms
from django.utils.translation import gettext_lazy as _
from django.utils.translation import ngettext

from projects.forms.entry import RefusableForm
from reports.services.links import GOOD_FOR


def _choices() -> list[tuple[int, str]]:
    return [(days, ngettext("%d day", "%d days", days) % days) for days in GOOD_FOR]


class LinkForm(RefusableForm):
    note = forms.CharField(label=_("Whom is it for"), max_length=120)
    days = forms.TypedChoiceField(
        label=_("How long does it work"), coerce=int, choices=_choices, initial=GOOD_FOR[0], widget=forms.RadioSelect
    )


class IssueForm(RefusableForm):
    note = forms.CharField(
        label=_("A word to the owners"),
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=_("Stands at the head of the report; may be left empty."),
    )
