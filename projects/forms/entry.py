"""The form that ties its fields to a project and takes a service's refusal."""

from datetime import date
from typing import Any

from django import forms

from projects import display
from projects.faults import Refused, Stale
from projects.forms.fields import MoneyField, _Placed
from projects.models import Project
from units.money import CURRENCIES


class RefusableForm(forms.Form):
    """A form that shows why a service refused, where it belongs."""

    def refuse(self, fault: Refused, *, version: int | None = None) -> None:
        """Show why a service refused: at the field it names, or at the head of the form."""
        self.add_error(fault.field if fault.field in self.fields else None, fault.message)


class ProjectForm(RefusableForm):
    """A form whose figures are read and written by the marks of a project's locale and currency."""

    def __init__(self, *args: Any, project: Project, currency: str = "", **kwargs: Any) -> None:
        self.project = project
        super().__init__(*args, **kwargs)
        self.theirs: dict[str, Any] = dict.fromkeys(self.fields)
        for field in self.fields.values():
            if isinstance(field, _Placed):
                field.tie(currency=self._currency_of(field, currency or project.currency), locale=project.locale)

    def _currency_of(self, field: _Placed, otherwise: str) -> str:
        """The currency that the field beside it names, in what was sent or, before that, at the start."""
        beside = field.currency_from if isinstance(field, MoneyField) else ""
        if not beside:
            return otherwise
        sent = (
            self.data.get(self.add_prefix(beside))
            if self.is_bound
            else self.get_initial_for_field(self.fields[beside], beside)
        )
        return sent if isinstance(sent, str) and sent in CURRENCIES else otherwise

    def refuse(self, fault: Refused, *, version: int | None = None) -> None:
        """Show why a service refused: at the field it names, or at the head of the form.

        Args:
            fault: what the service raised. Of a `Stale`, `theirs` is kept to be shown beside.
            version: the version that stands now, when the fault does not carry one.
        """
        super().refuse(fault)
        if isinstance(fault, Stale):
            self._show_theirs(fault, version)

    def _show_theirs(self, fault: Stale, version: int | None) -> None:
        for name, value in fault.theirs.items():
            if name in self.fields and value != self.cleaned_data.get(name):
                self.theirs[name] = _as_shown(self.fields[name], value, self.project.locale)
        standing = fault.theirs.get("version", version)
        if standing is not None and "version" in self.fields:
            data = self.data.copy()  # type: ignore[attr-defined]  # what a browser sent, or a plain dict
            data[self.add_prefix("version")] = str(standing)
            self.data = data


def _as_shown(field: forms.Field, value: Any, locale: str) -> str:
    """A value that stands, in the words of the page: a choice by its label, a date in full, nothing as a dash."""
    if value in (None, ""):
        return "\u2013"
    if isinstance(value, date):
        return display.day(value, locale)
    if isinstance(field, forms.ChoiceField):
        return str(dict(_flat(field.choices)).get(value, value))
    return str(field.prepare_value(value))


def _flat(choices: Any) -> list[tuple[Any, Any]]:
    """Choices without their groups."""
    pairs: list[tuple[Any, Any]] = []
    for value, label in choices:
        pairs += label if isinstance(label, list | tuple) else [(value, label)]
    return pairs
