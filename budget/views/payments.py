"""Paying invoices, where vendors are paid, and what was seen done."""

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from budget import door
from budget import wording_invoices as telling
from budget.forms import invoices as forms
from budget.forms.fields import refused_at
from budget.forms.lines import ReasonForm
from budget.selectors import invoices as reads
from budget.selectors import line as lines
from budget.services import banks, progress
from budget.services import payments as services
from budget.views import papers
from budget.views.answers import form_page
from projects import said
from projects.access import Door
from projects.faults import Refused


def pay(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="book")
    page = reads.invoice_page(opened.project, invoice_id, today=opened.today)
    found, left = page.invoice, page.seen.open_minor
    start = {"paid_on": opened.today}
    form = forms.PayForm(
        request.POST or None, project=opened.project, invoice=found, open_minor=page.now_minor, initial=start
    )
    if form.is_valid():
        with refused_at(form):
            row = services.pay(found, by=opened.user, now=opened.now, today=opened.today, **form.asked())
            undo = reverse("budget:undo_payment", args=[slug, row.pk])
            said.done(request, _("Entered the payment of %s.") % found, undo=undo)
            return redirect("budget:invoice", slug, invoice_id)
    return form_page(
        request, form, sentence=telling.to_pay(found, left, opened.project), button=_("Enter the payment"),
        note=" ".join([*page.seen.reasons, _("This writes down what was paid; the bank is told by you.")]),
        back=reverse("budget:invoice", args=[slug, invoice_id]), back_label=str(found),
    )  # fmt: skip


def take_back(request: HttpRequest, slug: str, payment_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="book")
    row = reads.payment_in(opened.project, payment_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            services.take_back(row, form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("The payment is taken back; the amount is open again."))
            return redirect("budget:invoice", slug, row.invoice_id)
    return form_page(
        request, form, sentence=_("Take back a payment of %s?") % row.invoice, button=_("Take it back"), grave=True,
        note=_("A payment of the opposite amount is written beside it; nothing is deleted."),
        back=reverse("budget:invoice", args=[slug, row.invoice_id]), back_label=str(row.invoice),
    )  # fmt: skip


@require_POST
def undo(request: HttpRequest, slug: str, payment_id: int) -> HttpResponse:
    """Take back a payment just entered."""
    opened = door.open_project(request, slug, may="book")
    row = reads.payment_in(opened.project, payment_id)
    try:
        services.take_back(row, _("entered by mistake"), by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("The payment is taken back; the amount is open again."))
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("budget:invoice", slug, row.invoice_id)


def vendor_bank(request: HttpRequest, slug: str, vendor_id: int) -> HttpResponse:
    """Where a vendor is paid: what is known, what waits for a second person, and noting further details."""
    opened = _booking(request, slug)
    vendor = reads.vendor_in(opened.project, vendor_id)
    form = forms.BankForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            banks.note_bank(vendor, form.cleaned_data["bank"], by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("Noted the bank details of %s; a second person has to confirm them.") % vendor)
            return redirect("budget:vendor_bank", slug, vendor_id)
    context = {"vendor": vendor, "banks": reads.vendor_banks(vendor), "form": form}
    return render(request, "budget/vendor_bank.html", context, status=422 if form.is_bound else 200)


def confirm_bank(request: HttpRequest, slug: str, bank_id: int) -> HttpResponse:
    opened = _booking(request, slug)
    bank = reads.bank_in(opened.project, bank_id)
    form = forms.ConfirmBankForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            banks.confirm(bank, form.cleaned_data["how"], by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("Confirmed the bank details of %s.") % bank.vendor)
            return redirect("budget:vendor_bank", slug, bank.vendor_id)
    return form_page(
        request, form, sentence=telling.to_confirm(bank), button=_("They are the vendor\u2019s own"),
        note=telling.bank_caution(bank), back=reverse("budget:vendor_bank", args=[slug, bank.vendor_id]),
        back_label=str(bank.vendor),
    )  # fmt: skip


def _booking(request: HttpRequest, slug: str) -> Door:
    """Those who enter invoices, and those who approve them."""
    opened = door.open_project(request, slug)
    if not (opened.may_book or opened.may_commit):
        raise PermissionDenied
    return opened


def seen(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    """How much of a line's work was seen done."""
    opened = door.open_project(request, slug, may="commit")
    found = lines.line_in(opened.project, line_id)
    form = forms.SeenForm(
        request.POST or None, request.FILES or None, project=opened.project, initial={"seen_on": opened.today}
    )
    kept = papers.kept(opened, request, form) if form.is_bound else ()
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            progress.note_seen(
                found, percent=given["percent"], seen_on=given["seen_on"], note=given["note"],
                attachment=kept[0] if kept else None, by=opened.user, now=opened.now, today=opened.today,
            )  # fmt: skip
            said.done(request, _("Noted what was seen done of %s.") % found)
            return redirect("budget:line", slug, line_id)
    context = {
        "form": form, "line": found, "kept": kept, "looks": reads.looks(found),
    }  # fmt: skip
    return render(request, "budget/seen.html", context, status=422 if form.is_bound else 200)
