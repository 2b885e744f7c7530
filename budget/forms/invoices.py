"""The forms of invoices: entering one, saying what is decided, paying it, and what was seen done.

Amounts are typed as they stand on the paper, in its own currency; a credit note is chosen and not typed with a minus. What
is left empty is filled in by what was agreed, and shown before anything is kept.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from budget.forms import fields
from budget.forms.fields import PatientForm
from budget.forms.quotes import Desk as QuoteDesk
from budget.forms.quotes import ExpectedMoney, ExpectedWords, currency_choices
from budget.models import Invoice
from budget.selectors.invoices import InvoicePage
from budget.selectors.proposals import Typed
from budget.services.invoices import InvoicedLine, InvoiceDraft
from projects.faults import Refused
from projects.fields import as_plain_text
from projects.forms import DateField, MoneyField, NumberField, PercentField, ProjectForm
from projects.forms.files import ManyFiles, ManyFilesField
from projects.models import Project
from units import amounts

MOST_LINES = 60


@dataclass(frozen=True)
class Desk(QuoteDesk):
    """What the form has to know of the project: lines, vendors, rates, and the changes that may be billed."""

    changes: Sequence[tuple[int, str, int]] = ()

    def change_called(self, words: str) -> tuple[int, int] | None:
        """The change behind "C12" or "C12 · Extra sockets", with its line."""
        code = words.strip().casefold().partition(" \u00b7 ")[0]
        found = ((pk, line) for pk, label, line in self.changes if label.casefold().partition(" \u00b7 ")[0] == code)
        return next(found, None)


class InvoicedLineForm(PatientForm):
    """What is billed on one line."""

    line = ExpectedWords(
        label=_("Line"), max_length=240, widget=forms.TextInput(attrs={"list": "lines", "autocomplete": "off"})
    )
    net = ExpectedMoney(label=_("Net amount"))
    retention = MoneyField(label=_("Retention held"), required=False, help_text=_("Empty: as agreed."))
    change = fields.words(
        _("For change"), 240, required=False, widget=forms.TextInput(attrs={"list": "changes", "autocomplete": "off"})
    )

    def __init__(self, *args: Any, desk: Desk, patient: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, project=desk.project, currency=desk.currency, **kwargs)
        self.desk, self.patient = desk, patient

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if not given.get("line") and given.get("net") is not None:
            self.add_error("line", _now("Choose the line that this amount is for."))
        if given.get("line") and self.line_id is None:
            self.add_error("line", _now("No line is called that; choose one from the list or type its code."))
        if given.get("line") and given.get("net") is None and "net" not in self.errors:
            self.add_error("net", _now("Give the net amount billed on it."))
        if given.get("change"):
            self._check_change(given["change"])
        return given

    def _check_change(self, words: str) -> None:
        found = self.desk.change_called(words)
        if found is None:
            self.add_error("change", _now("No change is called that; choose one from the list."))
        elif self.line_id is not None and found[1] != self.line_id:
            self.add_error("change", _now("This change belongs to another line."))

    @property
    def line_id(self) -> int | None:
        return self.desk.line_called(self.cleaned_data.get("line") or "")

    def typed(self) -> Typed | None:
        if self.line_id is None:
            return None
        given = self.cleaned_data
        change = self.desk.change_called(given["change"]) if given["change"] else None
        return Typed(self.line_id, given["net"], given["retention"], change[0] if change else None)


class InvoicedRows(forms.BaseFormSet):
    """The lines of one invoice."""

    def __init__(self, *args: Any, desk: Desk, patient: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, form_kwargs={"desk": desk, "patient": patient}, **kwargs)

    def typed(self) -> list[tuple[int, Typed]]:
        """The rows that were filled in, with their places."""
        rows = [(place, form) for place, form in enumerate(self.forms) if form.cleaned_data]
        found = [(place, form.typed()) for place, form in rows if not form.cleaned_data.get("DELETE")]
        return [(place, row) for place, row in found if row]


InvoicedLineFormSet: Any = forms.formset_factory(
    InvoicedLineForm, formset=InvoicedRows, extra=0, can_delete=True, max_num=MOST_LINES, absolute_max=MOST_LINES,
    validate_max=True,
)  # fmt: skip


class InvoiceForm(PatientForm):
    """The head of an invoice or credit note."""

    vendor = fields.words(_("Vendor"), 160, widget=forms.TextInput(attrs={"list": "vendors", "autocomplete": "off"}))
    number = fields.words(_("Number on it"), 60, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    kind = fields.chips(_("It is"), [("invoice", _("an invoice")), ("credit", _("a credit note"))])
    invoiced_on = DateField(label=_("Its date"))
    tax_percent = PercentField(label=_("Rate of tax on it"), required=False, help_text=_("0 where it bears none."))
    tax = MoneyField(
        label=_("Tax on it"),
        required=False,
        currency_from="currency",
        help_text=_("As it stands there. Empty: by the rate."),
    )
    files = ManyFilesField(
        label=_("Photograph or PDF"), required=False,
        widget=ManyFiles(attrs={"accept": "image/*,application/pdf", "multiple": True}),
    )  # fmt: skip
    bank = fields.words(
        _("Account it asks to be paid to"), 80, required=False, widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text=_("A fingerprint and the last four signs are kept, never the number."),
    )  # fmt: skip
    due_on = DateField(label=_("Due on"), required=False)
    received_on = DateField(label=_("Came in on"), required=False)
    currency = forms.ChoiceField(label=_("Currency"))
    rate = NumberField(label=_("Rate"), required=False, places=10, above=0)
    note = fields.long_words(_("Note"), 2000)
    credits = forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1, max_value=10**9)

    #: What stays behind "More" unless it is filled in.
    MORE = ("received_on", "rate", "note")

    def __init__(self, desk: Desk, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, project=desk.project, **kwargs)
        self.desk = desk
        self.fields["currency"].choices = currency_choices(desk)
        self.fields["due_on"].help_text = _now("Empty: by the terms of the quote, where they give days.")
        self.fields["rate"].help_text = _now("How many %(own)s one unit is worth. Empty: today\u2019s rate.") % {
            "own": desk.project.currency
        }

    @property
    def opened(self) -> bool:
        """Whether something behind "More" is filled in or wrong."""
        other = self["currency"].value() not in (None, self.project.currency)
        return other or any(self[name].errors or self[name].value() not in (None, "") for name in self.MORE)

    @property
    def is_credit(self) -> bool:
        return self.cleaned_data["kind"] == Invoice.Kind.CREDIT

    def refuse(self, fault: Refused, *, version: int | None = None) -> None:
        """A refusal at the field that nobody sees is said at the head."""
        super().refuse(Refused(fault.message) if fault.field == "credits" else fault, version=version)

    def draft(self, lines: tuple[InvoicedLine, ...], attachments: Sequence[int]) -> InvoiceDraft:
        given = self.cleaned_data
        return InvoiceDraft(
            lines=lines,
            attachment_ids=tuple(attachments),
            credits_id=given["credits"],
            **{name: given[name] for name in _AS_GIVEN},
        )


_AS_GIVEN = (
    "vendor", "number", "kind", "currency", "invoiced_on", "rate", "received_on", "due_on", "tax_percent", "bank", "note",
)  # fmt: skip


def start(desk: Desk, asked: Mapping[str, str]) -> dict[str, Any]:
    """How a form starts: today, the project's currency and its rate of tax."""
    at_home = desk.currency == desk.project.currency
    return {
        "vendor": asked.get("vendor", "")[:160],
        "kind": Invoice.Kind.INVOICE,
        "invoiced_on": desk.today,
        "currency": desk.currency,
        "tax_percent": desk.project.tax_percent if at_home else None,
    }


def start_credit(desk: Desk, page: InvoicePage) -> tuple[dict[str, Any], list[dict[str, Any]]]:
    """How a credit note starts that is entered from its invoice: the same vendor and lines, no amounts."""
    invoice = page.invoice
    head = start(desk, {}) | {
        "vendor": invoice.vendor.name,
        "number": "" if page.credits else f"{invoice.number}-CN"[:60],
        "kind": Invoice.Kind.CREDIT,
        "currency": invoice.currency,
        "tax_percent": invoice.tax_percent,
        "credits": invoice.pk,
    }
    rows = [
        {"line": desk.label(one.row.line_id), "change": _change_label(desk, one.row.change_id), "retention": 0}
        for one in page.lines
    ]
    return head, rows


def _change_label(desk: Desk, change_id: int | None) -> str:
    return next((label for pk, label, _line in desk.changes if pk == change_id), "")


def with_more(data: Any) -> Any:
    """What was posted, with one more blank row where one was asked for."""
    if data.get("more_rows") != "lines":
        return data
    data, total = data.copy(), data.get("lines-TOTAL_FORMS", "")
    data["lines-TOTAL_FORMS"] = str(int(total) + 1 if total.isascii() and total.isdigit() and len(total) < 4 else 1)
    return data


def filled(data: Any, form: InvoiceForm, typed: Sequence[tuple[int, Typed]], lines: Sequence[InvoicedLine]) -> Any:
    """What was posted, with the empty retention and tax filled in, so that they can be held against the paper."""
    data = data.copy()
    for (place, row), line in zip(typed, lines, strict=True):
        if row.retention_minor is None:
            data[f"lines-{place}-retention"] = _written(form, abs(line.retention_quoted_minor))
    if form.cleaned_data["tax"] is None:
        data["tax"] = _written(form, abs(sum(line.tax_quoted_minor for line in lines)))
    return data


def _written(form: InvoiceForm, minor: int) -> str:
    field = form.fields["tax"]
    return amounts.for_entry(minor, currency=form.cleaned_data["currency"], decimal_mark=field.decimal_mark)


class ApproveForm(ProjectForm):
    """Approving; a reason is asked for where the verdict is to ask the vendor first."""

    note = fields.long_words(_("Reason"), 500)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, asks: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["note"].required = asks


class NoteForm(ProjectForm):
    note = fields.long_words(_("Why"), 500, required=True)


class PayForm(ProjectForm):
    amount = MoneyField(label=_("Amount paid"))
    paid_on = DateField(label=_("Paid on"))
    rate = NumberField(label=_("Rate of the day"), required=False, places=10, above=0)
    reference = fields.words(_("Reference"), 120, required=False, help_text=_("As it stands on the bank statement."))
    note = fields.words(_("Note"), 300, required=False)

    def __init__(self, *args: Any, project: Project, invoice: Invoice, open_minor: int, **kwargs: Any) -> None:
        super().__init__(*args, project=project, currency=invoice.currency, **kwargs)
        self.sign = -1 if open_minor < 0 else 1
        self.initial.setdefault("amount", abs(open_minor))
        if invoice.currency == project.currency:
            del self.fields["rate"]
        else:
            self.fields["rate"].help_text = _now(
                "Empty: today\u2019s rate, else %s as on the invoice."
            ) % as_plain_text(invoice.rate)
        if self.sign < 0:
            self.fields["amount"].label = _now("Amount got back or set off")
            self.fields["paid_on"].label = _now("On")

    def asked(self) -> dict[str, Any]:
        """What the service takes."""
        given = dict(self.cleaned_data)
        return {"amount_quoted_minor": self.sign * given.pop("amount"), "rate": given.pop("rate", None), **given}


class ConfirmBankForm(ProjectForm):
    how = fields.long_words(_("Whom you rang, and on which number you knew before"), 300, required=True)


class BankForm(ProjectForm):
    bank = fields.words(
        _("Account with its sort or bank code"), 80, widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text=_("A fingerprint and the last four signs are kept, never the number."),
    )  # fmt: skip


class SeenForm(PatientForm):
    percent = PercentField(label=_("Seen done"), help_text=_("Of the whole work of this line, whatever was billed."))
    seen_on = DateField(label=_("Seen on"))
    note = fields.words(_("What you saw"), 300, required=False)
    files = forms.FileField(
        label=_("Photograph"), required=False, widget=forms.FileInput(attrs={"accept": "image/*,application/pdf"})
    )
