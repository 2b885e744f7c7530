"""Trades, further lines, and the vendors."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from budget import door
from budget.forms.fields import refused_at
from budget.forms.lines import LineForm, TradeForm
from budget.selectors import pages
from budget.selectors import vendors as reads
from budget.services import lines as services
from budget.views.answers import form_page
from budget.views.asked import whole_number
from projects import said

VENDORS_AT_ONCE = 200


def add_trade(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    form = TradeForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            trade = services.add_trade(opened.project, by=opened.user, now=opened.now, **form.cleaned_data)
            said.done(request, _("Added the trade %s. Give it its first line.") % trade)
            return redirect(reverse("budget:add_line", args=[slug]) + f"?trade={trade.pk}")
    back = reverse("budget:money", args=[slug])
    return form_page(
        request, form, sentence=_("Add a trade"), button=_("Add the trade"), back=back, back_label=_("Money")
    )


def add_line(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    asked = whole_number(request.GET.get("trade"))
    trade = pages.trade_in(opened.project, asked) if asked else None
    first = {"trade": trade, "code": pages.next_line_code(opened.project, trade), "kind": "work", "added": "no"}
    form = LineForm(request.POST or None, project=opened.project, initial=first)
    if form.is_valid():
        with refused_at(form):
            line = services.add_line(opened.project, form.draft(), by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("Added the line %s.") % line)
            return redirect("budget:line", slug, line.pk)
    back = reverse("budget:money", args=[slug])
    return form_page(
        request, form, sentence=_("Add a line"), button=_("Add the line"), back=back, back_label=_("Money")
    )


def vendors(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    page = Paginator(reads.vendors(opened.project), VENDORS_AT_ONCE).get_page(request.GET.get("page"))
    return render(request, "budget/vendors.html", {"page": page})
