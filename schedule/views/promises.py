"""The week's promises: the list, keeping and missing, closing the week, and what became of the last weeks."""

from datetime import date
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
from schedule import charts_promises as charts
from schedule import door
from schedule import wording_ahead as wording
from schedule.forms import ahead as forms
from schedule.models import Promise
from schedule.selectors import ahead
from schedule.selectors import promises as reads
from schedule.services import promises as services
from schedule.views.answers import form_page


@require_safe
def week(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    seen = reads.week(opened.project, _asked_week(request.GET, opened), opened.today)
    figures = reads.figures(opened.project, opened.today)
    context = {
        "seen": seen,
        "sentence": wording.week_of_promises(seen, opened.project),
        "rows": [{"row": row, "missing": wording.missing(row.work) if row.work else ""} for row in seen.rows],
        "to_promise": [{"work": work, "missing": wording.missing(work)} for work in seen.to_promise],
        "figures": figures,
        "told": wording.figures(figures, opened.project),
        "picture": charts.kept(figures, project=opened.project) if figures.weeks else None,
    }
    return render(request, "schedule/week.html", context)


def new(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    week_on = _asked_week(request.GET, opened)
    form = forms.PromiseForm(request.POST or None, project=opened.project, activities=ahead.to_choose(opened.project))
    if form.is_valid():
        with refused_at(form):
            draft = services.PromiseDraft(week_on, **form.asked())
            made = services.promise(opened.project, draft, by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("Promised: %s.") % made, undo=_at("remove_promise", opened, made))
            return _to_week(opened, week_on)
    return form_page(
        request, form, sentence=_("What is promised for the week?"), button=_("Write it down"),
        back=_week_address(opened, week_on), back_label=_("Promises"),
    )  # fmt: skip


@require_POST
def make(request: HttpRequest, slug: str) -> HttpResponse:
    """Promise an activity of the week, with one tap."""
    opened = door.open_project(request, slug, may="plan")
    week_on = _asked_week(request.POST, opened)
    form = forms.TapForm(request.POST, project=opened.project)
    try:
        draft = services.PromiseDraft(week_on, activity_id=form.activity_id())
        made = services.promise(opened.project, draft, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("Promised: %s.") % made, undo=_at("remove_promise", opened, made))
    except Refused as fault:
        said.refused(request, fault.message)
    return _to_week(opened, week_on)


@require_POST
def close(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    week_on = _asked_week(request.POST, opened)
    try:
        services.close(opened.project, week_on, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("The week is closed; its count stays."))
    except Refused as fault:
        said.refused(request, fault.message)
    return _to_week(opened, week_on)


def paper(request: HttpRequest, slug: str) -> HttpResponse:
    """A week that was counted on paper."""
    opened = door.open_project(request, slug, may="plan")
    form = forms.CountForm(request.POST or None, project=opened.project)
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            services.count_week(
                opened.project, given["week_on"], given["promised"], given["kept"], form.causes(), by=opened.user,
                now=opened.now, today=opened.today,
            )  # fmt: skip
            said.done(request, _("The week is counted."))
            return _to_week(opened, given["week_on"])
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "schedule/week_paper.html", {"form": form}, status=status)


# --- one promise ----------------------------------------------------------------------------------------------


@require_POST
def kept(request: HttpRequest, slug: str, promise_id: int) -> HttpResponse:
    opened, row = _row(request, slug, promise_id)
    return _deed(request, opened, row, services.mark, _("Kept: %s."), undo="unmark_promise", kept=True)


@require_POST
def unmark(request: HttpRequest, slug: str, promise_id: int) -> HttpResponse:
    opened, row = _row(request, slug, promise_id)
    return _deed(request, opened, row, services.mark, _("Open again: %s."), kept=None)


def missed(request: HttpRequest, slug: str, promise_id: int) -> HttpResponse:
    opened, row = _row(request, slug, promise_id)
    form = forms.MissForm(request.POST or None, project=opened.project, initial={"cause": row.cause})
    if form.is_valid():
        with refused_at(form):
            services.mark(
                row, kept=False, cause=form.cleaned_data["cause"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(request, _("Not kept: %s.") % row, undo=_at("unmark_promise", opened, row))
            return _to_week(opened, row.week_on)
    return form_page(
        request, form, sentence=_("Why was it not kept: %s?") % row, button=_("Note the cause"),
        note=_("Name the one thing that would have had to be there. It is about the work, not about blame."),
        back=_week_address(opened, row.week_on), back_label=_("Promises"),
    )  # fmt: skip


@require_POST
def remove(request: HttpRequest, slug: str, promise_id: int) -> HttpResponse:
    opened, row = _row(request, slug, promise_id)
    return _deed(request, opened, row, services.remove, _("Taken off: %s."), undo="put_back_promise")


@require_POST
def put_back(request: HttpRequest, slug: str, promise_id: int) -> HttpResponse:
    opened, row = _row(request, slug, promise_id)
    return _deed(request, opened, row, services.put_back, _("Back on the list: %s."))


# --- shared ---------------------------------------------------------------------------------------------------


def _asked_week(given: Any, opened: Door) -> date:
    """A day of the week that is asked for; what is not understood counts as this week."""
    form = forms.WeekForm(given, project=opened.project)
    return (form.cleaned_data["week"] if form.is_valid() else None) or opened.today


def _row(request: HttpRequest, slug: str, promise_id: int) -> tuple[Door, Promise]:
    opened = door.open_project(request, slug, may="plan")
    return opened, reads.promise_in(opened.project, promise_id)


def _at(name: str, opened: Door, row: Promise) -> str:
    return reverse(f"schedule:{name}", args=[opened.project.slug, row.pk])


def _week_address(opened: Door, week_on: date) -> str:
    return f"{reverse('schedule:promises', args=[opened.project.slug])}?week={week_on.isoformat()}"


def _to_week(opened: Door, week_on: date) -> HttpResponse:
    return redirect(_week_address(opened, week_on))


def _deed(
    request: HttpRequest, opened: Door, row: Promise, deed: Any, words: str, *, undo: str = "", **more: Any
) -> HttpResponse:
    """One tap on a promise; the page says what was done and offers the way back."""
    try:
        deed(row, **more, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, words % row, undo=_at(undo, opened, row) if undo else "")
    except Refused as fault:
        said.refused(request, fault.message)
    return _to_week(opened, row.week_on)
