"""Forms about retention, payment stages, goods that arrive, and funding; each makes what its service takes."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from budget.forms import fields
from budget.models import FundingSource, PaymentStage
from budget.services.stages import StageDraft
from projects.faults import Refused
from projects.forms import DateField, MoneyField, PercentField, ProjectForm
from projects.forms.files import ManyFiles, ManyFilesField
from projects.models import Project


class ReleaseForm(ProjectForm):
    amount = MoneyField(
        label=_("Amount"), required=False, help_text=_("Left empty: what is due on the day.")
    )  # fmt: skip
    released_on = DateField(label=_("Paid out on"))
    note = fields.words(
        _("Note"), 300, required=False, help_text=_("Who saw the snags done, and the vendor\u2019s reference.")
    )


class ArriveForm(ProjectForm):
    patient = False

    arrived_on = DateField(label=_("On site since"))
    note = fields.words(
        _("What was seen"), 300, required=False, help_text=_("Counted, marked, undamaged; where it stands now.")
    )
    files = ManyFilesField(
        label=_("Photograph"), required=False, widget=ManyFiles(attrs={"accept": "image/*,application/pdf"})
    )


class SourceForm(ProjectForm):
    name = fields.words(_("Who gives it"), 120, help_text=_("Shares, a grant, a loan."))
    amount = MoneyField(label=_("Promised"))
    note = fields.words(_("On what terms"), 300, required=False, help_text=_("When it can be drawn, and what for."))
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)


class ReceiptForm(ProjectForm):
    source = fields.chosen(_("From"))
    amount = MoneyField(label=_("Amount"))
    received_on = DateField(label=_("In the bank on"))
    note = fields.words(_("Note"), 300, required=False)

    def __init__(self, *args: Any, sources: Sequence[FundingSource], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["source"].choices = [("", _("choose")), *((str(row.pk), row.name) for row in sources)]


# --- stages -----------------------------------------------------------------------------------------------------


class RetentionStageForm(ProjectForm):
    name = fields.words(_("When what is done"), 120)
    share_percent = PercentField(label=_("Share"))
    due_on = DateField(label=_("Day"), required=False)


class PaymentStageForm(ProjectForm):
    kind = fields.chips(_("Kind"), PaymentStage.Kind.choices)
    name = fields.words(_("Called"), 120)
    share_percent = PercentField(label=_("Share"), required=False)
    amount_quoted_minor = MoneyField(label=_("or amount"), required=False)
    due_on = DateField(label=_("Day"), required=False)


class StageRows(forms.BaseFormSet):
    """Rows of stages; a service's refusal finds its row."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.refusals: list[str] = []

    def filled(self) -> list[forms.Form]:
        """The rows that were filled in and not struck out, in order."""
        rows = [row for row in self.forms if row.has_changed() or row.initial]
        return [row for row in rows if row.cleaned_data.get("name") and not row.cleaned_data.get("DELETE")]

    def refuse(self, fault: Refused) -> None:
        """Show a refusal at the field of the row it names, or at the head."""
        _prefix, _dash, place = fault.field.partition("rows-")
        number, _dash, name = place.partition("-")
        rows = self.filled()
        if number.isdigit() and int(number) < len(rows) and name in rows[int(number)].fields:
            rows[int(number)].add_error(name, fault.message)
        else:
            self.refusals.append(fault.message)


def _rows(form: type[ProjectForm]) -> Any:
    return forms.formset_factory(
        form, formset=StageRows, extra=1, can_delete=True, max_num=60, absolute_max=60, validate_max=True
    )


RetentionStages, PaymentStages = _rows(RetentionStageForm), _rows(PaymentStageForm)


def retention_rows(project: Project, data: Any, stands: Sequence[Any]) -> StageRows:
    """The stages of a retention: what was posted, else what stands."""
    start = [] if data else [{"name": row.name, "share_percent": row.share, "due_on": row.due_on} for row in stands]
    return RetentionStages(data or None, prefix="rows", initial=start, form_kwargs={"project": project})


def payment_rows(project: Project, currency: str, data: Any, stands: Sequence[Any]) -> StageRows:
    """The stages of a payment plan, with amounts in the agreement's currency."""
    names = ("kind", "name", "share_percent", "amount_quoted_minor", "due_on")
    start = [] if data else [{name: getattr(row, name) for name in names} for row in stands]
    told = {"project": project, "currency": currency}
    return PaymentStages(data or None, prefix="rows", initial=start, form_kwargs=told)


def retention_drafts(rows: StageRows) -> list[tuple[str, Decimal, date | None]]:
    """What `retention.set_stages` takes."""
    given = [row.cleaned_data for row in rows.filled()]
    return [(row["name"], row["share_percent"], row["due_on"]) for row in given]


def payment_drafts(rows: StageRows) -> list[StageDraft]:
    """What `stages.set_payment_stages` takes."""
    names = ("kind", "name", "share_percent", "amount_quoted_minor", "due_on")
    return [StageDraft(**{name: row.cleaned_data[name] for name in names}) for row in rows.filled()]
