"""Accepting a quote, and taking an acceptance back."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from budget import door, wording
from budget.forms.agreements import AcceptForm, accept_rows
from budget.forms.fields import refused_at
from budget.forms.lines import ReasonForm
from budget.selectors import levelled, vendors
from budget.services import agreements as services
from budget.views.answers import form_page
from budget.views.asked import whole_number
from projects import limits, said


def accept(request: HttpRequest, slug: str, quote_id: int) -> HttpResponse:
    """A lead may accept within the limit; an owner may accept what the lead prefers."""
    opened = door.open_project(request, slug)
    quote = vendors.quote_in(opened.project, quote_id)
    kept = vendors.quoted_lines(quote)
    if not (opened.may_edit or (opened.may_approve and any(row.preferred for row in kept))):
        raise PermissionDenied
    takeable = [row for row in kept if opened.may_edit or row.preferred]
    form = AcceptForm(request.POST or None, project=opened.project, initial={"agreed_on": opened.today})
    rows = accept_rows(opened.project, quote, takeable, request.POST or None, whole_number(request.GET.get("line")))
    if form.is_valid() and rows.is_valid():
        with refused_at(form):
            agreement = services.accept_quote(
                quote, by=opened.user, role=opened.role, now=opened.now, today=opened.today,
                terms=form.terms(rows), agreed_on=form.cleaned_data["agreed_on"],
            )  # fmt: skip
            said.done(request, _("Accepted the quote of %s.") % quote.vendor)
            for step in vendors.moved_by(opened.project, "agreement", agreement.pk):
                said.done(request, wording.moved(str(step.line), step.before, step.after, opened.project))
            return redirect("budget:quote", slug, quote_id)
    sheets = levelled.sheets(opened.project, [row.line_id for row in takeable], today=opened.today)
    columns = {sheet.line.pk: next((c for c in sheet.columns if c.quote.pk == quote.pk), None) for sheet in sheets}
    net = sum(column.net for column in columns.values() if column)
    context = {
        "quote": quote,
        "form": form,
        "rows": rows.beside(columns),
        "formset": rows,
        "above_limit": not limits.allows(opened.project, opened.role, net),
    }
    return render(request, "budget/accept.html", context, status=422 if form.is_bound else 200)


def take_back(request: HttpRequest, slug: str, agreement_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    agreement = vendors.agreement_in(opened.project, agreement_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            services.reverse_agreement(
                agreement, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(
                request, _("The quote of %s is open again; what its acceptance moved is reversed.") % agreement.vendor
            )
            return redirect("budget:quote", slug, agreement.quote_id)
    return form_page(
        request, form, sentence=_("Take back the acceptance of %s?") % agreement.vendor, button=_("Take the acceptance back"),
        note=_("The movements it caused are reversed, the quote is open again, and nothing is deleted."),
        back=reverse("budget:quote", args=[slug, agreement.quote_id]), back_label=_("the quote"),
    )  # fmt: skip
