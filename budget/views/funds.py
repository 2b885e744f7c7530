"""Money promised to the project and what comes in of it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from budget import door
from budget.forms import cash as forms
from budget.forms.fields import refused_at
from budget.forms.lines import ReasonForm
from budget.models import FundingReceipt
from budget.selectors import cash_rows
from budget.services import funding
from budget.views.answers import form_page
from budget.views.asked import whole_number
from projects import display, said
from projects.access import Door
from projects.faults import Refused


def _back(opened: Door) -> dict[str, str]:
    return {"back": _home(opened.project.slug), "back_label": _("Cash")}


def _home(slug: str) -> str:
    return reverse("budget:cash", args=[slug]) + "#funds"


def add_source(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    form = forms.SourceForm(request.POST or None, project=opened.project)
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            made = funding.add_source(
                opened.project, name=given["name"], amount_minor=given["amount"], note=given["note"], by=opened.user,
                now=opened.now, today=opened.today,
            )  # fmt: skip
            undo = reverse("budget:remove_source", args=[slug, made.pk])
            said.done(request, _("%s is on the list of funding.") % made, undo=undo)
            return redirect(_home(slug))
    return form_page(
        request, form, sentence=_("Who gives money to the build?"), button=_("Add the source"),
        note=_("What is promised, whether or not it has come in."), **_back(opened),
    )  # fmt: skip


def edit_source(request: HttpRequest, slug: str, source_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = cash_rows.source_in(opened.project, source_id)
    stands = {"name": found.name, "amount": found.amount_minor, "note": found.note, "version": found.version}
    form = forms.SourceForm(request.POST or None, project=opened.project, initial=stands)
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            saved = funding.edit_source(
                found, name=given["name"], amount_minor=given["amount"], note=given["note"], version=given["version"] or 0,
                by=opened.user, now=opened.now, today=opened.today,
            )  # fmt: skip
            said.done(request, _("Saved %s.") % saved)
            return redirect(_home(slug))
    return form_page(request, form, sentence=_("Edit %s") % found, button=_("Save the source"), **_back(opened))


@require_POST
def remove_source(request: HttpRequest, slug: str, source_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = cash_rows.source_in(opened.project, source_id)
    try:
        funding.remove_source(found, by=opened.user, now=opened.now, today=opened.today)
        undo = reverse("budget:put_back_source", args=[slug, found.pk])
        said.done(request, _("%s is off the list of funding.") % found, undo=undo)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect(_home(slug))


@require_POST
def put_back_source(request: HttpRequest, slug: str, source_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = cash_rows.source_in(opened.project, source_id)
    try:
        funding.put_back_source(found, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("%s is on the list of funding again.") % found)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect(_home(slug))


def receive(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="book")
    first = {"received_on": opened.today, "source": str(whole_number(request.GET.get("source")) or "")}
    sources = cash_rows.sources(opened.project)
    form = forms.ReceiptForm(request.POST or None, project=opened.project, sources=sources, initial=first)
    if form.is_valid():
        given = form.cleaned_data
        found = cash_rows.source_in(opened.project, int(given["source"]))
        with refused_at(form):
            row = funding.receive(
                found, amount_minor=given["amount"], received_on=given["received_on"], note=given["note"], by=opened.user,
                now=opened.now, today=opened.today,
            )  # fmt: skip
            undo = reverse("budget:undo_receipt", args=[slug, row.pk])
            said.done(request, _told(_("%(amount)s came in from %(name)s."), row), undo=undo)
            return redirect(_home(slug))
    return form_page(
        request, form, sentence=_("Which money came in?"), button=_("Enter the money"), **_back(opened)
    )  # fmt: skip


def _told(words: str, row: FundingReceipt) -> str:
    project = row.source.project
    return words % {"amount": display.money(row.amount_minor, project, brief=True), "name": row.source.name}


def take_back_receipt(request: HttpRequest, slug: str, receipt_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="book")
    row = cash_rows.receipt_in(opened.project, receipt_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            funding.take_back(
                row, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(request, _told(_("It is taken back that %(amount)s came in from %(name)s."), row))
            return redirect(_home(slug))
    return form_page(
        request, form, sentence=_told(_("Did %(amount)s not come in from %(name)s?"), row), button=_("Take it back"),
        note=_("For money that was entered by a slip; both rows stay readable."), **_back(opened),
    )  # fmt: skip


@require_POST
def undo_receipt(request: HttpRequest, slug: str, receipt_id: int) -> HttpResponse:
    """Take back money just entered."""
    opened = door.open_project(request, slug, may="book")
    row = cash_rows.receipt_in(opened.project, receipt_id)
    try:
        funding.take_back(row, reason=_("taken back at once"), by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _told(_("It is taken back that %(amount)s came in from %(name)s."), row))
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect(_home(slug))
