"""Closing a line, opening it again, and giving back what it has not needed."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from budget import door
from budget import wording_reserve as wording
from budget.forms.fields import refused_at
from budget.forms.lines import ReasonForm
from budget.forms.reserve import CloseLineForm, GiveBackForm
from budget.models import LineItem
from budget.selectors import closing as reads
from budget.selectors import line as lines
from budget.selectors import purses
from budget.services import closing as services
from budget.services import transfers
from budget.views.answers import form_page
from projects import said
from projects.access import Door
from projects.faults import Refused


def _back(opened: Door, found: LineItem) -> dict[str, str]:
    return {"back": reverse("budget:line", args=[opened.project.slug, found.pk]), "back_label": str(found)}


def close_line(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = lines.line_in(opened.project, line_id)
    first = {"closed_on": opened.today, "version": found.version}
    account = reads.account(opened.project, found)
    form = CloseLineForm(request.POST or None, project=opened.project, unbilled=account.unbilled, initial=first)
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            closed = services.close_line(
                found, by=opened.user, now=opened.now, today=opened.today, note=given["note"], on=given["closed_on"],
                version=given["version"],
            )  # fmt: skip
            said.done(
                request, wording.line_closed(closed, opened.project),
                undo=reverse("budget:undo_close_line", args=[slug, line_id]),
            )  # fmt: skip
            return redirect("budget:line", slug, line_id)
    context = {"form": form, "line": found, "account": account} | _back(opened, found)
    return render(request, "budget/close_line.html", context, status=422 if form.is_bound and form.errors else 200)


def reopen_line(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = lines.line_in(opened.project, line_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            services.reopen_line(
                found, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(request, _("%s is open again.") % found)
            return redirect("budget:line", slug, line_id)
    return form_page(
        request, form, sentence=_("Open %s again?") % found, button=_("Open the line again"),
        note=_("Its likely final follows from its agreement, changes and invoices again."), **_back(opened, found),
    )  # fmt: skip


@require_POST
def undo_close(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    """Open a line again that was just closed."""
    opened = door.open_project(request, slug, may="edit_money")
    found = lines.line_in(opened.project, line_id)
    try:
        services.reopen_line(found, reason=_("taken back at once"), by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("%s is open again.") % found)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("budget:line", slug, line_id)


def give_back(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = lines.line_in(opened.project, line_id)
    most = reads.to_give(opened.project, found)
    pots = purses.holdings(opened.project, aside=True)
    form = GiveBackForm(request.POST or None, project=opened.project, pots=pots, initial={"amount": most})
    if form.is_valid():
        with refused_at(form):
            made = transfers.give_back(found, by=opened.user, now=opened.now, today=opened.today, **form.asked())
            said.done(
                request, wording.budget_moved(made, opened.project),
                undo=reverse("budget:undo_move", args=[slug, made.pk]),
            )  # fmt: skip
            return redirect("budget:line", slug, line_id)
    return form_page(
        request, form, sentence=_("Give back what %s has not needed") % found, button=_("Give it back"),
        note=wording.may_give(most, opened.project), **_back(opened, found),
    )  # fmt: skip
