"""The forms of the pages about a project."""

from datetime import date
from functools import cache
from typing import Any

from babel import Locale
from django import forms
from django.contrib.auth.password_validation import password_validators_help_texts
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from projects import display
from projects.forms.entry import ProjectForm, RefusableForm
from projects.forms.fields import DateField, MoneyField, NumberField, PercentField
from projects.models import Project, Role, Units
from projects.services.builds import ProjectDraft, TaxDraft, time_zones
from units.money import CURRENCIES

OFTEN = ("GBP", "EUR", "USD", "CAD", "AUD", "NZD", "CHF")
#: English words with the marks of a place; the words of the pages are English.
PLACES = (
    "en-GB", "en-US", "en-CA", "en-AU", "en-NZ", "en-IE", "en-ZA", "en-IN", "en-SG", "en-AT", "en-BE", "en-CH", "en-DE",
    "en-DK", "en-FI", "en-NL", "en-NO", "en-SE",
)  # fmt: skip


@cache
def currencies() -> list[tuple[str, str]]:
    names = Locale("en").currencies
    ordered = [*OFTEN, *(code for code in CURRENCIES if code not in OFTEN)]
    return [(code, f"{code} · {names[code]}" if code in names else code) for code in ordered]


@cache
def places() -> list[tuple[str, str]]:
    return [(tag, _place(tag)) for tag in PLACES]


def _place(tag: str) -> str:
    """A place and its marks: "United Kingdom · 12,400.50 · Fri 28 May 2027"."""
    name = display.locale_of(tag).get_territory_name("en")
    style = display.style_of("EUR", tag)
    return f"{name} · 12{style.group}400{style.decimal}50 · {display.day(date(2027, 5, 28), tag)}"


@cache
def zones() -> list[tuple[str, list[tuple[str, str]]]]:
    """Time zones by region, for a list that a phone can show."""
    grouped: dict[str, list[tuple[str, str]]] = {}
    for zone in sorted(time_zones()):
        region, _slash, place = zone.partition("/")
        grouped.setdefault(region, []).append((zone, (place or zone).replace("_", " ")))
    return sorted(grouped.items())


class SettingsForm(ProjectForm):
    name = forms.CharField(
        label=gettext_lazy("Name of the build"),
        max_length=120,
        error_messages={"required": gettext_lazy("Give the build a name.")},
    )
    about = forms.CharField(
        label=gettext_lazy("What is built"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    currency = forms.ChoiceField(label=gettext_lazy("Currency of account"), choices=currencies)
    units = forms.ChoiceField(label=gettext_lazy("Units"), choices=Units.choices, widget=forms.RadioSelect)
    locale = forms.ChoiceField(label=gettext_lazy("Figures and dates as in"), choices=places)
    time_zone = forms.ChoiceField(
        label=gettext_lazy("Time zone"),
        choices=zones,
        help_text=gettext_lazy("A day begins and ends by this clock."),
        widget=forms.Select(attrs={"data-time-zone": ""}),
    )
    starts_on = DateField(label=gettext_lazy("Start of work"), required=False)
    opens_on = DateField(label=gettext_lazy("Opening"), required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.project.locale not in PLACES:
            self.fields["locale"].choices = [*places(), (self.project.locale, self.project.locale)]  # type: ignore[attr-defined]

    def fix_currency(self) -> None:
        """Leave the currency as it stands: amounts are recorded in it."""
        self.fields["currency"].disabled = True
        self.fields["currency"].help_text = _("Fixed, because amounts are recorded in it.")

    def draft(self) -> ProjectDraft:
        given = self.cleaned_data
        return ProjectDraft(
            name=given["name"],
            about=given["about"],
            currency=given["currency"],
            units=given["units"],
            locale=given["locale"],
            time_zone=given["time_zone"],
            starts_on=given["starts_on"],
            opens_on=given["opens_on"],
        )


class NewProjectForm(SettingsForm):
    cost_of_day = MoneyField(
        label=gettext_lazy("Cost of a day"),
        required=False,
        currency_from="currency",
        help_text=gettext_lazy(
            "What each calendar day of later opening costs: interest, hire, site lead, lost income."
        ),
    )
    lead_limit = MoneyField(
        label=gettext_lazy("The lead commits up to"),
        required=False,
        currency_from="currency",
        help_text=gettext_lazy("Above it an owner has to approve. Left empty: any amount."),
    )
    contingency = MoneyField(
        label=gettext_lazy("Contingency"),
        required=False,
        currency_from="currency",
        help_text=gettext_lazy("Set aside at the start, as a line of its own."),
    )

    @classmethod
    def begin(cls, data: Any, *, american: bool = False) -> "NewProjectForm":
        """An empty or a sent form; figures are read by the marks and in the currency that it chooses itself."""
        start = {"currency": "USD", "units": "us", "locale": "en-US", "time_zone": "America/New_York"}
        start = (
            start
            if american
            else {"currency": "GBP", "units": "metric", "locale": "en-GB", "time_zone": "Europe/London"}
        )
        sent = data.get("locale") if data else None
        return cls(
            data,
            project=Project(currency=start["currency"], locale=sent if sent in PLACES else start["locale"]),
            initial=start,
        )


class CostOfDayForm(ProjectForm):
    amount = MoneyField(label=gettext_lazy("One calendar day of later opening costs"))
    made_of = forms.CharField(
        label=gettext_lazy("What it is made of"),
        required=False,
        max_length=300,
        help_text=gettext_lazy(
            "Interest, hire, temporary plant, site lead, insurance; lost income only where the opening moves."
        ),
    )
    version = forms.IntegerField(widget=forms.HiddenInput)


class TaxForm(ProjectForm):
    tax_percent = PercentField(
        label=gettext_lazy("Tax on invoices"),
        required=False,
        help_text=gettext_lazy("Such as 20. Filled in on a new invoice, and what its tax is checked against."),
    )
    tax_recovered = forms.BooleanField(
        label=gettext_lazy("The project gets this tax back"),
        required=False,
        help_text=gettext_lazy("If not, it is part of what every invoice costs."),
    )
    rate_swing_percent = PercentField(
        label=gettext_lazy("Exchange rates may still move by"),
        help_text=gettext_lazy("Either way; for what is let in another currency and not yet billed."),
    )
    version = forms.IntegerField(widget=forms.HiddenInput)

    def draft(self) -> TaxDraft:
        return TaxDraft(*(self.cleaned_data[name] for name in ("tax_percent", "tax_recovered", "rate_swing_percent")))


class LimitsForm(ProjectForm):
    lead = MoneyField(label=gettext_lazy("A lead commits up to"), required=False)
    owner = MoneyField(label=gettext_lazy("An owner approves up to"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.widget.attrs["placeholder"] = _("any amount")


class InviteForm(RefusableForm):
    note = forms.CharField(
        label=gettext_lazy("For whom"),
        max_length=120,
        help_text=gettext_lazy("A name for your list; the link works for whoever opens it first."),
    )
    role = forms.ChoiceField(
        label=gettext_lazy("As"), choices=Role.choices, widget=forms.RadioSelect, initial=Role.OWNER
    )


class RoleForm(RefusableForm):
    role = forms.ChoiceField(label=gettext_lazy("Role"), choices=Role.choices, widget=forms.RadioSelect)
    was = forms.ChoiceField(choices=Role.choices, widget=forms.HiddenInput)


class RateForm(ProjectForm):
    """A rate of one purpose; the purpose stands in the page's own hidden field and decides who may."""

    currency = forms.ChoiceField(label=gettext_lazy("Currency"), choices=currencies)
    rate = NumberField(label=gettext_lazy("Rate"), places=12, above=0, most=10**9)
    rated_on = DateField(label=gettext_lazy("Read on"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        others = [(code, name) for code, name in currencies() if code != self.project.currency]
        self.fields["currency"].choices = [("", _("choose")), *others]  # type: ignore[attr-defined]


class AccountForm(RefusableForm):
    name = forms.CharField(
        label=gettext_lazy("Your name"), max_length=150, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    username = forms.CharField(
        label=gettext_lazy("Sign-in name"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )
    password = forms.CharField(
        label=gettext_lazy("Password"),
        max_length=200,
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = " ".join(password_validators_help_texts())
