"""Editing the plan: adding, changing and taking out activities, the start of the plan, and taking a deed back."""

from collections.abc import Callable
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from projects import said
from projects.access import Door
from projects.faults import Refused
from projects.forms.rows import refused_at
from schedule import door, wording_effects
from schedule.forms import activities as forms
from schedule.models import Activity
from schedule.selectors import editing as reads
from schedule.services import activities, drafting, effects, starting, undoing
from schedule.services.effects import Effect
from schedule.views.answers import form_page

REFUSED = 422


def add(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    entry = forms.ActivityEntry(request.POST or None, desk=reads.desk(opened.project))
    seen = ""
    if request.method == "POST" and entry.is_valid():
        draft = entry.draft()
        deed = lambda: activities.add(opened.project, draft, **_told(opened))  # noqa: E731  # asked or done
        answer, seen = _done_or_seen(request, opened, entry, deed, _("Added %s."))
        if answer is not None:
            return answer
    return _page(request, opened, entry, sentence=_("What is to be done?"), looked=seen)


def edit(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = reads.activity_in(opened.project, activity_id)
    entry = forms.ActivityEntry(
        request.POST or None, desk=reads.desk(opened.project), standing=drafting.draft_of(row), version=row.version
    )
    seen = ""
    if request.method == "POST" and entry.is_valid():
        draft, told = entry.draft(), _told(opened) | {"version": entry.form.cleaned_data["version"]}
        deed = lambda: activities.change(row, draft, reason=entry.reason, **told)  # noqa: E731  # asked or done
        answer, seen = _done_or_seen(request, opened, entry, deed, _("Saved %s."))
        if answer is not None:
            return answer
    return _page(request, opened, entry, sentence=str(row), activity=row, looked=seen)


def _told(opened: Door) -> dict[str, Any]:
    return {"by": opened.user, "now": opened.now, "today": opened.today}


def _done_or_seen(
    request: HttpRequest, opened: Door, entry: forms.ActivityEntry, deed: Callable[[], Activity], words: str
) -> tuple[HttpResponse | None, str]:
    """Do what the form asks, or only say what it would move; neither where it is refused."""
    with refused_at(entry):
        if "look" in request.POST:
            return None, wording_effects.would_move(effects.rehearsed(opened.project, deed), opened.project)
        row, effect = effects.of(opened.project, deed)
        say(request, opened, words % row, effect, "activity")
        return redirect(home(opened)), ""
    return None, ""


def _page(request: HttpRequest, opened: Door, entry: forms.ActivityEntry, **context: Any) -> HttpResponse:
    judged = request.method == "POST" and not entry.growing and not context.get("looked")
    told = {"entry": entry, "form": entry.form, "desk": entry.desk, "back": home(opened)} | context
    return render(request, "schedule/activity_form.html", told, status=REFUSED if judged else 200)


def home(opened: Door) -> str:
    return reverse("schedule:sequence", args=[opened.project.slug])


def say(request: HttpRequest, opened: Door, words: str, effect: Effect, subject: str) -> None:
    """Say what was done and what it moved, with the way to take it back."""
    newest = reads.newest_deed(opened.project, subject, opened.user)
    undo = reverse("schedule:take_back", args=[opened.project.slug, newest])
    said.done(request, f"{words} {wording_effects.moved(effect, opened.project)}".strip(), undo=undo)


def remove(request: HttpRequest, slug: str, activity_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = reads.activity_in(opened.project, activity_id)
    form = forms.RemoveForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            deed = lambda: activities.remove(row, reason=form.cleaned_data["reason"], **_told(opened))  # noqa: E731
            _none, effect = effects.of(opened.project, deed)
            say(request, opened, _("%s is out of the plan.") % row, effect, "activity")
            return redirect(home(opened))
    return form_page(
        request, form, sentence=_("Take %s out of the plan?") % row, button=_("Take it out"), grave=True,
        note=_("What follows it then waits for what it waits for. It can be taken back."),
        back=reverse("schedule:edit_activity", args=[slug, row.pk]), back_label=str(row),
    )  # fmt: skip


def start(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    stands, desk = reads.start(opened.project, today=opened.today), reads.desk(opened.project)
    first = {"starts_on": stands.starts_on, "calendar": stands.calendar, "version": stands.version}
    form = forms.StartForm(request.POST or None, project=opened.project, calendars=desk.calendars, initial=first)
    if form.is_valid():
        with refused_at(form):
            deed = lambda: starting.set_start(opened.project, **form.cleaned_data, **_told(opened))  # noqa: E731
            _plan, effect = effects.of(opened.project, deed)
            said.done(request, f"{_('Saved the start.')} {wording_effects.moved(effect, opened.project)}".strip())
            return redirect("schedule:calendars", slug)
    return form_page(
        request, form, sentence=_("When does the work start, and on which days?"), button=_("Save the start"),
        note=_("Nothing is planned before this day."), back=reverse("schedule:calendars", args=[slug]), back_label=_("Calendars"),
    )  # fmt: skip


@require_POST
def take_back(request: HttpRequest, slug: str, entry_id: int) -> HttpResponse:
    """Undo a deed that was just done."""
    opened = door.open_project(request, slug, may="plan")
    entry = reads.deed_in(opened.project, entry_id)
    try:
        summary, effect = effects.of(opened.project, lambda: undoing.take_back(entry, **_told(opened)))
        said.done(request, f"{summary}. {wording_effects.moved(effect, opened.project)}".strip())
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("schedule:calendars" if entry.subject == "calendar" else "schedule:sequence", slug)
