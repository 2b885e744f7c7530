"""Pages of the sequence that hold one small form: its sentence, its fields, its button, and the way back."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def form_page(request: HttpRequest, form: forms.BaseForm, **context: Any) -> HttpResponse:
    """Show a form on a page of its own; one that was refused answers 422, so that a swap keeps what was typed.

    Args:
        context: sentence, button, back, back_label; perhaps note, caution, grave.
    """
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "schedule/form.html", {"form": form} | context, status=status)
