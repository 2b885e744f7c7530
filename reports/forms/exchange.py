"""Choosing a file, and saying how its sheet is to be read."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from budget.calc.sheets import columns
from budget.calc.sheets.grid import Grid, column_name, shown
from budget.calc.sheets.preview import Choices, Preview
from budget.models import ImportBatch
from budget.selectors.imports import READERS
from reports.exchange import words

ACCEPT = ".csv,.tsv,.txt,.xlsx,text/csv"


class FileForm(forms.Form):
    kind = forms.ChoiceField(
        label=_("The sheet holds"),
        choices=[(kind.value, kind.label) for kind in map(ImportBatch.Kind, READERS)],
        widget=forms.RadioSelect,
        initial=ImportBatch.Kind.WORKBOOK,
        help_text=_(
            "A budget with its quotes may be your own workbook as it is: titles, sub-totals, vendors side by side."
        ),
    )
    file = forms.FileField(label=_("Sheet (.xlsx or .csv)"), widget=forms.ClearableFileInput(attrs={"accept": ACCEPT}))
    sheet = forms.CharField(
        label=_("Name of the sheet"),
        required=False,
        max_length=60,
        help_text=_("Only where a workbook has several; else the first one is read."),
    )

    def __init__(self, *args: Any, kinds: Sequence[str] | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if kinds is not None:
            field = self.fields["kind"]
            field.choices = [(kind, label) for kind, label in field.choices if kind in kinds]  # type: ignore[attr-defined]
            field.initial, field.help_text = kinds[0], ""


class ChoicesForm(forms.Form):
    """How a sheet is to be read; shown with what was found out, and only what matters for this sheet."""

    heading = forms.IntegerField(label=_("Row of the headings"), min_value=1, max_value=200, required=False)
    mark = forms.ChoiceField(
        label=_("Decimals are parted by"), choices=[(".", _("a point: 1,234.50")), (",", _("a comma: 1.234,50"))]
    )
    date_order = forms.ChoiceField(
        label=_("3/4/2027 means"), required=False,
        choices=[("", _("not chosen")), ("dmy", _("3 April (day first)")), ("mdy", _("4 March (month first)"))],
    )  # fmt: skip
    currency = forms.ChoiceField(label=_("Amounts without a currency are in"))
    trade = forms.ChoiceField(label=_("Rows without a trade belong to"), required=False)
    fill_down = forms.BooleanField(label=_("A row without a trade belongs to the trade above it"), required=False)
    add_trades = forms.BooleanField(label=_("Add trades that are not in the project yet"), required=False)

    def __init__(
        self,
        kind: str,
        grid: Grid,
        seen: Preview,
        *,
        currencies: list[str],
        trades: list[tuple[str, str]],
        choices: Choices,
        data: Any = None,
    ) -> None:
        super().__init__(data, initial=_initial(seen, choices), prefix="read")
        self.kind = kind
        self.names = [wanted.name for wanted in columns.WANTED[kind]]
        labels, needed = words.column_labels(), {wanted.name for wanted in columns.WANTED[kind] if wanted.needed}
        places = [("", _("none"))] + [(str(place), _heading(seen, place)) for place in range(grid.width)]
        for name in self.names:
            self.fields[f"column_{name}"] = forms.ChoiceField(
                label=labels[name], choices=places, required=name in needed, initial=str(seen.columns.get(name, ""))
            )
        self.fields["currency"].choices = [(code, code) for code in currencies]  # type: ignore[attr-defined]
        self.fields["trade"].choices = [("", _("none"))] + trades  # type: ignore[attr-defined]
        for name in _not_asked(kind):
            del self.fields[name]

    @property
    def columns(self) -> list[Any]:
        return [self[f"column_{name}"] for name in self.names]

    def choices(self, out: frozenset[int] | None) -> Choices:
        """What was chosen. Only of a valid form."""
        found = self.cleaned_data
        places = {name: found[f"column_{name}"] for name in self.names}
        heading = found.get("heading")
        return Choices(
            heading=None if not heading else range(heading)[-1],
            columns={name: int(place) for name, place in places.items() if place != ""},
            mark=found["mark"],
            date_order=found.get("date_order", ""),
            currency=found.get("currency", ""),
            trade=found.get("trade", ""),
            fill_down=found.get("fill_down", False),
            add_trades=found.get("add_trades", False),
            out=out,
        )


def _not_asked(kind: str) -> tuple[str, ...]:
    return ("date_order", "currency") if kind == ImportBatch.Kind.LINES else ("trade", "fill_down", "add_trades")


def _heading(seen: Preview, place: int) -> str:
    text = shown(seen.headings[place])[:40] if place < len(seen.headings) else ""
    return f"{column_name(place + 1)} · {text}" if text else column_name(place + 1)


def _initial(seen: Preview, choices: Choices) -> dict[str, Any]:
    return {
        "heading": None if seen.heading is None else seen.heading + 1,
        "mark": seen.mark,
        "date_order": seen.date_order,
        "currency": seen.currency,
        "trade": choices.trade,
        "fill_down": choices.fill_down,
        "add_trades": choices.add_trades,
    }
