"""Owners: one page for the people who pay."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from budget import charts
from budget.door import open_project
from projects.access import Door
from reports.selectors import issued
from reports.selectors import owners as selectors


def page(request: HttpRequest, slug: str) -> HttpResponse:
    return _page(request, open_project(request, slug))


def _page(request: HttpRequest, door: Door) -> HttpResponse:
    reports = issued.reports(door.project)
    content = selectors.content(door.project, on=door.today, last=reports[0] if reports else None)
    context = {
        "page": selectors.for_page(content),
        "bridge": _bridge(content, door.project),
        "holder": door,
        "reports": reports,
        "links": issued.links(door.project, now=door.now) if door.may_manage else (),
    }
    return render(request, "reports/owners.html", context)


def _bridge(content: selectors.Content, priced: object) -> object:
    return charts.bridge(selectors.bridge_steps(content), project=priced) if content["total"]["lines"] else None
