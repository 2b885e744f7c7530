"""The ways to build it: entering one, changing it, taking it off the table and bringing it back."""

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from decisions.door import open_project
from decisions.forms.options import OptionEntry
from decisions.selectors import entry, pages
from decisions.services import drafts
from projects import said
from projects.access import Door
from projects.faults import Refused, Stale

REFUSED = 422


def add(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    decision = pages.find_decision(door.project, pk)
    ground = entry.ground(decision, today=door.today)
    page = OptionEntry(request.POST or None, ground=ground, standing=entry.blank(ground))
    if request.method == "POST" and page.is_valid():
        try:
            made = drafts.add_option(decision, page.draft(), by=door.user, now=door.now, today=door.today)
        except Refused as fault:
            page.form.refuse(fault)
        else:
            said.done(request, _("%s is on the table.") % made)
            return redirect("decisions:decision", slug, pk)
    return _shown(request, page, ground)


def edit(request: HttpRequest, slug: str, pk: int, option: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    decision = pages.find_decision(door.project, pk)
    row = pages.find_option(decision, option)
    ground, standing = entry.ground(decision, today=door.today, option=row), entry.standing(row)
    page = OptionEntry(request.POST or None, ground=ground, standing=standing)
    theirs = None
    if request.method == "POST" and page.is_valid():
        version = page.form.cleaned_data["version"] or 0
        try:
            made = drafts.edit_option(row, page.draft(), version=version, by=door.user, now=door.now, today=door.today)
        except Refused as fault:
            page.form.refuse(fault)
            theirs = standing if isinstance(fault, Stale) else None
        else:
            said.done(request, _("%s is saved.") % made)
            return redirect("decisions:decision", slug, pk)
    return _shown(request, page, ground, option=row, theirs=theirs)


def _shown(request: HttpRequest, page: OptionEntry, ground: entry.Ground, **more: object) -> HttpResponse:
    status = REFUSED if request.method == "POST" and not page.growing else 200
    told = {"entry": page, "ground": ground, "decision": ground.decision, "budget": ground.budget} | more
    return render(request, "decisions/option.html", told, status=status)


def take_off(request: HttpRequest, slug: str, pk: int, option: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    row = pages.find_option(pages.find_decision(door.project, pk), option)
    undo = reverse("decisions:bring_back", args=[slug, pk, option])
    return _done(
        request,
        door,
        lambda: drafts.withdraw_option(row, by=door.user, now=door.now),
        _("%s is off the table.") % row,
        undo,
        pk,
    )


def bring_back(request: HttpRequest, slug: str, pk: int, option: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    row = pages.find_option(pages.find_decision(door.project, pk), option)
    undo = reverse("decisions:take_off", args=[slug, pk, option])
    return _done(
        request,
        door,
        lambda: drafts.restore_option(row, by=door.user, now=door.now),
        _("%s is back on the table.") % row,
        undo,
        pk,
    )


def _done(request: HttpRequest, door: Door, deed, sentence: str, undo: str, pk: int) -> HttpResponse:
    try:
        deed()
    except Refused as fault:
        said.refused(request, fault.message)
    else:
        said.done(request, sentence, undo=undo)
    return redirect("decisions:decision", door.project.slug, pk)
