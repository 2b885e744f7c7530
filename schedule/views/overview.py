"""Sequence: the build as bars on a calendar and as a list."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from schedule import door


@require_safe
def overview(request: HttpRequest, slug: str) -> HttpResponse:
    door.open_project(request, slug)
    return render(request, "schedule/sequence.html", {})
