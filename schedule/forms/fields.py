"""Form fields as deliveries and the look-ahead use them."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from schedule.models import Activity


def words(label: Any, longest: int, *, required: bool = True, **more: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=longest, required=required, **more)


def chips(label: Any, choices: Any, *, required: bool = True, **more: Any) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=required, widget=forms.RadioSelect, **more)


def chosen(label: Any, *, required: bool = True, **more: Any) -> forms.ChoiceField:
    """A list to choose from; the form fills it in for its project."""
    return forms.ChoiceField(label=label, choices=[], required=required, **more)


def whole(label: Any, *, most: int, required: bool = False, **more: Any) -> forms.IntegerField:
    return forms.IntegerField(label=label, required=required, min_value=0, max_value=most, **more)


def activities(rows: Iterable[Activity], *, none: Any = "") -> list[tuple[str, Any]]:
    """Activities to choose from, by their numbers."""
    return [("", none or _("choose")), *((str(row.pk), str(row)) for row in rows)]
