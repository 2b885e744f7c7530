"""What a visitor sees when a request cannot be answered."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def form_too_old(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A form without a valid token: most often a page left open too long, or cookies turned off."""
    return render(request, "403_form.html", status=403)
