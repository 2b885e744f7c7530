"""A line: its page, and what may be done about it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from budget import door, wording
from budget.forms import lines as forms
from budget.forms.fields import refused_at
from budget.models import LineItem
from budget.selectors import changes, closing, vendors
from budget.selectors import invoices as billing
from budget.selectors import line as reads
from budget.services import lines as services
from budget.views.answers import form_page
from projects import said
from projects.access import Door


def line(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    page = reads.line_page(opened.project, line_id, today=opened.today)
    context = {
        "page": page,
        "line": page.line,
        "changes": changes.of_line(opened.project, line_id),
        "billed": billing.on_line(page.line),
        "looks": billing.looks(page.line),
        "to_give": closing.to_give(opened.project, page.line) if page.line.closed_on else 0,
        "rule": wording.rule(page.reason, page.reason_vendor) if page.reason else "",
        "parts": [(wording.part(part.kind), part.amount_minor) for part in page.reason.parts] if page.reason else [],
    }
    return render(request, "budget/line.html", context)


def _back(opened: Door, found: LineItem) -> dict[str, str]:
    return {"back": reverse("budget:line", args=[opened.project.slug, found.pk]), "back_label": str(found)}


def edit(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.line_in(opened.project, line_id)
    stands = {name: getattr(found, name) for name in ("description", "unit", "quantity", "plug_rule", "version")}
    form = forms.EditLineForm(request.POST or None, project=opened.project, initial=stands)
    if form.is_valid():
        with refused_at(form):
            saved = services.edit_line(found, by=opened.user, now=opened.now, today=opened.today, **form.cleaned_data)
            said.done(request, _("Saved %s.") % saved)
            return redirect("budget:line", slug, line_id)
    return form_page(request, form, sentence=_("Edit %s") % found, button=_("Save the line"), **_back(opened, found))


def scope(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    """The scope list: what has to be in a quote for it to be whole."""
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.line_in(opened.project, line_id)
    entries = reads.scope_of(found)
    data, more = forms.rows_posted(request.POST, "scope")
    formset = forms.scope_list(opened.project, data, entries)
    if data and not more and formset.is_valid():
        with refused_at(formset):
            services.set_scope(
                found, forms.scope_entries(formset), was=str(request.POST.get("was", "")), by=opened.user, now=opened.now,
                today=opened.today,
            )  # fmt: skip
            said.done(request, _("Saved the scope list of %s; its quotes are levelled anew.") % found)
            return redirect("budget:line", slug, line_id)
    was = request.POST.get("was") or reads.scope_mark(found)
    return render(request, "budget/scope.html", {"formset": formset, "line": found, "was": was} | _back(opened, found))


def estimate(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.line_in(opened.project, line_id)
    form = forms.EstimateForm(request.POST or None, project=opened.project, initial={"estimated_on": opened.today})
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            services.estimate(
                found, amount_minor=given["amount"], basis=given["basis"], on=given["estimated_on"],
                by=opened.user, now=opened.now, today=opened.today,
            )  # fmt: skip
            said.done(request, _("Entered the estimate for %s.") % found)
            return redirect("budget:line", slug, line_id)
    sentence = _("What do you reckon %s to cost?") % found
    return form_page(request, form, sentence=sentence, button=_("Enter the estimate"), **_back(opened, found))


def own_forecast(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.line_in(opened.project, line_id)
    form = forms.OwnForecastForm(request.POST or None, project=opened.project, stands=reads.has_own_forecast(found))
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            services.forecast_own(
                found,
                amount_minor=given["amount"],
                reason=given["reason"],
                by=opened.user,
                now=opened.now,
                today=opened.today,
            )
            lifted = given["amount"] is None
            said.done(
                request,
                (_("Lifted the own forecast for %s.") if lifted else _("Your own forecast for %s stands.")) % found,
            )
            return redirect("budget:line", slug, line_id)
    return form_page(
        request, form, sentence=_("Your own forecast for %s") % found, button=_("Save the forecast"),
        note=_("It stands over the quotes and the agreement until you lift it, and the owners see your reason."),
        **_back(opened, found),
    )  # fmt: skip


def original(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    """Measure a line's savings against another quote."""
    opened = door.open_project(request, slug, may="edit_money")
    page = reads.line_page(opened.project, line_id, today=opened.today)
    first = {"quote": request.GET.get("quote", "")}
    form = forms.OriginalForm(request.POST or None, project=opened.project, quotes=page.quotes, initial=first)
    if form.is_valid():
        kept = vendors.quoted_line_in(opened.project, int(form.cleaned_data["quote"]), line_id)
        with refused_at(form):
            services.choose_original(
                kept, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            words = _("Savings on %(line)s are measured against %(vendor)s now.")
            said.done(request, words % {"line": page.line, "vendor": kept.quote.vendor})
            return redirect("budget:line", slug, line_id)
    return form_page(
        request, form, sentence=_("Which quote are the savings on %s measured against?") % page.line,
        button=_("Change the original quote"), note=_("The figures before the change stay in the trail with your reason."),
        **_back(opened, page.line),
    )  # fmt: skip
