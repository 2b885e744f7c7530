"""Invoices: the queue, entering one with a look at its verdict, its page, and what is decided about it."""

from collections.abc import Callable, Sequence
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.functional import SimpleLazyObject
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from budget import door, wording
from budget import wording_invoices as telling
from budget.forms import invoices as forms
from budget.forms.fields import refused_at
from budget.models import Invoice
from budget.selectors import invoices as reads
from budget.selectors import pages, proposals, vendors
from budget.services import invoices as services
from budget.services.invoices import InvoiceDraft
from budget.views import papers
from budget.views.answers import form_page
from budget.views.asked import whole_number
from projects import said
from projects.access import Door
from projects.faults import Refused
from units.money import CURRENCIES

AT_ONCE = 50


@require_safe
def queue(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    rows = reads.queue(opened.project, opened.today)
    groups, totals = reads.groups(rows), reads.totals(opened.project, rows)
    context = {
        "groups": groups,
        "sentence": telling.queue(*reads.counted(groups), totals.approved_minor, opened.project),
        "flags": reads.flags(opened.project, opened.today),
    }
    return render(request, "budget/invoices.html", context)


@require_safe
def past(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    vendor = request.GET.get("vendor", "").strip()[:160]
    page = Paginator(reads.past(opened.project, vendor=vendor), AT_ONCE).get_page(request.GET.get("page"))
    return render(request, "budget/invoices_all.html", {"page": page, "vendor": vendor})


# --- entering one -----------------------------------------------------------------------------------------------


def new(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="book")
    if request.method != "POST":
        return _blank(request, opened)
    desk = _desk(opened, request.POST.get("currency", ""))
    data, patient = forms.with_more(request.POST), "more_rows" in request.POST
    form = forms.InvoiceForm(desk, data, request.FILES)
    rows = forms.InvoicedLineFormSet(data, prefix="lines", desk=desk, patient=patient)
    form.patient = patient
    kept = papers.kept(opened, request, form)
    if patient or not (form.is_valid() and rows.is_valid()):
        return _page(request, form, rows, kept, status=200 if patient else 422)
    return _looked_or_entered(request, opened, form, rows, kept)


def _desk(opened: Door, currency: str) -> forms.Desk:
    """What can be chosen is read when it is asked for: a form that is entered at once shows none of it."""
    project = opened.project
    return forms.Desk(
        project=project,
        lines=pages.choosable_lines(project),
        rates=pages.rates(project),
        vendors=_later(lambda: vendors.names(project)),
        today=opened.today,
        currency=currency if currency in CURRENCIES else project.currency,
        changes=_later(lambda: reads.choosable_changes(project)),
    )


def _later(read: Callable[[], Sequence[Any]]) -> Any:
    return SimpleLazyObject(read)


def _blank(request: HttpRequest, opened: Door) -> HttpResponse:
    """The form as it starts: for a line or a vendor asked for, or as the credit note of an invoice."""
    if asked := whole_number(request.GET.get("credits")):
        page = reads.invoice_page(opened.project, asked, today=opened.today)
        desk = _desk(opened, page.invoice.currency)
        head, first = forms.start_credit(desk, page)
    else:
        desk = _desk(opened, "")
        line = desk.label(whole_number(request.GET.get("line")))
        head, first = forms.start(desk, request.GET.dict()), [{"line": line}] if line else []
    rows = forms.InvoicedLineFormSet(prefix="lines", desk=desk, initial=first)
    rows.extra = 0 if first else 1
    return _page(request, forms.InvoiceForm(desk, initial=head), rows, ())


def _page(
    request: HttpRequest, form: Any, rows: Any, kept: Sequence[Any], *, status: int = 200, seen: Any = None
) -> HttpResponse:
    faulty = rows.is_bound and not form.patient and (any(rows.errors) or bool(rows.non_form_errors()))
    context = {"form": form, "rows": rows, "kept": kept, "desk": form.desk, "faulty": faulty, "seen": seen}
    return render(request, "budget/invoice_new.html", context, status=status)


def _looked_or_entered(request: HttpRequest, opened: Door, form: Any, rows: Any, kept: Sequence[Any]) -> HttpResponse:
    typed = rows.typed()
    lines = proposals.fill_in(
        opened.project, form.cleaned_data["vendor"], [row for _place, row in typed], credit=form.is_credit,
        tax_minor=form.cleaned_data["tax"], tax_percent=form.cleaned_data["tax_percent"],
    )  # fmt: skip
    draft = form.draft(lines, [row.pk for row in kept])
    with refused_at(form):
        if "look" in request.POST:
            data = forms.filled(request.POST, form, typed, lines)
            return _looked(request, opened, draft, data, kept)
        entered = services.enter_invoice(opened.project, draft, by=opened.user, now=opened.now, today=opened.today)
        _say_entered(request, opened, entered)
        return redirect("budget:invoice", opened.project.slug, entered.pk)
    return _page(request, form, rows, kept, status=422)


def _looked(request: HttpRequest, opened: Door, draft: InvoiceDraft, data: Any, kept: Sequence[Any]) -> HttpResponse:
    shown = services.rehearse(opened.project, draft, by=opened.user, now=opened.now, today=opened.today)
    voice = telling.voice_of(shown.invoice, opened.project)
    desk = _desk(opened, draft.currency)
    seen = {
        "shown": shown,
        "verdict": shown.judgement.verdict,
        "reasons": telling.reasons(shown.judgement, voice),
        "sums": proposals.sums(draft.lines),
        "moved": [wording.moved(str(step.line), step.before, step.after, opened.project) for step in shown.moved],
    }
    rows = forms.InvoicedLineFormSet(data, prefix="lines", desk=desk)
    return _page(request, forms.InvoiceForm(desk, data), rows, kept, seen=seen)


def _say_entered(request: HttpRequest, opened: Door, entered: Invoice) -> None:
    steps = vendors.moved_by(opened.project, "invoice", entered.pk)
    moved = [wording.moved(str(step.line), step.before, step.after, opened.project) for step in steps]
    undo = reverse("budget:undo_invoice", args=[opened.project.slug, entered.pk])
    said.done(request, " ".join([_("Entered %s.") % entered, *moved]), undo=undo)
    if entered.state == Invoice.State.QUERIED:
        said.watch_out(request, _("Something does not fit: it does not count until it is cleared up or approved."))


@require_POST
def undo(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    """Take back an invoice just entered."""
    opened = door.open_project(request, slug, may="book")
    found = reads.invoice_in(opened.project, invoice_id)
    try:
        services.take_back_entry(found, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("%s is taken back; its number is free again.") % found)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("budget:invoice", slug, invoice_id)


# --- its page, and what is decided ------------------------------------------------------------------------------


@require_safe
def invoice(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    page = reads.invoice_page(opened.project, invoice_id, today=opened.today)
    context = {
        "page": page,
        "invoice": page.invoice,
        "seen": page.seen,
        "sentence": telling.standing(page.invoice, page.seen.judgement, page.seen.open_minor, opened.project),
        "payable": page.seen.approved and page.seen.open_minor,
        "may_put_aside": _may_put_aside(opened, page.invoice),
    }
    return render(request, "budget/invoice.html", context)


def _may_put_aside(opened: Door, found: Invoice) -> bool:
    """Whoever books asks vendors; what somebody has approved is put aside by who may approve."""
    return opened.may_commit or (opened.may_book and found.state != Invoice.State.APPROVED)


def _back(opened: Door, found: Invoice) -> dict[str, str]:
    return {"back": reverse("budget:invoice", args=[opened.project.slug, found.pk]), "back_label": str(found)}


def approve(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="commit")
    page = reads.invoice_page(opened.project, invoice_id, today=opened.today)
    found, asks = page.invoice, page.seen.verdict == "query"
    start = {"version": found.version}
    form = forms.ApproveForm(request.POST or None, project=opened.project, asks=asks, initial=start)
    if form.is_valid():
        with refused_at(form):
            services.approve(
                found, by=opened.user, role=opened.role, now=opened.now, today=opened.today, **form.cleaned_data
            )
            said.done(request, _("Approved %s for payment.") % found)
            return redirect("budget:invoice", slug, invoice_id)
    return form_page(
        request, form, sentence=_("Approve %s?") % found, button=_("Approve for payment"), note=" ".join(page.seen.reasons),
        **_back(opened, found),
    )  # fmt: skip


def query(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    opened, found = _to_put_aside(request, slug, invoice_id)
    words = (_("Query %s?"), _("Put it aside"), _("It counts no longer until it is taken up again or approved."))
    return _put_aside(request, opened, found, services.query, *words, done=_("%s is queried."))


def refuse(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="commit")
    found = reads.invoice_in(opened.project, invoice_id)
    words = (_("Refuse %s?"), _("Refuse it"), _("It counts nowhere and stays readable; its number is free again."))
    return _put_aside(request, opened, found, services.refuse, *words, done=_("%s is refused."), grave=True)


def take_up(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    opened, found = _to_put_aside(request, slug, invoice_id)
    words = (_("Take %s up again?"), _("Take it up again"), _("It waits to be approved and counts as invoiced."))
    return _put_aside(request, opened, found, services.take_up, *words, done=_("%s waits to be approved."))


def explain(request: HttpRequest, slug: str, invoice_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="commit")
    found = reads.invoice_in(opened.project, invoice_id)
    words = (_("How was %s settled?"), _("It is settled"), _("What did not fit is no longer shown as open."))
    return _put_aside(request, opened, found, services.explain, *words, done=_("What did not fit in %s is settled."))


def _to_put_aside(request: HttpRequest, slug: str, invoice_id: int) -> tuple[Door, Invoice]:
    opened = door.open_project(request, slug)
    found = reads.invoice_in(opened.project, invoice_id)
    if not _may_put_aside(opened, found):
        raise PermissionDenied
    return opened, found


def _put_aside(
    request: HttpRequest,
    opened: Door,
    found: Invoice,
    deed: Any,
    sentence: str,
    button: str,
    note: str,
    *,
    done: str,
    grave: bool = False,
) -> HttpResponse:
    """A page that asks for a reason and does one deed with it."""
    form = forms.NoteForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            note, version = form.cleaned_data["note"], found.version
            deed(found, note, by=opened.user, now=opened.now, today=opened.today, version=version)
            said.done(request, done % found)
            return redirect("budget:invoice", opened.project.slug, found.pk)
    return form_page(
        request, form, sentence=sentence % found, button=button, note=note, grave=grave, **_back(opened, found)
    )
