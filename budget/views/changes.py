"""Changes: the list, writing one down, its page and its paper, and what is answered to it."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from budget import door, wording
from budget import wording_of_changes as telling
from budget.forms import changes as forms
from budget.forms.fields import refused_at
from budget.models import Change
from budget.selectors import changes as reads
from budget.selectors import vendors
from budget.services import changes as services
from budget.views import papers
from budget.views.answers import form_page
from budget.views.asked import whole_number
from projects import said
from projects.access import Door
from projects.faults import Refused

SHOWN = ("waiting", "agreed", "dropped")


@require_safe
def listing(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    seen = reads.listing(opened.project, role=opened.role, today=opened.today)
    asked = request.GET.get("show", "")
    return render(request, "budget/changes.html", {"seen": seen, "show": asked if asked in SHOWN else ""})


# --- writing one down ---------------------------------------------------------------------------------------------


def new(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    who = reads.agreeing(opened.project)
    if request.method != "POST":
        desk = _desk(opened, who, request.GET.get("line"))
        form = forms.RaiseForm(desk, initial=forms.start(desk, request.GET.dict(), opened.today))
        return _page(request, opened, who, form, ())
    form = forms.RaiseForm(_desk(opened, who, request.POST.get("line")), request.POST, request.FILES)
    form.patient = "look" in request.POST
    kept = papers.kept(opened, request, form)
    if not form.patient and form.is_valid() and (made := _raised(request, opened, form, kept)):
        return redirect("budget:change", slug, made.pk)
    return _page(request, opened, who, form, kept, status=200 if form.patient else 422)


def _desk(opened: Door, who: reads.Agreeing, line: str | None) -> forms.Desk:
    project, line_id = opened.project, whole_number(line)
    return forms.Desk(
        project=project,
        lines=reads.let_lines(project),
        places=reads.places(project, line_id) if line_id else (),
        asked_by=reads.asked_by(project),
        may_agree=who.limit(opened.role) != 0,
    )


def _page(
    request: HttpRequest, opened: Door, who: reads.Agreeing, form: forms.RaiseForm, kept: Sequence[Any], status: int = 200
) -> HttpResponse:  # fmt: skip
    within = telling.limit(who.limit(opened.role), opened.project)
    context = {"form": form, "desk": form.desk, "kept": kept, "within": within}
    return render(request, "budget/change_new.html", context, status=status)


def _raised(request: HttpRequest, opened: Door, form: forms.RaiseForm, kept: Sequence[Any]) -> Change | None:
    draft = form.draft([row.pk for row in kept])
    with refused_at(form):
        made = services.raise_change(
            opened.project, draft, by=opened.user, role=opened.role, now=opened.now, today=opened.today,
            agree=form.cleaned_data.get("agree", False), again=form.cleaned_data["again"],
        )  # fmt: skip
        _say_raised(request, opened, made)
        return made
    return None


def _say_raised(request: HttpRequest, opened: Door, made: Change) -> None:
    waits = made.state == Change.State.PROPOSED
    undo = reverse("budget:undo_change", args=[opened.project.slug, made.pk]) if waits else ""
    words = _("Wrote down %s.") if waits else _("Wrote down %s and agreed to it.")
    said.done(request, " ".join([words % made, *_moved(opened, made)]), undo=undo)
    who = reads.agreeing(opened.project)
    if waits and not who.may(opened.role, made.amount_minor):
        said.watch_out(request, telling.waits_for(who.names(made.amount_minor)))


def _moved(opened: Door, change: Change) -> list[str]:
    """How the newest deed on a change moved the likely finals, in words."""
    steps = vendors.moved_by(opened.project, "change", change.pk)
    newest = {step.line.pk: step for step in steps}.values() if steps else ()
    return [wording.moved(str(step.line), step.before, step.after, opened.project) for step in newest]


@require_safe
def stands(request: HttpRequest, slug: str) -> HttpResponse:
    """What the line just chosen leaves open, for the form."""
    opened = door.open_project(request, slug, may="edit_money")
    desk = _desk(opened, reads.agreeing(opened.project), request.GET.get("line"))
    form = forms.RaiseForm(desk, initial={"stands_for": forms.NOTHING})
    return render(request, "budget/_change_stands.html", {"form": form})


@require_safe
def within(request: HttpRequest, slug: str) -> HttpResponse:
    """Whether the amount typed so far lies within the limit of the one who types."""
    opened = door.open_project(request, slug, may="edit_money")
    who = reads.agreeing(opened.project)
    form = forms.FiguresForm(request.GET, project=opened.project)
    form.is_valid()
    amount, way = form.cleaned_data.get("amount"), form.cleaned_data.get("way")
    if amount is None or not way:
        words = telling.limit(who.limit(opened.role), opened.project)
    else:
        owed = 0 if way == forms.CREDIT else amount
        words = telling.within(owed, who.limit(opened.role), who.names(owed), opened.project)
    return render(request, "budget/_change_within.html", {"within": words})


# --- one change ---------------------------------------------------------------------------------------------------


@require_safe
def change(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    return _shown(request, slug, change_id, "budget/change.html")


@require_safe
def paper(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    """The change as a sheet of paper to sign."""
    return _shown(request, slug, change_id, "budget/change_paper.html")


def _shown(request: HttpRequest, slug: str, change_id: int, template: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    page = reads.change_page(opened.project, change_id, role=opened.role, today=opened.today)
    return render(request, template, {"page": page, "change": page.change, "line": page.change.line})


def price(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.change_in(opened.project, change_id)
    form = forms.PriceForm(request.POST or None, project=opened.project, initial=forms.figures_of(found))
    if form.is_valid():
        told = {name: form.cleaned_data[name] for name in ("note", "version")}
        with refused_at(form):
            services.price(found, by=opened.user, now=opened.now, today=opened.today, **form.figures(), **told)
            return _done(request, opened, found, _("Priced %s anew.") % found)
    context = {"form": form, "change": found, "sentence": _("What does %s come to?") % found}
    return render(request, "budget/change_price.html", context, status=422 if form.is_bound else 200)


def agree(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="commit")
    found = reads.change_in(opened.project, change_id)
    stands = {"amount": found.amount_minor, "on": opened.today, "paid_from": found.paid_from, "version": found.version}
    form = forms.AgreeForm(request.POST or None, project=opened.project, initial=stands, reason=found.reason)
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            services.agree(
                found, note=given["note"], on=given["on"], version=given["version"], amount_minor=given["amount"],
                paid_from=given["paid_from"],
                by=opened.user, role=opened.role, now=opened.now, today=opened.today,
            )  # fmt: skip
            return _done(request, opened, found, _("Agreed to %s.") % found)
    return _asked(
        request, opened, found, form, sentence=_("Agree to %s?") % found, button=_("Agree to it"),
        note=_("It counts in full from then on, and what pays for it is drawn. Its vendor needs it in writing as well."),
    )  # fmt: skip


def decline(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="commit")
    found = reads.change_in(opened.project, change_id)
    form = forms.AnswerForm(request.POST or None, project=opened.project, initial={"version": found.version})
    if form.is_valid():
        with refused_at(form):
            services.decline(found, by=opened.user, now=opened.now, today=opened.today, **form.cleaned_data)
            return _done(request, opened, found, _("Declined %s.") % found)
    return _asked(
        request, opened, found, form, sentence=_("Decline %s?") % found, button=_("Decline the change"), grave=True,
        note=_("It counts for nothing from then on and stays readable; tell whoever asked for it before the work goes on."),
    )  # fmt: skip


def withdraw(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.change_in(opened.project, change_id)
    form = forms.WithdrawForm(request.POST or None, project=opened.project, initial={"version": found.version})
    if form.is_valid():
        with refused_at(form):
            services.withdraw(found, by=opened.user, now=opened.now, today=opened.today, **form.cleaned_data)
            return _done(request, opened, found, _("Withdrew %s; it stays readable.") % found)
    return _asked(
        request, opened, found, form, sentence=_("Withdraw %s?") % found, button=_("Withdraw the change"), grave=True,
        note=_("It leaves the likely final of its line. Nothing is deleted."),
    )  # fmt: skip


def reopen(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="commit")
    found = reads.change_in(opened.project, change_id)
    form = forms.AnswerForm(request.POST or None, project=opened.project, initial={"version": found.version})
    if form.is_valid():
        given = form.cleaned_data
        with refused_at(form):
            services.reopen(
                found, reason=given["note"], version=given["version"], by=opened.user, now=opened.now, today=opened.today
            )  # fmt: skip
            return _done(request, opened, found, _("%s is proposed again and waits for an answer.") % found)
    return _asked(
        request, opened, found, form, sentence=_("Take %s up again?") % found, button=_("Take it up again"),
        note=_("It is proposed again with the figures it has, and what it drew from the contingency is given back."),
    )  # fmt: skip


def files(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    """Put further photographs or the signed paper to a change; a file that is no good does not hold up the others."""
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.change_in(opened.project, change_id)
    sent = request.method == "POST"
    form = forms.FilesForm(request.POST if sent else None, request.FILES if sent else None, project=opened.project)
    kept = papers.kept(opened, request, form) if sent else ()
    if kept:
        put = services.attach(found, [row.pk for row in kept], by=opened.user, now=opened.now)
        said.done(request, _("Added %s.") % ", ".join(row.name for row in put))
        if form.is_valid():
            return redirect("budget:change", slug, change_id)
    return _asked(request, opened, found, form, sentence=_("What belongs to %s?") % found, button=_("Add it"))


@require_POST
def undo(request: HttpRequest, slug: str, change_id: int) -> HttpResponse:
    """Withdraw a change just written down."""
    opened = door.open_project(request, slug, may="edit_money")
    found = reads.change_in(opened.project, change_id)
    try:
        services.withdraw(found, note=_("a slip of the hand"), by=opened.user, now=opened.now, today=opened.today)
        said.done(request, _("%s is withdrawn; its line stands as before.") % found)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("budget:change", slug, change_id)


def _asked(request: HttpRequest, opened: Door, found: Change, form: Any, **words: Any) -> HttpResponse:
    back = reverse("budget:change", args=[opened.project.slug, found.pk])
    return form_page(request, form, back=back, back_label=str(found), **words)


def _done(request: HttpRequest, opened: Door, found: Change, words: str) -> HttpResponse:
    said.done(request, words)
    return redirect("budget:change", opened.project.slug, found.pk)
