"""The look-ahead: six weeks with what each piece of work still needs, the calls to make, and a page for each trade."""

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
from schedule import door
from schedule import wording_ahead as wording
from schedule.forms import ahead as forms
from schedule.models import Need
from schedule.selectors import ahead as reads
from schedule.services import needs as services
from schedule.views.answers import form_page

#: So many weeks are shown with every need; of the later ones it is said how much they need.
IN_FULL = 2


@require_safe
def weeks(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    ahead = reads.weeks(opened.project, opened.today)
    works = reads.works_of(ahead)
    whole = "whole" in request.GET
    context = {
        "whole": whole,
        "sentence": wording.sentence(works, ahead, opened.project),
        "weeks": [
            {
                "name": wording.week(one, place, opened.project),
                "ahead": one,
                "first": place == 0,
                "whole": whole or place < IN_FULL,
            }
            for place, one in enumerate(ahead)
        ],
        "empty": not works,
        "calls": [{"one": one, "why": wording.call(one)} for one in reads.calls(opened.project, works, opened.today)],
        "trades": reads.trades(opened.project),
    }
    return render(request, "schedule/ahead.html", context)


@require_safe
def trade(request: HttpRequest, slug: str) -> HttpResponse:
    """What one trade gets in hand: its window, what comes before and after, and what is not ready yet."""
    opened = door.open_project(request, slug)
    name = request.GET.get("trade", "")[:80]
    works = reads.works_of(reads.weeks(opened.project, opened.today, reads.WHOLE_BUILD, trade=name)) if name else ()
    beside = reads.neighbours(opened.project, works)
    context = {
        "name": name,
        "sentence": wording.trade(name, works, opened.project) if name else _("Which trade?"),
        "works": [{"work": one, "before": beside[one.pk][0], "after": beside[one.pk][1]} for one in works],
        "trades": reads.trades(opened.project),
    }
    return render(request, "schedule/ahead_trade.html", context)


def new_need(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    rows = reads.to_choose(opened.project)
    chosen = request.GET.get("activity", "")
    first = next((row for row in rows if str(row.pk) == chosen), None)
    start = {"activity": chosen, "by_on": first.early_start_on if first else None, "who": first.trade if first else ""}
    form = forms.NeedForm(request.POST or None, project=opened.project, activities=rows, initial=start)
    if form.is_valid():
        activity = next(row for row in rows if str(row.pk) == form.cleaned_data["activity"])
        with refused_at(form):
            made = services.add(activity, **form.asked(), by=opened.user, now=opened.now, today=opened.today)
            words = _("%(activity)s needs: %(what)s.") % {"activity": activity, "what": made}
            said.done(request, words, undo=_at("remove_need", opened, made))
            return redirect("schedule:ahead", slug)
    return form_page(request, form, sentence=_("What is still needed?"), button=_("Add it"), **_back(opened))


def edit_need(request: HttpRequest, slug: str, need_id: int) -> HttpResponse:
    opened, row = _row(request, slug, need_id)
    start = {"what": row.what, "kind": row.kind, "who": row.who, "by_on": row.by_on}
    form = forms.NeedForm(request.POST or None, project=opened.project, activities=(), need=row, initial=start)
    if form.is_valid():
        with refused_at(form):
            services.change(row, **form.asked(), by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("Saved: %s.") % form.cleaned_data["what"])
            return redirect("schedule:ahead", slug)
    return form_page(
        request, form, sentence=_("What %s needs") % row.activity, button=_("Save it"), **_back(opened)
    )  # fmt: skip


@require_POST
def clear(request: HttpRequest, slug: str, need_id: int) -> HttpResponse:
    return _deed(request, slug, need_id, services.clear, _("There: %s."), undo="reopen_need")


@require_POST
def reopen(request: HttpRequest, slug: str, need_id: int) -> HttpResponse:
    return _deed(request, slug, need_id, services.reopen, _("Not there after all: %s."))


@require_POST
def remove(request: HttpRequest, slug: str, need_id: int) -> HttpResponse:
    return _deed(request, slug, need_id, services.remove, _("Taken off: %s."), undo="put_back_need")


@require_POST
def put_back(request: HttpRequest, slug: str, need_id: int) -> HttpResponse:
    return _deed(request, slug, need_id, services.put_back, _("Back on the list: %s."))


# --- shared ---------------------------------------------------------------------------------------------------


def _row(request: HttpRequest, slug: str, need_id: int) -> tuple[Door, Need]:
    opened = door.open_project(request, slug, may="plan")
    return opened, reads.need_in(opened.project, need_id)


def _at(name: str, opened: Door, row: Need) -> str:
    return reverse(f"schedule:{name}", args=[opened.project.slug, row.pk])


def _back(opened: Door) -> dict[str, str]:
    return {"back": reverse("schedule:ahead", args=[opened.project.slug]), "back_label": _("Look-ahead")}


def _deed(request: HttpRequest, slug: str, need_id: int, deed: Any, words: str, *, undo: str = "") -> HttpResponse:
    """One tap on a need; the page says what was done and offers the way back."""
    opened, row = _row(request, slug, need_id)
    try:
        deed(row, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, words % row, undo=_at(undo, opened, row) if undo else "")
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("schedule:ahead", slug)
