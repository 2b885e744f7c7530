"""Deliveries: the list, one thing, its stages, and what its maker promised."""

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from projects import said
from projects.access import Door
from projects.faults import Refused
from projects.forms.rows import refused_at
from schedule import door
from schedule import wording_deliveries as wording
from schedule.calc.deliveries import Wait
from schedule.forms import deliveries as forms
from schedule.models import Delivery, DeliveryStage
from schedule.selectors import deliveries as reads
from schedule.services import deliveries as services
from schedule.views.answers import form_page


@require_safe
def listing(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    board = reads.board(opened.project, opened.today)
    context = {
        "board": board,
        "sentence": wording.sentence(board, opened.project),
        "rows": [_told(row, opened) for row in board.waited_for],
        "there": [_told(row, opened) for row in board.there],
        "jumps": [
            {"row": row, "words": wording.jump(row.jump, opened.project)} for row in board.waited_for if row.jump
        ],
    }
    return render(request, "schedule/deliveries.html", context)


def _told(row: reads.Arriving, opened: Door) -> dict[str, Any]:
    word, kind = wording.state(row, opened.project)
    return {"row": row, "word": word, "kind": kind, "in_hand": wording.in_hand(row)}


def _waited(wait: Wait, seen: reads.Arriving) -> dict[str, Any]:
    words, kind = wording.wait(wait, seen)
    return {"wait": wait, "words": words, "kind": kind}


@require_safe
def one(request: HttpRequest, slug: str, delivery_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    seen = reads.one(opened.project, delivery_id, opened.today)
    context = _told(seen, opened) | {
        "sentence": wording.stands(seen, opened.project),
        "jump": wording.jump(seen.jump, opened.project) if seen.jump else "",
        "waits": [_waited(wait, seen) for wait in reads.waits_of(seen)] if seen.order else (),
    }
    return render(request, "schedule/delivery.html", context)


# --- what may be done -----------------------------------------------------------------------------------------


def new(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    free = reads.free_activities(opened.project)
    form = forms.DeliveryForm(
        request.POST or None, project=opened.project, activities=free, calendars=reads.calendars(opened.project),
        initial={"activity": request.GET.get("activity", "")},
    )  # fmt: skip
    if form.is_valid():
        with refused_at(form):
            activity = next(row for row in free if str(row.pk) == form.cleaned_data["activity"])
            made = services.add(activity, form.draft(), by=opened.user, now=opened.now, today=opened.today)
            said.done(request, _("%s is on the list of deliveries.") % made, undo=_at("remove_delivery", opened, made))
            return redirect("schedule:delivery", slug, made.pk)
    return _form(request, form, sentence=_("What is on its way?"), back=reverse("schedule:deliveries", args=[slug]))


def edit(request: HttpRequest, slug: str, delivery_id: int) -> HttpResponse:
    opened, row = _row(request, slug, delivery_id)
    form = forms.DeliveryForm(
        request.POST or None, project=opened.project, calendars=reads.calendars(opened.project), delivery=row,
        initial=forms.stands(row),
    )  # fmt: skip
    if form.is_valid():
        with refused_at(form):
            services.change(
                row, form.draft(), by=opened.user, now=opened.now, today=opened.today, version=form.cleaned_data["version"]
            )  # fmt: skip
            said.done(request, _("Saved %s.") % row)
            return redirect("schedule:delivery", slug, row.pk)
    return _form(request, form, sentence=_("Change: %s") % row, back=_at("delivery", opened, row))


def _form(request: HttpRequest, form: forms.DeliveryForm, **context: Any) -> HttpResponse:
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "schedule/delivery_form.html", {"form": form} | context, status=status)


def stage(request: HttpRequest, slug: str, delivery_id: int, kind: str) -> HttpResponse:
    opened, row = _row(request, slug, delivery_id)
    if kind not in DeliveryStage.Kind.values:
        raise Http404
    stood = reads.stage_of(row, kind)
    form = forms.StageForm(
        request.POST or None, project=opened.project, kind=kind, paper=stood.paper,
        initial={"done_on": stood.done_on or opened.today, "paper_there": stood.paper_there, "finish": True},
    )  # fmt: skip
    if form.is_valid():
        given = form.cleaned_data
        draft = services.StageDraft(
            kind, stood.due_on, given["done_on"], stood.paper, given.get("paper_there", stood.paper_there)
        )
        with refused_at(form):
            services.report(
                row, draft, finish=given.get("finish", False), by=opened.user, now=opened.now, today=opened.today
            )
            undo = reverse("schedule:undo_stage", args=[slug, row.pk, kind])
            said.done(request, _("%(item)s: %(stage)s.") % {"item": row, "stage": stood.label}, undo=undo)
            return redirect("schedule:delivery", slug, row.pk)
    words = {"item": row, "stage": stood.label}
    return form_page(
        request, form, sentence=_("%(item)s: %(stage)s") % words, button=_("Report it"), back_label=str(row),
        back=_at("delivery", opened, row),
    )  # fmt: skip


@require_POST
def take_back(request: HttpRequest, slug: str, delivery_id: int, kind: str) -> HttpResponse:
    opened, row = _row(request, slug, delivery_id)
    return _done(request, opened, row, _("Taken back."), services.take_back, kind)


def promised(request: HttpRequest, slug: str, delivery_id: int) -> HttpResponse:
    """What the maker promised goes into the plan, after the page has said what that moves."""
    opened, row = _row(request, slug, delivery_id)
    seen = reads.one(opened.project, delivery_id, opened.today)
    form = forms.PromiseForm(request.POST or None, project=opened.project)
    before, after = reads.finish_with_promise(seen)
    if form.is_valid():
        with refused_at(form):
            services.put_promise_into_plan(
                row, reason=form.cleaned_data["reason"], by=opened.user, now=opened.now, today=opened.today
            )
            said.done(
                request, wording.opening(before, after, opened.project) or _("The plan follows the promised day.")
            )
            return redirect("schedule:delivery", slug, row.pk)
    return form_page(
        request, form, sentence=_("Put the promised day into the plan?"), button=_("Put it into the plan"),
        note=wording.promise_moves(seen, opened.project, before, after), back_label=str(row),
        back=_at("delivery", opened, row),
    )  # fmt: skip


@require_POST
def remove(request: HttpRequest, slug: str, delivery_id: int) -> HttpResponse:
    opened, row = _row(request, slug, delivery_id)
    try:
        services.remove(row, by=opened.user, now=opened.now, today=opened.today)
        undo = _at("put_back_delivery", opened, row)
        said.done(request, _("%s is off the list; its activity stays in the plan.") % row, undo=undo)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("schedule:deliveries", slug)


@require_POST
def put_back(request: HttpRequest, slug: str, delivery_id: int) -> HttpResponse:
    opened, row = _row(request, slug, delivery_id)
    _done(request, opened, row, _("%s is back on the list.") % row, services.put_back)
    return redirect("schedule:deliveries", slug)


# --- shared ---------------------------------------------------------------------------------------------------


def _row(request: HttpRequest, slug: str, delivery_id: int) -> tuple[Door, Delivery]:
    opened = door.open_project(request, slug, may="plan")
    return opened, reads.row_of(opened.project, delivery_id)


def _at(name: str, opened: Door, row: Delivery) -> str:
    return reverse(f"schedule:{name}", args=[opened.project.slug, row.pk])


def _done(request: HttpRequest, opened: Door, row: Delivery, words: str, deed: Any, *args: Any) -> HttpResponse:
    """Do a deed without a form, and say what came of it on the page of the delivery."""
    try:
        deed(row, *args, by=opened.user, now=opened.now, today=opened.today)
        said.done(request, words)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("schedule:delivery", opened.project.slug, row.pk)
