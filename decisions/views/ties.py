"""Tying work to money and to answers."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from decisions.door import open_project
from decisions.forms.ties import LinesEntry, WorkEntry
from decisions.selectors import entry, pages, ties
from decisions.services import plan
from projects import said
from projects.forms.rows import refused_at
from schedule.selectors import editing

REFUSED = 422


def _status(request: HttpRequest, growing: bool) -> int:
    return REFUSED if request.method == "POST" and not growing else 200


def lines(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    """Which lines of the budget an activity's work is paid from."""
    door = open_project(request, slug, may="plan")
    activity = editing.activity_in(door.project, activity_id)
    budget = entry.line_choices(door.project)
    page = LinesEntry(request.POST or None, project=door.project, budget=budget, codes=ties.lines_of(activity))
    back = reverse("schedule:activity", args=[slug, activity_id])
    if request.method == "POST" and page.is_valid():
        with refused_at(page.form):
            chosen = ties.lines_in(door.project, page.line_ids)
            plan.tie_lines(activity, chosen, by=door.user, now=door.now)
            said.done(request, _("The lines of %s are saved; Cash goes with its dates.") % activity)
            return redirect(back)
    told = {"entry": page, "activity": activity, "budget": budget, "back": back}
    return render(request, "decisions/activity_lines.html", told, status=_status(request, page.growing))


def work(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """Which work waits for the answer to a decision."""
    door = open_project(request, slug, may="plan")
    decision = pages.find_decision(door.project, pk)
    page = WorkEntry(
        request.POST or None, project=door.project, works=ties.works(door.project), tied=ties.tied(decision)
    )
    if request.method == "POST" and page.is_valid():
        with refused_at(page.form):
            chosen = ties.activities_in(door.project, page.activity_ids)
            plan.tie_decision(decision, chosen, by=door.user, now=door.now)
            said.done(request, _("What waits for %s is saved.") % decision.code)
            return redirect("decisions:decision", slug, pk)
    told = {"entry": page, "decision": decision}
    return render(request, "decisions/work.html", told, status=_status(request, page.growing))
