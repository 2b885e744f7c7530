"""Forms about one line or trade; each makes what its service takes."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from budget.forms import fields
from budget.models import LineItem, QuoteLine, Trade
from budget.services.lines import LineDraft
from projects import display
from projects.faults import Refused
from projects.forms import DateField, MoneyField, NumberField, ProjectForm
from projects.models import Project


class TradeForm(ProjectForm):
    code = fields.words(_("Code"), 12, help_text=_("Short and its own, such as T16."))
    name = fields.words(_("Name"), 120)


class LineForm(ProjectForm):
    """A further line: in the first budget, or added since."""

    trade = forms.ModelChoiceField(Trade.objects.none(), label=_("Trade"), empty_label=_("choose"))
    code = fields.words(_("Code"), 20)
    description = fields.words(_("Description"), 200)
    kind = fields.chips(_("Kind"), LineItem.Kind.choices)
    unit = fields.words(_("Unit"), 20, required=False)
    quantity = NumberField(label=_("Quantity"), required=False, least=0)
    added = fields.chips(
        _("When was it known"),
        [
            ("no", _("in the first budget")),
            ("yes", _("added since: it moves the likely final, the first budget stays")),
        ],
    )

    amount = MoneyField(label=_("Amount"), help_text=_("The budget amount, or the estimate of added work."))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["trade"].queryset = Trade.objects.filter(project=self.project)

    def draft(self) -> LineDraft:
        given = self.cleaned_data
        added = given["added"] == "yes"
        return LineDraft(
            trade_code=given["trade"].code,
            code=given["code"],
            description=given["description"],
            budget_minor=0 if added else given["amount"],
            added_minor=given["amount"] if added else 0,
            kind=given["kind"],
            unit=given["unit"],
            quantity=given["quantity"],
        )


class EditLineForm(ProjectForm):
    description = fields.words(_("Description"), 200)
    unit = fields.words(_("Unit"), 20, required=False)
    quantity = NumberField(label=_("Quantity"), required=False, least=0)
    plug_rule = fields.chips(
        _("A gap nobody of us has priced is plugged with"),
        LineItem.PlugRule.choices,
        help_text=_("What other quotes on this line say the missing piece costs."),
    )
    version = forms.IntegerField(widget=forms.HiddenInput)


class EstimateForm(ProjectForm):
    amount = MoneyField(label=_("Estimate"))
    basis = fields.words(_("What it rests on"), 300, help_text=_("A rate, a telephone call, the last job."))
    estimated_on = DateField(label=_("Date"))


class OwnForecastForm(ProjectForm):
    """The lead's own figure; an empty amount lifts the one that stands."""

    amount = MoneyField(label=_("Own forecast"))
    reason = fields.words(_("Why"), 300)

    def __init__(self, *args: Any, stands: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].required = not stands
        if stands:
            self.fields["amount"].help_text = _("Leave it empty to lift the own forecast that stands.")


class OriginalForm(ProjectForm):
    """Which complete quote the savings of a line are measured against."""

    quote = fields.chips(_("Measured against"), [])
    reason = fields.words(_("Why the yardstick changes"), 300)

    def __init__(self, *args: Any, quotes: Sequence[QuoteLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quote"].choices = [
            (
                str(kept.quote_id),
                f"{kept.quote.vendor} · {display.money(kept.levelled_minor, self.project, brief=True)}",
            )
            for kept in quotes
            if kept.complete
        ]


class ReasonForm(ProjectForm):
    reason = fields.words(_("Why"), 300)


class RenewForm(ProjectForm):
    valid_until = DateField(label=_("Holds until"))
    note = fields.words(_("Who confirmed it, and how"), 200, required=False)


class ScopeEntryForm(ProjectForm):
    """One entry of a scope list, with the project's own plug where there is one."""

    name = fields.words(_("Piece of the work"), 160)
    plug = MoneyField(label=_("Own plug"), required=False)


class ScopeRows(forms.BaseFormSet):
    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.refusals: list[str] = []

    def refuse(self, fault: Refused) -> None:
        """Take a service's refusal; a formset has no fields of its own."""
        self.refusals.append(fault.message)


ScopeListFormSet = forms.formset_factory(
    ScopeEntryForm, formset=ScopeRows, extra=2, can_delete=True, max_num=200, absolute_max=200, validate_max=True
)


def scope_list(project: Project, data: Any, entries: Sequence[tuple[str, int | None]]) -> ScopeRows:
    """The scope list as a formset: what was posted, else what stands; a posted row is never taken for unchanged."""
    stands = [] if data else [{"name": name, "plug": plug} for name, plug in entries]
    return ScopeListFormSet(data or None, prefix="scope", initial=stands, form_kwargs={"project": project})


def scope_entries(formset: Any) -> list[tuple[str, int | None]]:
    """The rows that were filled in and not struck out, in order."""
    rows = [form.cleaned_data for form in formset.forms if form.cleaned_data and not form.cleaned_data.get("DELETE")]
    return [(row["name"], row["plug"]) for row in rows if row.get("name")]


def rows_posted(data: Any, prefix: str) -> tuple[Any, bool]:
    """What was posted, and whether a further blank row was asked for, which it then holds."""
    if not data.get("more_rows"):
        return data, False
    total = data.get(f"{prefix}-TOTAL_FORMS", "")
    data = data.copy()
    data[f"{prefix}-TOTAL_FORMS"] = str(int(total) + 1 if total.isascii() and total.isdigit() and len(total) < 4 else 1)
    return data, True
