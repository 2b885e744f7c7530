"""Starting a decision, its words and its checks."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from decisions.door import open_project
from decisions.forms.drafting import ChecksEntry, DecisionEntry, WordsForm, words_initial
from decisions.selectors import entry, pages
from decisions.services import drafts
from projects import said
from projects.faults import Refused

REFUSED = 422


def new(request: HttpRequest, slug: str) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    budget = entry.line_choices(door.project)
    wanted = request.GET.getlist("line")
    codes = [line.code for line in budget if str(line.pk) in wanted]
    page = DecisionEntry(request.POST or None, project=door.project, budget=budget, lines=codes)
    if request.method == "POST" and page.is_valid():
        try:
            made = drafts.open_decision(door.project, **page.values(), by=door.user, now=door.now)
        except Refused as fault:
            page.form.refuse(fault)
        else:
            said.done(
                request, _("Decision %(code)s is open. Put the ways to build it on the table.") % {"code": made.code}
            )
            return redirect("decisions:decision", slug, made.pk)
    told = {"entry": page, "budget": budget}
    return render(request, "decisions/new.html", told, status=_status(request, page.growing))


def _status(request: HttpRequest, growing: bool) -> int:
    return REFUSED if request.method == "POST" and not growing else 200


def edit(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    decision = pages.find_decision(door.project, pk)
    initial = words_initial(decision.title, decision.question, decision.need_by, decision.version)
    form = WordsForm(request.POST or None, project=door.project, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            drafts.edit_decision(decision, **form.cleaned_data, by=door.user, now=door.now)
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("Saved."))
            return redirect("decisions:decision", slug, pk)
    return render(request, "decisions/edit.html", {"form": form, "decision": decision}, status=_status(request, False))


def checks(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    decision = pages.find_decision(door.project, pk)
    page = ChecksEntry(
        request.POST or None, project=door.project, initial=entry.checks_of(decision), version=decision.version
    )
    if request.method == "POST" and page.is_valid():
        try:
            drafts.set_must_passes(
                decision, page.drafts(), by=door.user, now=door.now, version=page.form.cleaned_data["version"]
            )
        except Refused as fault:
            page.form.refuse(fault)
        else:
            said.done(request, _("The checks are saved; values that options had given are held to them."))
            return redirect(reverse("decisions:decision", args=[slug, pk]))
    told = {"entry": page, "decision": decision}
    return render(request, "decisions/checks.html", told, status=_status(request, page.growing))
