"""The savings book: the page, and its own entries."""

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from budget.door import open_project
from budget.forms.fields import refused_at
from budget.views.answers import form_page
from decisions import charts_savings
from decisions.forms.savings import EntryForm, FurtherForm, TakeBackForm
from decisions.selectors import entry as choices
from decisions.selectors import own_entries, savings_page
from decisions.services import book as services
from projects import said
from projects.faults import Refused


def book(request: HttpRequest, slug: str) -> HttpResponse:
    door = open_project(request, slug)
    page = savings_page.savings_page(door.project)
    picture = charts_savings.book(page.book, project=door.project) if page.book.counted or page.book.eaten else None
    return render(request, "decisions/savings.html", {"page": page, "book": page.book, "picture": picture})


def add(request: HttpRequest, slug: str) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    budget, decisions = choices.line_choices(door.project), own_entries.open_decisions(door.project)
    first = {
        "state": request.GET.get("state", "decided"),
        "line": own_entries.code_of(budget, request.GET.get("line", "")),
    }
    form = EntryForm(request.POST or None, project=door.project, budget=budget, decisions=decisions, initial=first)
    if request.method == "POST" and form.is_valid():
        with refused_at(form):
            made = services.add_entry(door.project, form.draft(), by=door.user, now=door.now, today=door.today)
            undo = reverse("savings:undo", args=[slug, made.pk])
            said.done(request, _("“%s” stands in the savings book.") % made, undo=undo)
            return redirect("savings:book", slug)
    status = 422 if request.method == "POST" else 200
    return render(request, "decisions/savings_entry.html", {"form": form, "budget": budget}, status=status)


def further(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    entry = own_entries.find(door.project, pk)
    first = {"state": own_entries.next_state(entry), "amount": entry.amount_minor or None}
    form = FurtherForm(request.POST or None, project=door.project, initial=first)
    if request.method == "POST" and form.is_valid():
        held = form.cleaned_data
        with refused_at(form):
            services.advance(
                entry, state=held["state"], amount_minor=held["amount"], note=held["note"], by=door.user, now=door.now, today=door.today
            )  # fmt: skip
            said.done(request, _("“%s” is taken further.") % entry)
            return redirect("savings:book", slug)
    return form_page(
        request, form, sentence=_("How far is “%s”?") % entry, button=_("Take it further"),
        note=_("%(line)s, %(state)s. What is decided claims no more than its line has saved.")
        % {"line": entry.line, "state": entry.get_state_display()},
        back=reverse("savings:book", args=[slug]), back_label=_("Savings"),
    )  # fmt: skip


def take_back(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    entry = own_entries.find(door.project, pk)
    form = TakeBackForm(request.POST or None, project=door.project)
    if request.method == "POST" and form.is_valid():
        with refused_at(form):
            services.take_back(entry, reason=form.cleaned_data["reason"], by=door.user, now=door.now, today=door.today)
            said.done(request, _("“%s” is out of the savings book; its rows are kept.") % entry)
            return redirect("savings:book", slug)
    return form_page(
        request, form, sentence=_("Take “%s” out of the savings book?") % entry, button=_("Take it back"), grave=True,
        note=_("Nothing is deleted: the entry and its reversal stay readable in the trail."),
        back=reverse("savings:book", args=[slug]), back_label=_("Savings"),
    )  # fmt: skip


def undo(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """Take back an entry just made."""
    door = open_project(request, slug, may="decide")
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    entry = own_entries.find(door.project, pk)
    try:
        services.take_back(entry, reason=_("undone at once"), by=door.user, now=door.now, today=door.today)
    except Refused as fault:
        said.refused(request, fault.message)
    else:
        said.done(request, _("“%s” is out of the savings book; its rows are kept.") % entry)
    return redirect("savings:book", slug)
