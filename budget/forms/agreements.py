"""The form that accepts a quote, whole or in part."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from budget.forms import fields
from budget.models import Quote, QuoteLine
from budget.services.agreements import Terms
from projects.forms import DateField, MoneyField, PercentField, ProjectForm
from projects.models import Project


class AcceptLineForm(ProjectForm):
    """One line of the quote: taken or not, and at what amount."""

    line_id = forms.IntegerField(widget=forms.HiddenInput)
    taken = forms.BooleanField(label=_("Accept it for this line"), required=False)

    amount = MoneyField(label=_("Agreed amount"), required=False, help_text=_("Empty: as quoted."))
    rest = MoneyField(
        label=_("Still to be let on this line"),
        required=False,
        help_text=_("What this quote leaves for somebody else."),
    )

    def __init__(self, *args: Any, quote: Quote, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].tie(currency=quote.currency, locale=self.project.locale)


class AcceptRows(forms.BaseFormSet):
    def beside(self, columns: Mapping[int, Any]) -> list[tuple[forms.Form, QuoteLine, Any]]:
        """Each row with its line and with what the quote comes to on it."""
        rows = zip(self.forms, self.lines, strict=False)
        return [(form, kept, columns.get(kept.line_id)) for form, kept in rows]

    lines: Sequence[QuoteLine] = ()

    def clean(self) -> None:
        known = {kept.line_id for kept in self.lines}
        if any(form.cleaned_data.get("line_id") not in known for form in self.forms if form.cleaned_data):
            raise forms.ValidationError(_("A line does not belong to this quote; load the page again."))


AcceptFormSet = forms.formset_factory(AcceptLineForm, formset=AcceptRows, extra=0, max_num=500, absolute_max=500)


def accept_rows(project: Project, quote: Quote, lines: Sequence[QuoteLine], data: Any, only: int) -> AcceptRows:
    """One row per line; the line asked for is taken, or all when none is."""
    first = [{"line_id": kept.line_id, "taken": not only or kept.line_id == only} for kept in lines]
    rows = AcceptFormSet(data, prefix="lines", initial=first, form_kwargs={"project": project, "quote": quote})
    rows.lines = lines
    return rows


class AcceptForm(ProjectForm):
    agreed_on = DateField(label=_("Agreed on"))
    retention_percent = PercentField(label=_("Retention"), required=False)
    note = fields.words(_("Note"), 300, required=False)

    def terms(self, rows: AcceptRows) -> Terms:
        taken = [form.cleaned_data for form in rows.forms if form.cleaned_data.get("taken")]
        return Terms(
            amounts={row["line_id"]: row["amount"] for row in taken if row["amount"] is not None},
            only=frozenset(row["line_id"] for row in taken) or frozenset({0}),
            still_to_let={row["line_id"]: row["rest"] for row in taken if row["rest"]},
            retention_percent=self.cleaned_data["retention_percent"],
            note=self.cleaned_data["note"],
        )
