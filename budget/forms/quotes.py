"""The form that logs a quote: one page, several lines, what each includes and leaves out.

What was typed survives everything: a refusal, a further row, a look at the scope list of a line just named. Amounts are
in the quote's currency, extras in the project's.
"""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any

from django import forms
from django.utils.translation import get_language
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from budget.forms import fields
from budget.forms.fields import PatientForm
from budget.models import Quote, QuoteExtra, QuoteItem
from budget.services.quotes import ExtraDraft, QuotedLine, QuoteDraft, ScopeDraft
from projects import display
from projects.forms import DateField, MoneyField, NumberField, PercentField
from projects.forms.files import ManyFiles, ManyFilesField
from projects.models import Project
from units.money import CURRENCIES

MOST_LINES, MOST_ENTRIES = 40, 80
Standing = QuoteItem.Standing
STANDINGS = [
    (Standing.INCLUDED.value, _("in")),
    (Standing.OUT.value, _("out")),
    (Standing.UNCLEAR.value, _("unclear")),
    (Standing.BY_OWNER.value, _("by owner")),
]
VALIDITIES = [
    ("30", _("30 days")),
    ("60", _("60 days")),
    ("90", _("90 days")),
    ("date", _("until a date")),
    ("open", _("no end given")),
]
LEAD_UNITS = [("7", _("weeks")), ("1", _("days"))]


@dataclass(frozen=True)
class Desk:
    """What the form has to know of the project."""

    project: Project
    lines: Sequence[tuple[int, str, str]]
    rates: Mapping[str, str]
    vendors: Sequence[str]
    today: date
    currency: str

    @cached_property
    def by_words(self) -> dict[str, int]:
        """{what somebody may type for a line: its id}; a description that two lines share names neither."""
        found = {code.casefold(): pk for pk, code, _text in self.lines}
        texts = [(text.casefold(), pk) for pk, _code, text in self.lines]
        times = Counter(text for text, _pk in texts)
        found.update({text: pk for text, pk in texts if times[text] == 1})
        return found

    def line_called(self, words: str) -> int | None:
        """The line behind "L0203", "L0203 · Slab" or "Slab"."""
        words = " ".join(words.split()).casefold()
        return self.by_words.get(words) or self.by_words.get(words.partition(" · ")[0])

    def label(self, line_id: int) -> str:
        return next((f"{code} · {text}" for pk, code, text in self.lines if pk == line_id), "")


class ScopeForm(PatientForm):
    """What the quote says of one piece of the work."""

    name = fields.words(_("Piece of the work"), 160, required=False)
    #: "1" when the name comes from the scope list of the line and is not typed
    listed = fields.words("", 1, required=False, widget=forms.HiddenInput)
    standing = fields.chips(_("It is"), STANDINGS, required=False)
    amount = MoneyField(
        label=_("Priced apart at"), required=False, widget=forms.TextInput(attrs={"placeholder": _("priced apart")})
    )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if not given.get("name") and (given.get("standing") or given.get("amount") is not None):
            self.add_error("name", _now("Name the piece of the work."))
        return given

    def draft(self, otherwise: str) -> ScopeDraft | None:
        given = self.cleaned_data
        if not given.get("name"):
            return None
        if given["amount"] is not None:
            return ScopeDraft(given["name"], Standing.PRICED, given["amount"])
        standing = given["standing"] or otherwise
        return ScopeDraft(given["name"], standing) if standing else None


class ExtraForm(PatientForm):
    """A cost beside the quote that its vendor does not bill, or a credit."""

    kind = forms.ChoiceField(label=_("Kind"), choices=QuoteExtra.Kind.choices, required=False)
    name = fields.words(_("What"), 160, required=False)
    amount = MoneyField(label=_("Amount"), required=False, negative=True)

    def draft(self) -> ExtraDraft | None:
        given = self.cleaned_data
        if not given.get("amount"):
            return None
        kind = given["kind"] or QuoteExtra.Kind.OTHER
        return ExtraDraft(kind, given["name"] or str(QuoteExtra.Kind(kind).label), given["amount"])


ScopeFormSet: Any = forms.formset_factory(
    ScopeForm, extra=0, max_num=MOST_ENTRIES, absolute_max=MOST_ENTRIES, validate_max=True
)
ExtraFormSet: Any = forms.formset_factory(
    ExtraForm, extra=0, max_num=MOST_ENTRIES, absolute_max=MOST_ENTRIES, validate_max=True
)


def inside(desk: Desk, prefix: str, data: Any, scope: Sequence[str] = ()) -> tuple[Any, Any]:
    """The pieces of work and the extras of one line: what was posted, else the scope list and a blank row each."""
    home, other = {"project": desk.project}, {"project": desk.project, "currency": desk.currency}
    pieces = ScopeFormSet(
        data, prefix=f"{prefix}-scope", initial=[{"name": name, "listed": "1"} for name in scope], form_kwargs=other
    )
    extras = ExtraFormSet(data, prefix=f"{prefix}-extras", form_kwargs=home)
    pieces.extra = extras.extra = 1
    return pieces, extras


class ExpectedWords(forms.CharField):
    """Words that are asked for, although a row left blank is passed over."""

    def validate(self, value: Any) -> None:
        """A row is judged as a whole."""


class ExpectedMoney(MoneyField):
    """An amount that is asked for, although a row left blank is passed over."""

    def validate(self, value: Any) -> None:
        """A row is judged as a whole."""


class QuotedLineForm(PatientForm):
    """The price for one line, with its scope and its extras."""

    line = ExpectedWords(
        label=_("Line"), max_length=240, widget=forms.TextInput(attrs={"list": "lines", "autocomplete": "off"})
    )
    amount = ExpectedMoney(label=_("Amount quoted"))
    rest_in = forms.BooleanField(label=_("Everything not marked is in the price"), required=False)

    def __init__(self, *args: Any, desk: Desk, scope: Sequence[str] = (), patient: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, project=desk.project, currency=desk.currency, **kwargs)
        self.desk, self.patient = desk, patient
        self.scope, self.extras = inside(desk, self.prefix or "", self.data if self.is_bound else None, scope)
        if self.is_bound:
            for form in (*self.scope.forms, *self.extras.forms):
                form.patient = patient

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if not given.get("line") and given.get("amount") is not None:
            self.add_error("line", _now("Choose the line that this amount is for."))
        if given.get("line") and self.line_id is None:
            self.add_error("line", _now("No line is called that; choose one from the list or type its code."))
        self._check_inside()
        return given

    def _check_inside(self) -> None:
        for formset in (self.scope, self.extras):
            if not formset.is_valid():
                for fault in formset.non_form_errors():
                    self.add_error(None, fault)
                if any(formset.errors):
                    self.add_error(None, _now("Look at the pieces of the work and the extras of this line."))

    @property
    def extras_opened(self) -> bool:
        return any(form["amount"].value() or form.errors for form in self.extras.forms)

    @property
    def opened(self) -> bool:
        """Whether somebody has said something of the scope."""
        return any(form["name"].value() or form.errors for form in self.scope.forms)

    @property
    def line_id(self) -> int | None:
        return self.desk.line_called(self.cleaned_data.get("line") or "")

    def draft(self) -> QuotedLine | None:
        line_id = self.line_id
        if line_id is None:
            return None
        otherwise = Standing.INCLUDED.value if self.cleaned_data["rest_in"] else ""
        scope = (form.draft(otherwise) for form in self.scope.forms)
        extras = (form.draft() for form in self.extras.forms)
        return QuotedLine(
            line_id,
            self.cleaned_data["amount"],
            scope=tuple(entry for entry in scope if entry),
            extras=tuple(extra for extra in extras if extra),
        )


class LineRows(forms.BaseFormSet):
    """The lines of one quote."""

    def __init__(
        self, *args: Any, desk: Desk, scopes: Mapping[int, Sequence[str]], patient: bool = False, **kwargs: Any
    ) -> None:
        self.scopes = scopes
        super().__init__(*args, form_kwargs={"desk": desk, "patient": patient}, **kwargs)

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        scope = self.scopes.get(index, ()) if index is not None and not self.is_bound else ()
        return super().get_form_kwargs(index) | {"scope": scope}

    def drafts(self) -> tuple[QuotedLine, ...]:
        rows = [form.draft() for form in self.forms if not form.cleaned_data.get("DELETE")]
        return tuple(row for row in rows if row)


QuotedLineFormSet: Any = forms.formset_factory(
    QuotedLineForm,
    formset=LineRows,
    extra=0,
    can_delete=True,
    max_num=MOST_LINES,
    absolute_max=MOST_LINES,
    validate_max=True,
)


class QuoteChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Any) -> str:
        return f"{obj.vendor} · {display.day(obj.quoted_on, get_language() or 'en-gb')}"


class QuoteForm(PatientForm):
    """The head of a quote: who, when, how long, and what goes over all its lines."""

    vendor = fields.words(_("Vendor"), 160, widget=forms.TextInput(attrs={"list": "vendors", "autocomplete": "off"}))
    files = ManyFilesField(
        label=_("Photograph or PDF"),
        required=False,
        widget=ManyFiles(attrs={"accept": "image/*,application/pdf", "multiple": True}),
    )
    quoted_on = DateField(label=_("Date of the quote"))
    validity = fields.chips(_("It holds for"), VALIDITIES)
    valid_until = DateField(label=_("Until"), required=False)
    lead = forms.IntegerField(label=_("Lead time"), required=False, min_value=0, max_value=2000)
    lead_unit = fields.chips(_("counted in"), LEAD_UNITS)
    basis = fields.chips(_("The price is"), Quote.Basis.choices)
    currency = forms.ChoiceField(label=_("Currency"))
    rate = NumberField(label=_("Rate"), required=False, places=10, above=0)
    discount = MoneyField(label=_("Discount as an amount"), required=False, currency_from="currency")
    freight = MoneyField(label=_("Freight"), required=False, currency_from="currency")
    discount_percent = PercentField(label=_("Discount in %"), required=False)
    tax_percent = PercentField(
        label=_("Tax to be added"), required=False, help_text=_("Tax that you cannot reclaim and that comes on top.")
    )
    tax_inside_percent = PercentField(
        label=_("Tax inside the amounts"),
        required=False,
        help_text=_("Reclaimable tax that the amounts contain; it is taken out."),
    )
    deposit_percent = PercentField(label=_("Deposit"), required=False)
    payment_terms = fields.words(_("Payment terms"), 200, required=False)
    delivery_terms = fields.words(_("Delivery terms"), 100, required=False)
    method = fields.words(_("Way of building it"), 200, required=False)
    reference = fields.words(_("The vendor's reference"), 60, required=False)
    note = fields.long_words(_("Note"), 2000)
    replaces = QuoteChoice(
        Quote.objects.none(), label=_("It replaces"), required=False, empty_label=_("no earlier quote")
    )
    again = forms.BooleanField(label=_("It is a further quote, log it all the same"), required=False)

    #: What stays behind "More" unless it is filled in.
    MORE = (
        "discount", "discount_percent", "freight", "tax_percent", "tax_inside_percent", "deposit_percent", "payment_terms",
        "delivery_terms", "method", "reference", "note", "replaces",
    )  # fmt: skip

    def __init__(self, desk: Desk, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, project=desk.project, **kwargs)
        self.desk = desk
        project = desk.project
        self.fields["currency"].choices = currency_choices(desk)
        self.fields["rate"].help_text = _now("How many %(own)s one unit is worth. Empty: the budget rate.") % {
            "own": project.currency
        }
        self.fields["replaces"].queryset = Quote.objects.filter(project=project, state=Quote.State.OPEN).select_related(
            "vendor"
        )

    @property
    def opened(self) -> bool:
        """Whether something behind "More" is filled in or wrong."""
        return any(self[name].errors or self[name].value() not in (None, "") for name in self.MORE)

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        if given.get("validity") == "date" and not given.get("valid_until") and "valid_until" not in self.errors:
            self.add_error("valid_until", _now("Give the date, or choose how long it holds."))
        return given

    def draft(self, lines: tuple[QuotedLine, ...], attachments: Sequence[int]) -> QuoteDraft:
        given = self.cleaned_data
        replaces = given["replaces"]
        return QuoteDraft(
            vendor=given["vendor"],
            currency=given["currency"],
            quoted_on=given["quoted_on"],
            lines=lines,
            rate=given["rate"],
            basis=given["basis"],
            valid_until=_valid_until(given),
            lead_days=None if given["lead"] is None else given["lead"] * int(given["lead_unit"]),
            discount_quoted_minor=given["discount"] or 0,
            freight_quoted_minor=given["freight"] or 0,
            attachments=tuple(attachments),
            replaces_id=replaces.pk if replaces else None,
            **{name: given[name] for name in _AS_GIVEN},
        )


_AS_GIVEN = (
    "discount_percent", "tax_percent", "tax_inside_percent", "deposit_percent", "payment_terms", "delivery_terms", "method",
    "reference", "note",
)  # fmt: skip


def currency_choices(desk: Desk) -> list[tuple[str, str]]:
    near = [desk.project.currency, *(code for code in desk.rates if code != desk.project.currency)]
    known = [(code, f"{code} · {desk.rates[code]}" if code in desk.rates else code) for code in near]
    return known + [(code, code) for code in CURRENCIES if code not in near]


def _valid_until(given: Mapping[str, Any]) -> date | None:
    choice = given["validity"]
    if choice == "date":
        return given["valid_until"]
    return None if choice == "open" else given["quoted_on"] + timedelta(days=int(choice))


ROW_SET = re.compile(r"lines(?:-\d{1,3}-(?:scope|extras))?")
ROW = re.compile(r"lines-(?:\d{1,3}|__prefix__)")


def start(desk: Desk, old: Quote | None) -> dict[str, Any]:
    """How a form starts: today, thirty days, the project's currency, or as the quote that is to be replaced."""
    first = {
        "quoted_on": desk.today, "validity": "30", "lead_unit": "7", "basis": Quote.Basis.FIRM, "currency": desk.currency,
    }  # fmt: skip
    if old is None:
        return first
    lead = {} if old.lead_days is None else {"lead": old.lead_days, "lead_unit": "1"}
    return (
        first | {name: getattr(old, name) for name in _STAYS} | {"vendor": old.vendor.name, "replaces": old.pk} | lead
    )


#: What a quote that replaces another most likely has in common with it.
_STAYS = (
    "basis", "discount_percent", "tax_percent", "tax_inside_percent", "deposit_percent", "payment_terms", "delivery_terms", "method",
)  # fmt: skip


def with_more(data: Any, desk: Desk, scopes: Mapping[int, Sequence[str]]) -> Any:
    """What was posted, with one more blank row where one was asked for, and with the scope lists of the lines named."""
    data = data.copy()
    if ROW_SET.fullmatch(asked := data.get("more_rows", "")):
        _one_more(data, asked)
    if "more_rows" in data or "look" in data:
        for index in range(min(_total(data, "lines"), MOST_LINES)):
            line_id = desk.line_called(data.get(f"lines-{index}-line", ""))
            if line_id is not None:
                _offer_scope(data, f"lines-{index}-scope", scopes.get(line_id, ()))
    return data


def _total(data: Any, prefix: str) -> int:
    text = data.get(f"{prefix}-TOTAL_FORMS", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 4 else 0


def _one_more(data: Any, prefix: str) -> None:
    total = _total(data, prefix)
    data[f"{prefix}-TOTAL_FORMS"] = str(total + 1)
    if prefix == "lines":
        for part in (f"lines-{total}-scope", f"lines-{total}-extras"):
            data[f"{part}-TOTAL_FORMS"], data[f"{part}-INITIAL_FORMS"] = "1", "0"


def _offer_scope(data: Any, prefix: str, names: Sequence[str]) -> None:
    total = _total(data, prefix)
    given = {data.get(f"{prefix}-{index}-name", "").strip().casefold() for index in range(min(total, MOST_ENTRIES))}
    for name in names:
        if name.casefold() not in given:
            data[f"{prefix}-{total}-name"], data[f"{prefix}-{total}-listed"] = name, "1"
            total += 1
            data[f"{prefix}-TOTAL_FORMS"] = str(total)
