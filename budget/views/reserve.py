"""The contingency: its page, budget moved between lines, and the register of risks."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from budget import door
from budget import wording_reserve as wording
from budget.charts_reserve import pot as picture
from budget.forms import reserve as forms
from budget.forms.fields import refused_at
from budget.forms.lines import ReasonForm
from budget.models import Risk
from budget.selectors import open_cost, pot, purses
from budget.selectors import reserve as reads
from budget.services import risks as register
from budget.services import transfers
from budget.views.answers import form_page
from budget.views.asked import whole_number
from projects import limits, said
from projects.access import Door
from projects.faults import Refused


def reserve(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    seen = reads.reserve(opened.project, today=opened.today)
    context = {
        "seen": seen,
        "sentence": wording.enough(seen, opened.project) if seen else "",
        "together": wording.together(seen, opened.project) if seen else "",
        "rule": wording.signal_rule(seen, opened.project) if seen else "",
        "picture": picture(seen, project=opened.project, today=opened.today) if seen else None,
        "closed_risks": open_cost.closed_risks(opened.project),
        "risks": seen.risks if seen else open_cost.open_risks(opened.project),
        "moves": seen.pot.moves if seen else pot.moves(opened.project),
    }
    return render(request, "budget/reserve.html", context)


def _back(opened: Door) -> dict[str, str]:
    return {"back": reverse("budget:reserve", args=[opened.project.slug]), "back_label": _("Contingency")}


def move(request: HttpRequest, slug: str) -> HttpResponse:
    """The lead moves budget; an owner moves what leaves the contingency."""
    opened = door.open_project(request, slug, may="commit")
    targets = purses.holdings(opened.project)
    sources = targets if opened.may_edit else purses.holdings(opened.project, aside=True)
    first = {"from_line": request.GET.get("from", ""), "to_line": request.GET.get("to", ""), "need": forms.NONE}
    form = forms.MoveForm(request.POST or None, project=opened.project, sources=sources, targets=targets, initial=first)
    if form.is_valid():
        with refused_at(form):
            made = transfers.move(
                opened.project, by=opened.user, role=opened.role, now=opened.now, today=opened.today, **form.asked()
            )
            undo = reverse("budget:undo_move", args=[slug, made.pk]) if opened.may_edit else ""
            said.done(request, wording.budget_moved(made, opened.project), undo=undo)
            return redirect("budget:reserve", slug)
    limit = limits.most(opened.project, opened.role)
    return form_page(
        request, form, sentence=_("Move budget from one line to another"), button=_("Move the budget"),
        note=wording.limit_of_draws(limit, opened.project), **_back(opened),
    )  # fmt: skip


def take_back(request: HttpRequest, slug: str, transfer_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.transfer_in(opened.project, transfer_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            transfers.take_back(
                found, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(request, _("The budget is back with %s.") % found.from_line)
            return redirect("budget:reserve", slug)
    return form_page(
        request, form, sentence=wording.take_back(found, opened.project), button=_("Take it back"),
        note=_("A further move runs the other way; both stay readable."), **_back(opened),
    )  # fmt: skip


@require_POST
def undo(request: HttpRequest, slug: str, transfer_id: int) -> HttpResponse:
    """Take back a move just made."""
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.transfer_in(opened.project, transfer_id)
    try:
        transfers.take_back(found, reason=_("taken back at once"), by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("The budget is back with %s.") % found.from_line)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("budget:reserve", slug)


def add_risk(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    lines = purses.holdings(opened.project, closed=True)
    form = forms.RiskForm(
        request.POST or None, project=opened.project, lines=lines, initial={"line": request.GET.get("line", "")}
    )
    if form.is_valid():
        with refused_at(form):
            made = register.add_risk(opened.project, form.draft(), by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("Risk %s is on the register.") % made)
            return redirect("budget:reserve", slug)
    return form_page(request, form, sentence=_("What may still happen?"), button=_("Add the risk"), **_back(opened))


def edit_risk(request: HttpRequest, slug: str, risk_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.risk_in(opened.project, risk_id)
    lines = purses.holdings(opened.project, closed=True)
    form = forms.RiskForm(request.POST or None, project=opened.project, lines=lines, initial=_stands(found))
    if form.is_valid():
        with refused_at(form):
            saved = register.edit_risk(
                found, form.draft(), by=opened.user, now=opened.now, today=opened.today,
                version=form.cleaned_data["version"] or 0,
            )  # fmt: skip
            said.done(request, _("Saved risk %s.") % saved)
            return redirect("budget:reserve", slug)
    return form_page(request, form, sentence=_("Edit risk %s") % found.code, button=_("Save the risk"), **_back(opened))


def _stands(risk: Risk) -> dict[str, object]:
    names = ("what", "chance", "days", "owner", "response", "version")
    return {name: getattr(risk, name) for name in names} | {"cost": risk.cost_minor, "line": risk.line_id or ""}


def close_risk(request: HttpRequest, slug: str, risk_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.risk_in(opened.project, risk_id)
    form = forms.CloseRiskForm(
        request.POST or None,
        project=opened.project,
        changes=reads.choosable_changes(opened.project),
        initial={"version": found.version, "change": str(whole_number(request.GET.get("change")) or "")},
    )
    if form.is_valid():
        with refused_at(form):
            register.close_risk(found, by=opened.user, now=opened.now, today=opened.today, **form.asked())
            said.done(request, _("Risk %s is off the open register; it stays readable.") % found)
            return redirect("budget:reserve", slug)
    return form_page(
        request, form, sentence=_("How did %s go?") % found, button=_("Take it off the open risks"), **_back(opened)
    )
