"""Entry fields that speak the project's locale and keep figures exact; every app's forms are made of them.

    class QuoteForm(ProjectForm):
        currency = forms.ChoiceField(...)
        amount = MoneyField(label=_("Amount"), currency_from="currency")    # read in the currency chosen beside it
        discount = MoneyField(required=False, label=_("Discount"))          # read in the project's currency
        tax = PercentField(required=False, label=_("Tax"))
        quoted_on = DateField(label=_("Dated"))

    form = QuoteForm(request.POST or None, project=door.project, initial={"amount": 1240000, "quoted_on": door.today})

| field | entry | cleaned value |
|---|---|---|
| `MoneyField(negative=False, currency_from="")` | "£12,400.00", "12 400", "(5)" | int of minor units, or None when empty |
| `PercentField(least=0, most=100)` | "8.25", "8,25 %" | Decimal percent: Decimal("8.25") |
| `ChanceField()` | "35", "35 %" | Decimal fraction from 0 to 1: Decimal("0.35") |
| `NumberField(places=6, least=None, most=None)` | "0.86", "1,234.5" | Decimal |
| `DateField()` | the browser's own date entry; typed: 2027-05-28, 28/05/2027, 28 May 2027 | date |

`initial` takes the cleaned value (minor units, Decimal, date) and is written as the locale writes it.

`ProjectForm(data, files, *, project, currency="")`: `project` gives currency and locale to all fields; `currency` is for
rows of a formset whose currency stands in the form above (`form_kwargs={"project": …, "currency": …}`).
`form.refuse(fault, version=None)` puts a service's `Refused` on the field it names, or at the head of the form; of a
`Stale` it keeps `form.theirs` (every field name; None where nothing differs), to be shown beside what was typed
with `{% field form.name theirs=form.theirs.name %}`, and moves the hidden `version` on, so that saving again is knowing.
"""

from projects.forms.entry import ProjectForm
from projects.forms.fields import ChanceField, DateField, MoneyField, NumberField, PercentField

__all__ = ["ChanceField", "DateField", "MoneyField", "NumberField", "PercentField", "ProjectForm"]
