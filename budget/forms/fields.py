"""Form fields as Money uses them, and how a service's refusal finds its field."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol

from django import forms
from django.forms.utils import ErrorDict

from projects.faults import Refused
from projects.forms import ProjectForm


class PatientForm(ProjectForm):
    """A form that can be shown with what was typed without being judged yet."""

    patient = False

    @property
    def errors(self) -> ErrorDict:
        return ErrorDict() if self.patient else super().errors


class Refusing(Protocol):
    def refuse(self, fault: Refused) -> None: ...


@contextmanager
def refused_at(form: Refusing) -> Iterator[None]:
    """Catch a service's refusal and show it at its field, so that nothing typed is lost."""
    try:
        yield
    except Refused as fault:
        form.refuse(fault)


def words(label: Any, longest: int, *, required: bool = True, **more: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=longest, required=required, **more)


def long_words(label: Any, longest: int, *, required: bool = False, **more: Any) -> forms.CharField:
    return forms.CharField(
        label=label, max_length=longest, required=required, widget=forms.Textarea(attrs={"rows": 3}), **more
    )


def chips(label: Any, choices: Any, *, required: bool = True, **more: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=required, widget=forms.RadioSelect, **more)


def chosen(label: Any, *, required: bool = True, **more: Any) -> forms.ChoiceField:
    """A list to choose from; the form fills it in for its project."""
    return forms.ChoiceField(label=label, choices=[], required=required, **more)
