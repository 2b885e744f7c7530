"""Cash: what falls due, retention, and goods that are paid for and not on site."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from budget import charts_cash, door
from budget import wording_cash as wording
from budget.forms import cash as forms
from budget.forms.fields import refused_at
from budget.forms.lines import ReasonForm, rows_posted
from budget.models import Agreement
from budget.selectors import abroad, cash, cash_rows, due_stages, retained, vendors
from budget.services import retention, stages
from budget.views import papers
from budget.views.answers import form_page
from projects import display, said
from projects.access import Door
from projects.faults import Refused


@require_safe
def overview(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    seen = cash.outlook(opened.project, today=opened.today)
    context = {
        "seen": seen,
        "told": seen.funds,
        "away": abroad.not_on_site(opened.project),
        "abroad": abroad.foreign(opened.project),
        "sentence": wording.opening(seen, opened.project),
        "room": wording.room(seen.funds, opened.project),
        "spread": wording.spread(seen, opened.project),
        "picture": charts_cash.months(seen, project=opened.project) if seen.funds.to_complete else None,
    }
    return render(request, "budget/cash.html", context)


def _back(opened: Door) -> dict[str, str]:
    return {"back": reverse("budget:cash", args=[opened.project.slug]), "back_label": _("Cash")}


def _in(opened: Door, agreement: Agreement, quoted_minor: int) -> str:
    """An amount in the agreement's currency."""
    currency = display.InCurrency(agreement.quote.currency, opened.project.locale)
    return display.money(quoted_minor, currency, brief=True)


# --- retention --------------------------------------------------------------------------------------------------


def release(request: HttpRequest, slug: str, agreement_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="book")
    agreement = vendors.agreement_in(opened.project, agreement_id)
    kept = retained.of_agreement(opened.project, agreement_id)
    form = forms.ReleaseForm(
        request.POST or None,
        project=opened.project,
        currency=agreement.quote.currency,
        initial={"released_on": opened.today, "amount": kept.due_quoted_minor(opened.today) or None if kept else None},
    )
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            row = retention.release(
                agreement, amount_quoted_minor=given["amount"], released_on=given["released_on"], note=given["note"],
                by=opened.user, now=opened.now, today=opened.today,
            )  # fmt: skip
            words = _("Released %(amount)s of the retention of %(vendor)s.")
            told = {"amount": _in(opened, agreement, row.amount_quoted_minor), "vendor": agreement.vendor}
            said.done(request, words % told, undo=reverse("budget:undo_release", args=[slug, row.pk]))
            return _home(slug, "retention")
    held = _in(opened, agreement, kept.held_quoted_minor if kept else 0)
    context = {"form": form, "agreement": agreement, "kept": kept, "held": held} | _back(opened)
    return render(request, "budget/cash_release.html", context, status=422 if form.errors else 200)


def _home(slug: str, place: str) -> HttpResponse:
    return redirect(reverse("budget:cash", args=[slug]) + f"#{place}")


def take_back_release(request: HttpRequest, slug: str, release_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="book")
    row = cash_rows.release_in(opened.project, release_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            retention.take_back(
                row, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(request, _("The release to %s is taken back; it is held again.") % row.agreement.vendor)
            return _home(slug, "retention")
    words = _("Take back the release of %(amount)s to %(vendor)s?")
    told = {"amount": _in(opened, row.agreement, row.amount_quoted_minor), "vendor": row.agreement.vendor}
    return form_page(
        request, form, sentence=words % told, button=_("Take the release back"),
        note=_("For a release that was entered by a slip; both rows stay readable."), **_back(opened),
    )  # fmt: skip


@require_POST
def undo_release(request: HttpRequest, slug: str, release_id: int) -> HttpResponse:
    """Take back a release just entered."""
    opened = door.open_project(request, slug, may="book")
    row = cash_rows.release_in(opened.project, release_id)
    try:
        retention.take_back(row, reason=_("taken back at once"), by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("The release to %s is taken back; it is held again.") % row.agreement.vendor)
    except Refused as fault:
        said.refused(request, fault.message)
    return _home(slug, "retention")


def retention_stages(request: HttpRequest, slug: str, agreement_id: int) -> HttpResponse:
    """The stages of a retention, for everybody to read and for the lead to set."""
    opened = door.open_project(request, slug, may="edit_money" if request.method == "POST" else "see")
    agreement = vendors.agreement_in(opened.project, agreement_id)
    data, more = rows_posted(request.POST, "rows")
    stands = retained.plan_of(opened.project, agreement_id)
    rows = forms.retention_rows(opened.project, data, stands)
    if data and not more and rows.is_valid():
        with refused_at(rows):
            drafts = forms.retention_drafts(rows)
            retention.set_stages(agreement, drafts, by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("The retention of %s falls due by these stages.") % agreement.vendor)
            return _home(slug, "retention")
    return _stages_page(request, opened, agreement, rows, "retention", faulty=bool(data) and not more)


def _stages_page(
    request: HttpRequest, opened: Door, agreement: Agreement, rows: forms.StageRows, what: str, *, faulty: bool
) -> HttpResponse:
    agreed = _in(opened, agreement, stages.agreed_quoted_minor(agreement))
    plan = due_stages.of_agreement if what == "payment" else retained.stages_of
    context = {
        "formset": rows,
        "agreement": agreement,
        "what": what,
        "agreed": agreed,
        "plan": plan(opened.project, agreement.pk),
    } | _back(opened)
    return render(request, "budget/cash_stages.html", context, status=422 if faulty else 200)


# --- payment stages and arrivals --------------------------------------------------------------------------------


def payment_stages(request: HttpRequest, slug: str, agreement_id: int) -> HttpResponse:
    """The payment stages of an agreement, for everybody to read and for the lead to set."""
    opened = door.open_project(request, slug, may="edit_money" if request.method == "POST" else "see")
    agreement = vendors.agreement_in(opened.project, agreement_id)
    data, more = rows_posted(request.POST, "rows")
    stands = due_stages.plan_of(agreement) or stages.proposed(agreement)
    rows = forms.payment_rows(opened.project, agreement.quote.currency, data, stands)
    if data and not more and rows.is_valid():
        with refused_at(rows):
            drafts = forms.payment_drafts(rows)
            stages.set_payment_stages(agreement, drafts, by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("%s is paid by these stages.") % agreement.vendor)
            return _home(slug, "weeks")
    return _stages_page(request, opened, agreement, rows, "payment", faulty=bool(data) and not more)


def arrive(request: HttpRequest, slug: str, agreement_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    agreement = vendors.agreement_in(opened.project, agreement_id)
    form = forms.ArriveForm(
        request.POST or None, request.FILES or None, project=opened.project, initial={"arrived_on": opened.today}
    )
    kept = papers.kept(opened, request, form) if request.method == "POST" and form.is_valid() else ()
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            row = stages.arrive(
                agreement, arrived_on=given["arrived_on"], note=given["note"], attachment_id=kept[0].pk if kept else None,
                by=opened.user, now=opened.now, today=opened.today,
            )  # fmt: skip
            undo = reverse("budget:undo_arrival", args=[slug, row.pk])
            said.done(request, _("The goods of %s are on site.") % agreement.vendor, undo=undo)
            return _home(slug, "away")
    context = {"form": form, "agreement": agreement, "kept": kept} | _back(opened)
    return render(request, "budget/cash_arrive.html", context, status=422 if form.errors else 200)


def take_back_arrival(request: HttpRequest, slug: str, arrival_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    row = cash_rows.arrival_in(opened.project, arrival_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if form.is_valid():
        with refused_at(form):
            stages.take_back(
                row, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(request, _("The goods of %s count as not on site again.") % row.agreement.vendor)
            return _home(slug, "away")
    return form_page(
        request, form, sentence=_("Are the goods of %s not on site after all?") % row.agreement.vendor,
        button=_("Take the arrival back"), note=_("What is paid for them is shown as exposed again."), **_back(opened),
    )  # fmt: skip


@require_POST
def undo_arrival(request: HttpRequest, slug: str, arrival_id: int) -> HttpResponse:
    """Take back an arrival just entered."""
    opened = door.open_project(request, slug, may="edit_money")
    row = cash_rows.arrival_in(opened.project, arrival_id)
    try:
        stages.take_back(row, reason=_("taken back at once"), by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("The goods of %s count as not on site again.") % row.agreement.vendor)
    except Refused as fault:
        said.refused(request, fault.message)
    return _home(slug, "away")
