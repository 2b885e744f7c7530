"""Recording a decision: why, at which prices, over which objections, and what kind of saving it is."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from decisions.models import SavingKind
from decisions.selectors.recording import Bar, Ground, Priced
from decisions.services.records import Choice, SavingDraft
from projects.forms import MoneyField, ProjectForm

#: What a part of a saving may be besides the same function for less; effects are counted of themselves.
OTHER_KINDS = (
    SavingKind.SCOPE_CUT,
    SavingKind.LOWER_QUALITY,
    SavingKind.DEFERRAL,
    SavingKind.MOVED,
    SavingKind.AVOIDED,
)


class RecordForm(ProjectForm):
    reason = forms.CharField(
        label=gettext_lazy("Why this one"), max_length=2000, widget=forms.Textarea(attrs={"rows": 4}),
        help_text=gettext_lazy("In a year it is what you will look for."),
    )  # fmt: skip
    option = forms.IntegerField(widget=forms.HiddenInput)
    version = forms.IntegerField(widget=forms.HiddenInput)
    seen = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)
    #: A place for what a service says about the savings as a whole.
    savings = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, ground: Ground, **kwargs: Any) -> None:
        super().__init__(*args, project=ground.project, **kwargs)
        self.ground = ground
        for priced in ground.priced:
            self._add_amount(priced)
        for bar in ground.bars:
            label = _("Overrule “%s”: why") % bar.check.name
            self.fields[self.overrule(bar)] = forms.CharField(label=label, required=False, max_length=500)
        for kind in OTHER_KINDS:
            self._add_kind(kind)

    def _add_amount(self, priced: Priced) -> None:
        quote = priced.quote
        words = {"vendor": quote.vendor.name, "currency": quote.currency}
        field = MoneyField(label=_("Agreed with %(vendor)s, in %(currency)s") % words, required=False)
        field.tie(currency=quote.currency, locale=self.project.locale)
        self.fields[self.amount(priced)] = field

    def _add_kind(self, kind: SavingKind) -> None:
        field = MoneyField(label=str(kind.label), required=False)
        field.tie(currency=self.project.currency, locale=self.project.locale)
        self.fields[f"kind-{kind.name}"] = field
        self.fields[f"what-{kind.name}"] = forms.CharField(label=_("What"), required=False, max_length=200)

    @staticmethod
    def amount(priced: Priced) -> str:
        return f"amount-{priced.line_id}"

    @staticmethod
    def overrule(bar: Bar) -> str:
        return f"overrule-{bar.check.pk}"

    @property
    def amounts(self) -> list[tuple[Priced, forms.BoundField]]:
        return [(priced, self[self.amount(priced)]) for priced in self.ground.priced]

    @property
    def overrules(self) -> list[tuple[Bar, forms.BoundField]]:
        return [(bar, self[self.overrule(bar)]) for bar in self.ground.bars]

    @property
    def kinds(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"kind-{kind.name}"], self[f"what-{kind.name}"]) for kind in OTHER_KINDS]

    @property
    def has_kinds(self) -> bool:
        """Tell whether a kind was entered or refused, so that the page shows them opened."""
        return bool(self.errors.get("savings")) or any(amount.value() or amount.errors for amount, _what in self.kinds)

    def choice(self) -> Choice:
        """What is decided, from what was entered."""
        held = self.cleaned_data
        amounts = {p.line_id: held[self.amount(p)] for p in self.ground.priced if held[self.amount(p)] is not None}
        overruled = {bar.check.pk: held[self.overrule(bar)] for bar in self.ground.bars if held[self.overrule(bar)]}
        savings = tuple(
            SavingDraft(kind, held[f"kind-{kind.name}"], held[f"what-{kind.name}"])
            for kind in OTHER_KINDS
            if held[f"kind-{kind.name}"]
        )
        return Choice(held["option"], held["reason"], amounts, overruled, savings)
