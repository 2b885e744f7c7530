"""Rows of an option's form, and the lines of the budget that they name."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from decisions.selectors.entry import LineChoice
from projects.forms.rows import MOST_ROWS, PatientForm, Rows, grown, rows_of

__all__ = ["MOST_ROWS", "CodeField", "PatientForm", "Rows", "grown", "rows_of"]


class CodeField(forms.CharField):
    """A line of the budget by its code, with the codes offered by a list that the page holds once."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(
            max_length=220, widget=forms.TextInput(attrs={"list": "budget-lines", "autocomplete": "off"}), **kwargs
        )
        self.known: Sequence[LineChoice] = ()

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if not text:
            return None
        folded = " ".join(text.casefold().split())
        for line in self.known:
            code = line.code.casefold()
            if folded in {code, f"{code} {line.description.casefold()}", line.description.casefold()}:
                return line.pk
        raise ValidationError(
            _("There is no line “%(text)s”; choose one from the list, or give its code.") % {"text": text[:40]}
        )
