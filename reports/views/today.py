"""Today: the first page, for everybody on the build."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from decisions.door import open_project
from reports.selectors import today as selectors


def today(request: HttpRequest, slug: str) -> HttpResponse:
    door = open_project(request, slug)
    return render(request, "reports/today.html", {"today": selectors.today(door)})
