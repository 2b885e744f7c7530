"""Photographs and documents that come with a form."""

from typing import Any

from django import forms


class ManyFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyFilesField(forms.FileField):
    """Photographs and documents, none or several."""

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        return [super(ManyFilesField, self).clean(file, initial) for file in data or [] if file]
