"""Logging a quote, reading it, and taking it out again."""

from collections.abc import Sequence
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from budget import door, wording
from budget.forms import quotes as forms
from budget.forms.fields import refused_at
from budget.forms.lines import ReasonForm, RenewForm
from budget.models import Quote
from budget.selectors import levelled, pages, vendors
from budget.services import quotes as services
from budget.services import slips
from budget.views import papers
from budget.views.answers import form_page
from budget.views.asked import ids, whole_number
from projects import said
from projects.access import Door
from projects.faults import Refused


def _desk(opened: Door, currency: str) -> forms.Desk:
    project = opened.project
    return forms.Desk(
        project=project,
        lines=pages.choosable_lines(project),
        rates=pages.rates(project),
        vendors=vendors.names(project),
        today=opened.today,
        currency=currency if currency in forms.CURRENCIES else project.currency,
    )


def log(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    if request.method != "POST":
        return _blank(request, opened)
    desk = _desk(opened, request.POST.get("currency", ""))
    patient = "more_rows" in request.POST or "look" in request.POST
    data = forms.with_more(request.POST, desk, pages.scope_of(opened.project, pages.known_ids(desk.lines)))
    form = forms.QuoteForm(desk, data, request.FILES)
    rows = forms.QuotedLineFormSet(data, prefix="lines", desk=desk, scopes={}, patient=patient)
    form.patient = patient
    kept = papers.kept(opened, request, form)
    if not patient and form.is_valid() and rows.is_valid() and (logged := _logged(request, opened, form, rows, kept)):
        return redirect("budget:quote", slug, logged.pk)
    return _page(request, form, rows, kept, status=200 if patient else 422)


def _blank(request: HttpRequest, opened: Door) -> HttpResponse:
    """The form as it starts: for the lines asked for, for a further quote of a vendor, or for anything."""
    old = _replaced(opened, request)
    desk = _desk(opened, old.currency if old else "")
    asked = [pk for pk in _lines_asked(opened, request, old) if desk.label(pk)][: forms.MOST_LINES]
    scopes = pages.scope_of(opened.project, asked)
    form = forms.QuoteForm(desk, initial={"vendor": request.GET.get("vendor", "")[:160]} | forms.start(desk, old))
    rows = forms.QuotedLineFormSet(
        prefix="lines",
        desk=desk,
        scopes={place: scopes.get(pk, []) for place, pk in enumerate(asked)},
        initial=[{"line": desk.label(pk)} for pk in asked],
    )
    rows.extra = 0 if asked else 1
    return _page(request, form, rows, ())


def _replaced(opened: Door, request: HttpRequest) -> Quote | None:
    asked = whole_number(request.GET.get("replaces"))
    return vendors.quote_in(opened.project, asked) if asked else None


def _lines_asked(opened: Door, request: HttpRequest, old: Quote | None) -> Sequence[int]:
    if old is not None:
        return [kept.line_id for kept in vendors.quoted_lines(old)]
    return ids(request.GET.getlist("line"))


def _page(request: HttpRequest, form: Any, rows: Any, kept: Sequence[Any], status: int = 200) -> HttpResponse:
    context = {
        "form": form,
        "rows": rows,
        "kept": kept,
        "desk": form.desk,
        "faulty": not form.patient and _faulty(rows),
    }
    return render(request, "budget/log_quote.html", context, status=status)


def _faulty(rows: Any) -> bool:
    return rows.is_bound and (any(rows.errors) or bool(rows.non_form_errors()))


def _logged(request: HttpRequest, opened: Door, form: Any, rows: Any, kept: Sequence[Any]) -> Quote | None:
    draft = form.draft(rows.drafts(), [row.pk for row in kept])
    with refused_at(form):
        logged = services.log_quote(
            opened.project, draft, by=opened.user, now=opened.now, today=opened.today, again=form.cleaned_data["again"]
        )
        _say_logged(request, opened, logged)
        return logged
    return None


def _say_logged(request: HttpRequest, opened: Door, logged: Quote) -> None:
    undo = "" if logged.replaces_id else reverse("budget:undo_quote", args=[opened.project.slug, logged.pk])
    steps = vendors.moved_by(opened.project, "quote", logged.pk)
    moved = [wording.moved(str(step.line), step.before, step.after, opened.project) for step in steps]
    still = "" if moved else _("No likely final moved.")
    said.done(request, " ".join([_("Logged the quote of %s.") % logged.vendor, *moved, still]).strip(), undo=undo)
    for words in _warnings(opened, logged):
        said.watch_out(request, words)


def _warnings(opened: Door, logged: Quote) -> list[str]:
    found = []
    if logged.expired(opened.today):
        found.append(_("This quote has run out already; it does not count until it is renewed."))
    lines = [kept.line_id for kept in vendors.quoted_lines(logged)]
    low = _("%(vendor)s is more than 15 %% under the middle levelled amount for %(line)s: ask, do not award.")
    for sheet in levelled.sheets(opened.project, lines, today=opened.today):
        if any(column.far_below and column.quote.pk == logged.pk for column in sheet.columns):
            found.append(low % {"vendor": logged.vendor, "line": sheet.line})
    return found


def scope_part(request: HttpRequest, slug: str) -> HttpResponse:
    """The pieces of work of the line just named, for its row in the form."""
    opened = door.open_project(request, slug, may="edit_money")
    prefix = request.GET.get("prefix", "")
    if not forms.ROW.fullmatch(prefix):
        raise Http404
    desk = _desk(opened, request.GET.get("currency", ""))
    line_id = desk.line_called(request.GET.get(f"{prefix}-line", ""))
    names = pages.scope_of(opened.project, [line_id]).get(line_id, []) if line_id else []
    pieces, _extras = forms.inside(desk, prefix, None, names)
    return render(request, "budget/_scope_part.html", {"pieces": pieces, "desk": desk})


def quote(request: HttpRequest, slug: str, quote_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    page = vendors.quote_page(opened.project, quote_id)
    context = {
        "page": page,
        "quote": page.quote,
        "expired": page.quote.expired(opened.today),
        "rows": vendors.as_given(page),
    }
    return render(request, "budget/quote.html", context)


def withdraw(request: HttpRequest, slug: str, quote_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = vendors.quote_in(opened.project, quote_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            services.withdraw_quote(
                found, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(
                request, _("The quote of %s is withdrawn; it counts no longer and stays readable.") % found.vendor
            )
            return redirect("budget:quote", slug, quote_id)
    return form_page(
        request, form, sentence=_("Withdraw the quote of %s?") % found.vendor, button=_("Withdraw the quote"), grave=True,
        note=_("It leaves the comparison and the likely final of its lines. Nothing is deleted."),
        back=reverse("budget:quote", args=[slug, quote_id]), back_label=_("the quote"),
    )  # fmt: skip


@require_POST
def undo(request: HttpRequest, slug: str, quote_id: int) -> HttpResponse:
    """Take back a quote just logged."""
    opened = door.open_project(request, slug, may="edit_money")
    found = vendors.quote_in(opened.project, quote_id)
    try:
        slips.take_back_log(found, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("The quote of %s is taken back; its lines stand as before.") % found.vendor)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("budget:quote", slug, quote_id)


def renew(request: HttpRequest, slug: str, quote_id: int) -> HttpResponse:
    """The vendor holds the same price for longer."""
    opened = door.open_project(request, slug, may="edit_money")
    found = vendors.quote_in(opened.project, quote_id)
    form = RenewForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            services.renew_quote(found, by=opened.user, now=opened.now, today=opened.today, **form.cleaned_data)
            said.done(request, _("%s holds the price for longer.") % found.vendor)
            return redirect("budget:quote", slug, quote_id)
    return form_page(
        request, form, sentence=_("%s holds the price for longer") % found.vendor, button=_("Renew the quote"),
        note=_("For the same price only. A new price is a new quote that replaces this one."),
        back=reverse("budget:quote", args=[slug, quote_id]), back_label=_("the quote"),
    )  # fmt: skip


@require_POST
def prefer(request: HttpRequest, slug: str, quote_id: int, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    kept = vendors.quoted_line_in(opened.project, quote_id, line_id)
    wanted = request.POST.get("preferred") == "yes"
    try:
        services.prefer(kept, preferred=wanted, by=opened.user, now=opened.now, today=opened.today)
        words = (
            _("%(vendor)s is preferred for %(line)s.")
            if wanted
            else _("%(vendor)s is no longer preferred for %(line)s.")
        )
        said.done(request, words % {"vendor": kept.quote.vendor, "line": kept.line})
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("budget:line_quotes", slug, line_id)
