"""Looking at decisions: the list, one decision, one record."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from decisions import charts
from decisions.door import open_project
from decisions.forms.answering import AnswerForm
from decisions.selectors import overview, pages, records


def index(request: HttpRequest, slug: str) -> HttpResponse:
    door = open_project(request, slug)
    return render(request, "decisions/choices.html", {"choices": overview.choices(door.project, today=door.today)})


def decision(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug)
    page = pages.decision_page(pages.find_decision(door.project, pk), today=door.today)
    picture = charts.options(page.bars, project=door.project) if page.bars else None
    return render(request, "decisions/decision.html", {"page": page, "picture": picture, "form": AnswerForm()})


def sheet(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug)
    return render(request, "decisions/sheet.html", {"page": records.record_page(door.project, pk)})
