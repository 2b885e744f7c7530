"""One way to build it, as it is entered."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from decisions.forms.option_plan import PlanEntry
from decisions.forms.rows import CodeField, PatientForm, Rows, grown, rows_of
from decisions.models import CheckResult
from decisions.selectors.entry import Ground, QuoteChoice, Standing
from decisions.services.drafts import LONGEST_DAYS, AxisDraft, CheckDraft, EffectDraft, ItemDraft, OptionDraft
from projects import display
from projects.forms import ChanceField, MoneyField, NumberField, PercentField

#: How far a thing can still be moved once it is placed, from a turn of the hand to not at all.
LADDER = (
    ("turn a nut", _("turn a nut")),
    ("unbolt", _("unbolt")),
    ("cut and weld", _("cut and weld")),
    ("grind or patch", _("grind or patch")),
    ("break out", _("break out")),
    ("cannot", _("cannot be moved")),
)


def _days(label: Any, help_text: Any = "") -> forms.IntegerField:
    return forms.IntegerField(label=label, required=False, min_value=0, max_value=LONGEST_DAYS, help_text=help_text)


class OptionForm(PatientForm):
    name = forms.CharField(label=_("Name of this way to build it"), max_length=160)
    note = forms.CharField(label=_("Note"), required=False, max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))
    lead_days = _days(_("Lead time"), _("From order to site."))
    extra_days = _days(_("Longer than the quickest option"))
    float_days = _days(_("Float it may use"), _("Days that the work after it can wait without moving the opening."))
    ladder = forms.ChoiceField(
        label=_("To move it later, one has to"), required=False, choices=LADDER, widget=forms.RadioSelect
    )
    adjust_how = forms.CharField(label=_("In your own words"), required=False, max_length=160)
    adjust_chance = ChanceField(label=_("Chance that it has to be moved"), required=False)
    adjust_cost = MoneyField(label=_("Cost of moving it once"), required=False)
    adjust_days = _days(_("Days to move it"))
    adjust_float_days = _days(_("Float left by then"), _("Left empty: what this option leaves."))
    yearly_cost = MoneyField(label=_("Upkeep a year"), required=False)
    years = forms.IntegerField(label=_("For how many years"), required=False, min_value=0, max_value=100)
    discount_percent = PercentField(label=_("Discounted at"), required=False, help_text=_("A year; empty for none."))
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    #: A place for what the plan says to the changes as a whole.
    changes = forms.CharField(widget=forms.HiddenInput, required=False)

    def columns(self) -> dict[str, Any]:
        """What an option's draft takes from this form."""
        held = self.cleaned_data
        counts = {name: held[name] or 0 for name in ("extra_days", "float_days", "adjust_days", "years")}
        plain = {
            name: held[name]
            for name in ("name", "note", "lead_days", "adjust_chance", "adjust_float_days", "discount_percent")
        }
        return (
            plain
            | counts
            | {
                "adjust_how": held["adjust_how"] or str(dict(LADDER).get(held["ladder"], "")),
                "adjust_cost_minor": held["adjust_cost"] or 0,
                "yearly_cost_minor": held["yearly_cost"] or 0,
            }
        )


class ItemForm(PatientForm):
    """`price` is "line:quote", or "line:" for an estimate."""

    price = forms.ChoiceField(label=_("Price"), required=False)
    amount = MoneyField(label=_("or your estimate"), required=False)
    quantity = NumberField(label=_("or a quantity"), required=False, least=0)
    rate = NumberField(label=_("at a rate of"), required=False, least=0)
    name = forms.CharField(label=_("What it is"), required=False, max_length=160)
    shared = forms.BooleanField(label=_("the same in every option"), required=False)

    def offer(self, ground: Ground, choices: list[Any]) -> None:
        self.ground = ground
        self.fields["price"].choices = choices

    def is_blank(self) -> bool:
        held = self.cleaned_data
        return (
            not any(held.get(name) not in (None, "") for name in ("amount", "quantity", "rate", "name"))
            and not (held.get("price", "").partition(":")[2])
        )

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if self.is_blank() or self.errors:
            return held
        if not held["price"] and len(self.ground.lines) > 1:
            self.add_error("price", gettext("Choose which line this prices."))
        quoted = held["price"].partition(":")[2]
        reckoned = [held.get(name) is not None for name in ("amount", "quantity", "rate")]
        if quoted and any(reckoned):
            self.add_error("price", gettext("Choose a quote or give an estimate, one of the two."))
        if not quoted and not reckoned[0] and not (reckoned[1] and reckoned[2]):
            self.add_error("amount", gettext("Give an amount, or a quantity and its rate; or choose a quote."))
        return held

    def draft(self) -> ItemDraft:
        held = self.cleaned_data
        line, _colon, quote = held["price"].partition(":")
        return ItemDraft(
            line_id=int(line) if line else self.ground.lines[0].pk,
            name=held["name"] or self._called(quote),
            quote_id=int(quote) if quote else None,
            amount_minor=held["amount"],
            quantity=held["quantity"],
            rate=held["rate"],
            shared=held["shared"],
        )

    def _called(self, quote: str) -> str:
        return next((row.vendor for row in self.ground.quotes if str(row.quote_id) == quote), gettext("estimate"))


class EffectForm(PatientForm):
    line = CodeField(label=_("Line of the budget"), required=False)
    amount = MoneyField(label=_("Costs it, or with a minus spares it"), required=False, negative=True)
    why = forms.CharField(label=_("Why"), required=False, max_length=200)

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if not self.errors and not self.is_blank():
            if held["line"] is None:
                self.add_error("line", gettext("Choose the line that is touched."))
            if held["amount"] is None:
                self.add_error("amount", gettext("Give an amount."))
        return held

    def draft(self) -> EffectDraft:
        held = self.cleaned_data
        return EffectDraft(held["line"], held["amount"], held["why"])


class AxisForm(PatientForm):
    name = forms.CharField(
        label=_("Direction"), required=False, max_length=40, help_text=_("up and down, along the wall")
    )
    allows = NumberField(label=_("Can be moved by ±"), required=False, least=0)
    spread = NumberField(label=_("Spread of the position"), required=False, above=0)

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if not self.errors and not self.is_blank() and (held["allows"] is None or held["spread"] is None):
            raise ValidationError(gettext("Give how far it can be moved and the spread, in the same unit."))
        return held

    def draft(self) -> AxisDraft:
        held = self.cleaned_data
        return AxisDraft(held["name"], held["allows"], held["spread"])


class ResultForm(PatientForm):
    """How the option stands against one must-pass check."""

    value = NumberField(label=_("Value"), required=False)
    verdict = forms.ChoiceField(
        label=_("How it stands"),
        required=False,
        choices=CheckResult.Verdict,
        widget=forms.RadioSelect,
        initial=CheckResult.Verdict.UNKNOWN,
    )
    note = forms.CharField(label=_("How you know"), required=False, max_length=200)

    def draft(self, must_pass_id: int) -> CheckDraft:
        held = self.cleaned_data
        return CheckDraft(must_pass_id, held["verdict"] or CheckResult.Verdict.UNKNOWN, held["value"], held["note"])


ItemRows, EffectRows, AxisRows = rows_of(ItemForm), rows_of(EffectForm), rows_of(AxisForm)


class OptionEntry:
    """Everything about one option, entered on one page."""

    def __init__(self, data: Any, *, ground: Ground, standing: Standing) -> None:
        data, self.growing = grown(data)
        project, kwargs = ground.project, {"project": ground.project}
        self.ground = ground
        self.form = OptionForm(data, project=project, initial=dict(standing.option))
        self.items: Rows = ItemRows(data, prefix="items", initial=list(standing.items), form_kwargs=kwargs)
        self.effects: Rows = EffectRows(data, prefix="effects", initial=list(standing.effects), form_kwargs=kwargs)
        self.axes: Rows = AxisRows(data, prefix="axes", initial=list(standing.axes), form_kwargs=kwargs)
        self.results = [
            (check, ResultForm(data, prefix=f"check{check.pk}", project=project, initial=standing.checks.get(check.pk)))
            for check in ground.checks
        ]
        self.plan = PlanEntry(data, project=project, choices=ground.plan, changes=standing.changes)
        for part in self.parts:
            part.patient = self.growing
        self._offer()

    @property
    def parts(self) -> list[Any]:
        rows = (self.items, self.effects, self.axes, *self.plan.parts)
        return [self.form, *rows, *(form for _check, form in self.results)]

    def _offer(self) -> None:
        choices = price_choices(self.ground)
        for row in [*self.items.forms, self.items.empty_form]:
            row.offer(self.ground, choices)
        for row in [*self.effects.forms, self.effects.empty_form]:
            row.fields["line"].known = self.ground.budget

    def is_valid(self) -> bool:
        return not self.growing and self._all_valid()

    def _all_valid(self) -> bool:
        """Judge every part, also those after the first that is wrong, so that all faults are shown at once."""
        judged = [part.is_valid() for part in self.parts]
        if False in judged:
            return False
        if self.axes.kept and self.form.cleaned_data["adjust_chance"] is not None:
            self.form.add_error("adjust_chance", gettext("Give the chance or the movements, one of the two."))
        return not self.form.errors

    def draft(self) -> OptionDraft:
        return OptionDraft(
            items=tuple(row.draft() for row in self.items.kept),
            effects=tuple(row.draft() for row in self.effects.kept),
            axes=tuple(row.draft() for row in self.axes.kept),
            checks=tuple(form.draft(check.pk) for check, form in self.results),
            changes=self.plan.changes(),
            **self.form.columns(),
        )


def price_choices(ground: Ground) -> list[Any]:
    """The quotes on each line of the decision, the lowest levelled first, and an estimate; grouped where there are several lines."""
    groups = [
        (
            f"{line.code} {line.description}",
            [
                *((f"{line.pk}:{q.quote_id}", quote_label(q, ground)) for q in ground.quotes if q.line_id == line.pk),
                (f"{line.pk}:", gettext("an estimate")),
            ],
        )
        for line in ground.lines
    ]
    if len(groups) == 1:
        return [("", gettext("Choose a quote, or estimate beside it")), *groups[0][1]]
    return [("", gettext("Choose a line and its quote")), *groups]


def quote_label(quote: QuoteChoice, ground: Ground) -> str:
    """Say a quote in one line of a list: who, how much levelled, and how long it holds."""
    words = [quote.vendor, display.money(quote.levelled_minor, ground.project, brief=True)]
    if not quote.complete:
        words.append(gettext("with gaps"))
    if quote.state:
        words.append(quote.state)
    if quote.days_left is not None:
        words.append(gettext("ran out") if quote.days_left < 0 else display.days_left(quote.days_left))
    return " · ".join(words)
