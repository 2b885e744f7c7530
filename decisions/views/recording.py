"""Recording a decision in two steps, answering it as an owner, taking it back."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from decisions import charts
from decisions.door import open_project
from decisions.forms.answering import AnswerForm, ReopenForm
from decisions.forms.recording import RecordForm
from decisions.models import Approval, Decision
from decisions.selectors import doings, pages, recording
from decisions.services import record_plan, records
from projects import said
from projects.access import Door
from projects.faults import Refused, Stale

REFUSED = 422


def record(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """Ask why and at what price, show what would happen, and record it when that is confirmed."""
    door = open_project(request, slug, may="decide")
    decision = pages.find_decision(door.project, pk)
    if decision.state != Decision.State.OPEN:
        said.refused(
            request, _("This decision is %s; reopen it before recording it anew.") % decision.get_state_display()
        )
        return redirect("decisions:decision", slug, pk)
    ground = recording.ground(decision, today=door.today, option_id=_wanted(request))
    if ground.option is None or not ground.may_be_recorded:
        return render(request, "decisions/choose.html", {"ground": ground, "decision": decision})
    initial = {"option": ground.option.pk, "version": decision.version}
    form = RecordForm(request.POST or None, ground=ground, initial=initial)
    if request.method == "POST" and request.POST.get("step") != "change" and form.is_valid():
        return _taken_further(request, door, decision, ground, form)
    status = REFUSED if request.method == "POST" and request.POST.get("step") != "change" else 200
    return _form(request, ground, form, status)


def _wanted(request: HttpRequest) -> int | None:
    text = request.POST.get("option") or request.GET.get("option") or ""
    return int(text) if text.isdecimal() and len(text) < 18 else None


def _form(request: HttpRequest, ground: recording.Ground, form: RecordForm, status: int) -> HttpResponse:
    told = {"ground": ground, "decision": ground.decision, "form": form}
    return render(request, "decisions/record.html", told, status=status)


def _taken_further(
    request: HttpRequest, door: Door, decision: Decision, ground: recording.Ground, form: RecordForm
) -> HttpResponse:
    held = form.cleaned_data
    who: dict[str, Any] = {"by": door.user, "role": door.role, "now": door.now, "today": door.today}
    try:
        if request.POST.get("step") == "confirm":
            made = records.record(decision, form.choice(), version=held["version"], seen=held["seen"], **who)
            return _recorded(request, door, made)
        shown = records.rehearse(decision, form.choice(), **who)
    except Stale as fault:
        # The version moves on with the page, so that confirming again is knowing.
        form.refuse(fault, version=pages.find_decision(door.project, decision.pk).version)
        return _form(request, ground, form, REFUSED)
    except Refused as fault:
        form.refuse(fault)
        return _form(request, ground, form, REFUSED)
    limit = recording.limit_minor(door.project, door.role) if shown.waits else None
    told = {"ground": ground, "decision": decision, "form": form, "shown": shown, "limit": limit}
    return render(request, "decisions/preview.html", told)


def _recorded(request: HttpRequest, door: Door, made: records.Record) -> HttpResponse:
    decision = made.decision
    words = (
        _("%(code)s is recorded and waits for an owner.")
        if made.needs_approval
        else _("%(code)s is recorded and in force.")
    )
    undo = reverse("decisions:reopen", args=[door.project.slug, decision.pk])
    said.done(request, words % {"code": decision.code}, undo=undo)
    return redirect("decisions:decision", door.project.slug, decision.pk)


def answer(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """An owner approves or declines the record that waits."""
    door = open_project(request, slug, may="approve")
    decision = pages.find_decision(door.project, pk)
    page = pages.decision_page(decision, today=door.today)
    form = AnswerForm(request.POST or None)
    if request.method == "POST" and page.record is not None and form.is_valid():
        held = form.cleaned_data
        try:
            records.approve(page.record, **held, by=door.user, role=door.role, now=door.now, today=door.today)
        except Refused as fault:
            form.add_error(fault.field if fault.field in form.fields else None, fault.message)
        else:
            approved = held["verdict"] == Approval.Verdict.APPROVED
            words = _("%s is approved and in force.") if approved else _("%s is declined; the decision is open again.")
            said.done(request, words % decision.code)
            return redirect("decisions:decision", slug, pk)
    picture = charts.options(page.bars, project=door.project) if page.bars else None
    told = {"page": page, "picture": picture, "form": form}
    return render(request, "decisions/decision.html", told, status=REFUSED if request.method == "POST" else 200)


def reopen(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug, may="decide")
    decision = pages.find_decision(door.project, pk)
    standing = pages.standing_record(decision)
    if standing is None:
        said.refused(request, _("This decision is open; there is nothing to take back."))
        return redirect("decisions:decision", slug, pk)
    asked = request.method == "POST" and "reason" in request.POST
    form = ReopenForm(request.POST if asked else None)
    if asked and form.is_valid():
        try:
            records.reopen(decision, **form.cleaned_data, by=door.user, now=door.now, today=door.today)
        except Refused as fault:
            form.add_error(fault.field if fault.field in form.fields else None, fault.message)
        else:
            said.done(request, _("%s is open again; what it did is reversed.") % decision.code)
            for left in record_plan.left_alone(decision):
                said.watch_out(request, left)
            return redirect("decisions:decision", slug, pk)
    told = {"form": form, "decision": decision, "record": standing, "doings": doings.doings(standing)}
    told["in_plan"] = hasattr(standing, "plan")
    return render(request, "decisions/reopen.html", told, status=REFUSED if asked else 200)
