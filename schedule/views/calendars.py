"""Calendars: who works when, closing one for some days, and what that moves."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from projects import said
from projects.access import Door
from projects.forms.rows import refused_at
from schedule import door, regions, wording_effects
from schedule.forms import calendars as forms
from schedule.selectors import calendars as reads
from schedule.selectors import editing
from schedule.services import calendars, effects
from schedule.views.answers import form_page
from schedule.views.editing import REFUSED, say


@require_safe
def listing(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    page = reads.page(opened.project, today=opened.today)
    return render(request, "schedule/calendars.html", {"page": page, "locale": opened.project.locale})


def add(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    entry = forms.CalendarEntry(request.POST or None, project=opened.project)
    if request.method == "POST" and entry.is_valid():
        with refused_at(entry):
            made = calendars.add(opened.project, entry.draft(), **_told(opened))
            said.done(request, _("Added the calendar %s; activities can work by it.") % made)
            return redirect("schedule:calendars", slug)
    return _page(request, opened, entry, sentence=_("Who works on which days?"))


def edit(request: HttpRequest, slug: str, calendar_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = editing.calendar_in(opened.project, calendar_id)
    entry = forms.CalendarEntry(
        request.POST or None, project=opened.project, standing=calendars.draft_of(row), version=row.version
    )
    context: dict[str, Any] = {"calendar": row, "sentence": str(row), "region": row.region}
    if request.method == "POST" and entry.is_valid():
        draft, version = entry.draft(), entry.form.cleaned_data["version"]
        with refused_at(entry):
            deed = lambda: calendars.change(row, draft, version=version, **_told(opened))  # noqa: E731  # asked or done
            return _looked_or_done(request, opened, deed, _("Saved the calendar %s.") % draft.name) or _page(
                request, opened, entry, **context, looked=_asked(opened, deed)
            )
    return _page(request, opened, entry, **context)


def _looked_or_done(request: HttpRequest, opened: Door, deed: Callable[[], Any], words: str) -> HttpResponse | None:
    """Do it and go on, unless one only wanted to see what it moves."""
    if "look" in request.POST:
        return None
    _done, effect = effects.of(opened.project, deed)
    say(request, opened, words, effect, "calendar")
    return redirect("schedule:calendars", opened.project.slug)


def _asked(opened: Door, deed: Callable[[], Any]) -> str:
    return wording_effects.would_move(effects.rehearsed(opened.project, deed), opened.project)


def _told(opened: Door) -> dict[str, Any]:
    return {"by": opened.user, "now": opened.now, "today": opened.today}


def _page(request: HttpRequest, opened: Door, entry: forms.CalendarEntry, **context: Any) -> HttpResponse:
    judged = request.method == "POST" and not entry.growing and not context.get("looked")
    told = {
        "entry": entry,
        "form": entry.form,
        "regions": [regions.label_of(code) for code, _name in regions.offered()],
        "holidays": reads.holidays(context.get("region", ""), today=opened.today),
    }
    return render(request, "schedule/calendar_form.html", told | context, status=REFUSED if judged else 200)


def close(request: HttpRequest, slug: str, calendar_id: int) -> HttpResponse:
    """Close a calendar for some days: a crew, an inspector or a works is away."""
    opened = door.open_project(request, slug, may="plan")
    row = editing.calendar_in(opened.project, calendar_id)
    form = forms.CloseForm(request.POST or None, project=opened.project, initial={"first_on": opened.today})
    seen = ""
    if form.is_valid():
        draft = form.draft()
        with refused_at(form):
            deed = lambda: calendars.close(row, draft, **_told(opened))  # noqa: E731  # asked or done
            answer = _looked_or_done(request, opened, deed, _("%(name)s: closed.") % {"name": row.name})
            if answer is not None:
                return answer
            seen = _asked(opened, deed)
    return form_page(
        request, form, sentence=_("Close %s: from when to when?") % row, button=_("Close it"), look=True, seen=seen,
        back=reverse("schedule:calendars", args=[slug]), back_label=_("Calendars"),
    )  # fmt: skip


def remove(request: HttpRequest, slug: str, calendar_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = editing.calendar_in(opened.project, calendar_id)
    form = forms.RemoveForm(request.POST if request.method == "POST" else None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            deed = lambda: calendars.remove(row, **_told(opened))  # noqa: E731
            _none, effect = effects.of(opened.project, deed)
            say(request, opened, _("The calendar %s is removed.") % row, effect, "calendar")
            return redirect("schedule:calendars", slug)
    return form_page(
        request, form, sentence=_("Remove the calendar %s?") % row, button=_("Remove it"), grave=True,
        note=_("Only a calendar that nothing works by can go."),
        back=reverse("schedule:edit_calendar", args=[slug, row.pk]), back_label=str(row),
    )  # fmt: skip
