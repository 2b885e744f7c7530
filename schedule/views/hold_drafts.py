"""Adding and changing hold points, from nothing or from the list of usual ones."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from projects import said
from projects.access import Door
from projects.forms.rows import refused_at
from schedule import door
from schedule.calc import starting_holds
from schedule.forms import hold_drafts as forms
from schedule.selectors import editing
from schedule.selectors import holds as reads
from schedule.services import holds as services


@require_safe
def usual(request: HttpRequest, slug: str) -> HttpResponse:
    """The usual hold points, to start one from."""
    door.open_project(request, slug, may="plan")
    asked = {"stops": request.GET.get("stops", "")[:12]}
    return render(request, "schedule/holds_usual.html", {"usual": starting_holds.STARTING_HOLDS, "asked": asked})


def new(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    one = starting_holds.named(request.GET.get("from", ""))
    known = editing.desk(opened.project).activities
    asked = request.GET.get("stops", "")
    stops = tuple(choice.code for choice in known if choice.code == asked)
    start = forms.started(one, opened.project.units, stops=stops)
    entry = forms.HoldEntry(request.POST or None, project=opened.project, known=known, start=start)
    if request.method == "POST" and entry.is_valid():
        with refused_at(entry):
            made = services.add(opened.project, entry.draft(), **_told(opened))
            said.done(request, _("Added %s.") % made)
            return redirect("schedule:hold", slug, made.pk)
    return _page(request, entry, known=known, one=one, back=reverse("schedule:holds", args=[slug]))


def edit(request: HttpRequest, slug: str, hold_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = reads.hold_in(opened.project, hold_id)
    known = editing.desk(opened.project).activities
    entry = forms.HoldEntry(
        request.POST or None, project=opened.project, known=known, start=services.draft_of(row), version=row.version
    )
    if request.method == "POST" and entry.is_valid():
        with refused_at(entry):
            version = entry.form.cleaned_data["version"]
            services.change(row, entry.draft(), version=version, **_told(opened))
            said.done(request, _("Saved %s.") % row)
            return redirect("schedule:hold", slug, hold_id)
    return _page(request, entry, known=known, hold=row, back=reverse("schedule:hold", args=[slug, hold_id]))


def _page(request: HttpRequest, entry: forms.HoldEntry, **context: Any) -> HttpResponse:
    told = {"entry": entry, "form": entry.form} | context
    judged = request.method == "POST" and not entry.growing
    return render(request, "schedule/hold_form.html", told, status=422 if judged else 200)


def _told(opened: Door) -> dict[str, Any]:
    return {"by": opened.user, "now": opened.now, "today": opened.today}
