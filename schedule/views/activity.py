"""One activity: its dates and why they are so, and what is reported from the site."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from projects import said
from projects.access import Door
from projects.faults import Refused
from projects.forms.rows import refused_at
from schedule import door, wording_activity, wording_effects
from schedule.forms.progress import FreezeForm, ReportForm
from schedule.models import Activity
from schedule.selectors import activity as reads
from schedule.selectors import holds
from schedule.services import effects, plan, progress
from schedule.views.answers import form_page


@require_safe
def activity(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    page = reads.read(opened.project, activity_id, today=opened.today)
    words = {
        "sentence": wording_activity.sentence(page, opened.project),
        "why": wording_activity.why(page, opened.project),
        "may_slip": wording_activity.may_slip(page, opened.project),
        "for_target": wording_activity.for_target(page.activity, opened.project),
        "planned_words": wording_activity.planned(page.planned, page.activity) if page.planned else "",
    }
    return render(request, "schedule/activity.html", {"page": page, "activity": page.activity} | words)


def report(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    """Say when it began, when it was done, and how long it takes."""
    opened = door.open_project(request, slug, may="plan")
    row = reads.activity_in(opened.project, activity_id)
    first = {"started_on": row.started_on, "finished_on": row.finished_on, "days": row.days}
    form = ReportForm(request.POST or None, project=opened.project, initial=first)
    return _reported(request, opened, row, form) or _report_page(request, opened, row, form)


@require_POST
def started(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    """It began today."""
    opened = door.open_project(request, slug, may="plan")
    row = reads.activity_in(opened.project, activity_id)
    form = ReportForm({"started_on": opened.today.isoformat()}, project=opened.project)
    return _reported(request, opened, row, form) or _report_page(request, opened, row, form)


@require_POST
def done(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    """It was done today; what had not begun began today as well."""
    opened = door.open_project(request, slug, may="plan")
    row = reads.activity_in(opened.project, activity_id)
    began, today = row.started_on or opened.today, opened.today.isoformat()
    form = ReportForm({"started_on": began.isoformat(), "finished_on": today}, project=opened.project)
    return _reported(request, opened, row, form) or _report_page(request, opened, row, form)


def _reported(request: HttpRequest, opened: Door, row: Activity, form: ReportForm) -> HttpResponse | None:
    """Report what a form says; None where there is nothing yet, or it was refused."""
    if not form.is_valid():
        return None
    with refused_at(form):
        given = form.asked() | _told(opened)
        now, effect = effects.of(opened.project, lambda: progress.report(row, **given))
        words = f"{wording_activity.reported(now)} {wording_effects.moved(effect, opened.project)}"
        said.done(request, words, undo=reverse("schedule:undo_report", args=[opened.project.slug, row.pk]))
        return redirect("schedule:activity", opened.project.slug, row.pk)
    return None


def _report_page(request: HttpRequest, opened: Door, row: Activity, form: ReportForm) -> HttpResponse:
    context = {"form": form, "activity": row, "answer": holds.before(row, today=opened.today)}
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "schedule/report.html", context, status=status)


@require_POST
def undo_report(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    """Put back what stood before the newest report."""
    opened = door.open_project(request, slug, may="plan")
    row = reads.activity_in(opened.project, activity_id)
    _try(
        request,
        opened,
        lambda: progress.take_back(row, **_told(opened)),
        _("What was reported on %s is taken back.") % row,
    )
    return redirect("schedule:activity", slug, activity_id)


def _try(request: HttpRequest, opened: Door, deed: Callable[[], object], words: str) -> None:
    try:
        _done, effect = effects.of(opened.project, deed)
        said.done(request, f"{words} {wording_effects.moved(effect, opened.project)}")
    except Refused as fault:
        said.refused(request, fault.message)


def freeze(request: HttpRequest, slug: str) -> HttpResponse:
    """Freeze the plan as it stands, to measure later dates against."""
    opened = door.open_project(request, slug, may="plan")
    form = FreezeForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            row = plan.take_baseline(opened.project, **form.cleaned_data, **_told(opened))
            said.done(request, _("The plan is frozen as “%s”; later dates are measured against it.") % row)
            return redirect("schedule:sequence", slug)
    return form_page(
        request, form, sentence=_("Freeze the plan as it stands?"), button=_("Freeze the plan"),
        note=_("Every activity keeps its days and dates of today under this name. Earlier ones stay; the newest is shown."),
        back=reverse("schedule:sequence", args=[slug]), back_label=_("Sequence"),
    )  # fmt: skip


def _told(opened: Door) -> dict[str, Any]:
    return {"by": opened.user, "now": opened.now, "today": opened.today}
