"""The plan as files: taking it out, and bringing one in after a look at what it would change."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET

from projects import said
from projects.access import Door
from projects.faults import Refused
from reports.exchange import plan_sheets as files
from reports.forms.plan_sheets import PlanFileForm
from reports.views.exchange import XLSX
from schedule import door, wording_effects, wording_sheets
from schedule.selectors import editing
from schedule.services import effects, imports

CSV = "text/csv; charset=utf-8"
REFUSED = 422
SHOWN = 200


def bring_in(request: HttpRequest, slug: str) -> HttpResponse:
    """Choose a file, look at what it says, then bring it in."""
    opened = door.open_project(request, slug, may="plan")
    if request.method == "POST" and "content" in request.POST:
        return _brought(request, opened)
    form = PlanFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            return _looked(request, opened, files.receive(form.cleaned_data["file"]))
        except Refused as fault:
            form.refuse(fault)
    return render(request, "reports/plan_bring_in.html", {"form": form}, status=REFUSED if form.errors else 200)


def _looked(request: HttpRequest, opened: Door, handed: files.Handed, status: int = 200) -> HttpResponse:
    seen = imports.look(opened.project, handed.sheets, today=opened.today)
    found = seen.reading
    context = {
        "form": PlanFileForm(),
        "handed": handed,
        "seen": seen,
        "counted": wording_sheets.counted(found),
        "moves": wording_effects.moved(seen.effect, opened.project) if seen.effect else "",
        "faults": [(wording_sheets.place(fault), wording_sheets.fault(fault)) for fault in found.faults[:SHOWN]],
        "changed": [(after, wording_sheets.differences(before, after)) for before, after in found.changed[:SHOWN]],
        "new": found.new[:SHOWN],
        "content": files.sealed(handed, opened.project) if seen.is_ready else "",
    }
    return render(request, "reports/plan_bring_in.html", context, status=status)


def _brought(request: HttpRequest, opened: Door) -> HttpResponse:
    try:
        handed = files.unsealed(request.POST["content"], opened.project)
    except Refused as fault:
        said.refused(request, fault.message)
        return redirect("plan_sheets:bring_in", opened.project.slug)
    told: dict[str, Any] = {"file_name": handed.file_name, "by": opened.user, "now": opened.now, "today": opened.today}
    try:
        found, effect = effects.of(opened.project, lambda: imports.bring_in(opened.project, handed.sheets, **told))
    except Refused as fault:
        said.refused(request, fault.message)
        return _looked(request, opened, handed, status=REFUSED)
    newest = editing.newest_deed(opened.project, "activity", opened.user)
    words = _("Brought in %(file)s: %(counted)s.") % {
        "file": handed.file_name,
        "counted": wording_sheets.counted(found),
    }
    undo = reverse("schedule:take_back", args=[opened.project.slug, newest])
    said.done(request, f"{words} {wording_effects.moved(effect, opened.project)}".strip(), undo=undo)
    return redirect("schedule:sequence", opened.project.slug)


@require_GET
def activities_csv(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="export")
    return _file(files.activities_csv(opened.project), CSV, f"{slug}-activities-{opened.today}.csv")


@require_GET
def links_csv(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="export")
    return _file(files.links_csv(opened.project), CSV, f"{slug}-links-{opened.today}.csv")


@require_GET
def workbook(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="export")
    return _file(files.workbook(opened.project), XLSX, f"{slug}-plan-{opened.today}.xlsx")


def _file(data: bytes, media_type: str, name: str) -> HttpResponse:
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-store"}
    return HttpResponse(data, content_type=media_type, headers=headers)
