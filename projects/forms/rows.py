"""Forms of several rows that can grow without being judged: "add a row" is a submit that saves nothing."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol

from django import forms
from django.forms.utils import ErrorDict
from django.utils.functional import cached_property
from django.utils.translation import gettext as _

from projects.faults import Refused
from projects.forms.entry import ProjectForm

MOST_ROWS = 60


class PatientForm(ProjectForm):
    """A form that can be shown with what was typed before it is judged."""

    patient = False

    @property
    def errors(self) -> ErrorDict:
        return ErrorDict() if self.patient else super().errors

    def is_blank(self) -> bool:
        """Tell whether nothing was entered; a tick or a choice that stands by itself does not count."""
        return not any(self.cleaned_data.get(name) not in (None, "", False) for name in self.fields if name != "DELETE")


class Rows(forms.BaseFormSet):
    """A formset whose rows know which were left empty or taken out."""

    patient = False

    @cached_property
    def empty_form(self) -> Any:  # type: ignore[override]
        """The blank row that the page adds from: one and the same, so that what is offered in it is offered there."""
        return super().empty_form

    def add_fields(self, form: Any, index: int | None) -> None:
        super().add_fields(form, index)
        form.patient = self.patient
        if "DELETE" in form.fields:
            form.fields["DELETE"].label = _("Leave this out")

    @property
    def kept(self) -> list[Any]:
        """The rows to be saved: not empty, not taken out."""
        return [form for form in self.forms if not form.cleaned_data.get("DELETE") and not form.is_blank()]


def rows_of(form: type[PatientForm]) -> type[Rows]:
    """Build the formset class of a row."""
    return forms.formset_factory(
        form, formset=Rows, extra=0, can_delete=True, max_num=MOST_ROWS, absolute_max=MOST_ROWS, validate_max=True
    )


def grown(data: Any) -> tuple[Any, bool]:
    """Add a row where the page asked for one.

    Returns: the data to show, and whether a row was asked for (the form is then shown, not judged).
    """
    prefix = data.get("more_rows", "") if data is not None else ""
    count = f"{prefix}-TOTAL_FORMS"
    if not prefix or count not in data:
        return data, False
    data = data.copy()
    held = data[count]
    data[count] = str(min(int(held) + 1, MOST_ROWS)) if held.isdecimal() and len(held) < 4 else "1"
    return data, True


class Refusing(Protocol):
    def refuse(self, fault: Refused) -> None: ...


@contextmanager
def refused_at(form: Refusing) -> Iterator[None]:
    """Catch a service's refusal and show it at its field, so that nothing typed is lost."""
    try:
        yield
    except Refused as fault:
        form.refuse(fault)
