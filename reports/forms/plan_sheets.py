"""Choosing the file that holds a plan."""

from django import forms
from django.utils.translation import gettext_lazy as _

from projects.forms.entry import RefusableForm
from reports.forms.exchange import ACCEPT


class PlanFileForm(RefusableForm):
    file = forms.FileField(
        label=_("Sheet (.xlsx or .csv)"), widget=forms.ClearableFileInput(attrs={"accept": ACCEPT}),
        error_messages={"required": _("Choose a file.")},
    )  # fmt: skip
