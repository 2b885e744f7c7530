"""Form fields as Money uses them."""

from typing import Any

from django import forms

from projects.forms.rows import PatientForm, Refusing, refused_at

__all__ = ["PatientForm", "Refusing", "chips", "chosen", "long_words", "refused_at", "words"]


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
