"""Hold points: may we cover it, one hold point with its checks, what was found, who signed, who comes, and going over one."""

from collections.abc import Sequence
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
from projects.models import Attachment
from projects.services.files import add_attachment
from schedule import door
from schedule import wording_holds as wording
from schedule.forms import holds as forms
from schedule.models import HoldCheck, HoldPoint
from schedule.selectors import holds as reads
from schedule.services import holds as services
from schedule.services import proofs
from schedule.views.answers import form_page
from schedule.views.asked import whole_number

REFUSED = 422


@require_safe
def listing(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    book = reads.book(opened.project, today=opened.today)
    answers = reads.standing(book)
    soon, later = reads.soon(answers, today=opened.today)
    context = {
        "book": book,
        "soon": soon,
        "later": later,
        "overruled": reads.went_over(book),
        "sentence": wording.sentence(answers, book, opened.project),
    }
    return render(request, "schedule/holds.html", context)


@require_safe
def one(request: HttpRequest, slug: str, hold_id: int) -> HttpResponse:
    return _shown(request, slug, hold_id, "schedule/hold.html")


@require_safe
def sheet(request: HttpRequest, slug: str, hold_id: int) -> HttpResponse:
    """The hold point as a sheet of paper to take to site."""
    return _shown(request, slug, hold_id, "schedule/hold_sheet.html")


def _shown(request: HttpRequest, slug: str, hold_id: int, template: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    book = reads.book(opened.project, today=opened.today)
    hold = reads.of(book, hold_id)
    context = {
        "hold": hold,
        "checks": reads.checks_of(opened.project, hold),
        "sentence": wording.stands(hold),
        "stops": wording.stops(hold, opened.project),
        "answers": reads.stopped_by(book, hold),
        "overruled": [one for one in reads.went_over(book) if one.hold.key == hold.pk],
    }
    return render(request, template, context)


# --- what was found -----------------------------------------------------------------------------------------------


def prove(request: HttpRequest, slug: str, hold_id: int, check_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    check = reads.check_in(opened.project, hold_id, check_id)
    sent = request.method == "POST"
    first = {"seen_on": opened.today, "seen_by": opened.user.called}
    form = forms.FoundForm(
        request.POST if sent else None, request.FILES if sent else None, project=opened.project, evidence=check.evidence,
        initial=first,
    )  # fmt: skip
    kept = _kept(request, opened, form) if sent else ()
    if form.is_valid() and _proved(request, opened, check, form, kept):
        return redirect("schedule:hold", slug, hold_id)
    hold = reads.one(opened.project, hold_id, today=opened.today)
    seen = next(row for row in reads.checks_of(opened.project, hold) if row.check.key == check.pk)
    context = {"form": form, "kept": kept, "hold": hold, "row": seen, "check": seen.check}
    return render(request, "schedule/hold_prove.html", context, status=REFUSED if sent else 200)


def _kept(request: HttpRequest, opened: Door, form: forms.FoundForm) -> Sequence[Attachment]:
    """What was sent with the form is kept at once, so that a refusal does not lose a photograph."""
    found = reads.attachments(opened.project, [whole_number(one) for one in request.POST.getlist("kept")])
    for file in request.FILES.getlist("files"):
        try:
            found.append(add_attachment(opened.project, file, by=opened.user, now=opened.now, field="files"))
        except Refused as fault:
            form.add_error("files", fault.message)
    return found


def _proved(
    request: HttpRequest, opened: Door, check: HoldCheck, form: forms.FoundForm, kept: Sequence[Attachment]
) -> bool:  # fmt: skip
    with refused_at(form):
        proof = proofs.prove(check, form.found([row.pk for row in kept]), **_told(opened))
        words = _("%(check)s: passes.") if proof.passes else _("%(check)s: does not pass; the hold point has failed.")
        hold = reads.one(opened.project, check.hold_id, today=opened.today)
        said.done(request, f"{words % {'check': check}} {wording.stands(hold)}")
        return True
    return False


def _told(opened: Door) -> dict[str, Any]:
    return {"by": opened.user, "now": opened.now, "today": opened.today}


# --- who signs, and when they come --------------------------------------------------------------------------------


def sign(request: HttpRequest, slug: str, hold_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = reads.hold_in(opened.project, hold_id)
    hold = reads.one(opened.project, hold_id, today=opened.today)
    first = {"role": request.GET.get("role", ""), "signed_on": opened.today}
    form = forms.SignForm(
        request.POST or None, project=opened.project, roles=[signer.role for signer in hold.signers], initial=first
    )
    if request.method == "POST" and form.is_valid():
        with refused_at(form):
            signature = proofs.sign(row, **form.cleaned_data, **_told(opened))
            after = reads.one(opened.project, hold_id, today=opened.today)
            undo = reverse("schedule:unsign", args=[slug, hold_id, signature.pk])
            said.done(request, _("%(role)s has signed. %(stands)s") % {
                "role": signature.role, "stands": wording.stands(after),
            }, undo=undo)  # fmt: skip
            return redirect("schedule:hold", slug, hold_id)
    note = ""
    if hold.proofs_missing:
        note = _("A signature now is kept and releases nothing, for not everything is shown to pass. Missing: %s.") % (
            "; ".join(hold.missing[: hold.proofs_missing])
        )
    return _asked(request, opened, row, form, sentence=_("Who signs for %s?") % row, button=_("Sign"), note=note)


def take_back(request: HttpRequest, slug: str, hold_id: int, signature_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    signature = reads.signature_in(opened.project, hold_id, signature_id)
    form = forms.ReasonForm(request.POST or None, project=opened.project)
    if request.method == "POST" and form.is_valid():
        with refused_at(form):
            proofs.take_back_signature(signature, **form.cleaned_data, **_told(opened))
            return _done(request, opened, signature.hold, _("The signature of %s is taken back.") % signature.role)
    return _asked(
        request, opened, signature.hold, form, sentence=_("Take back the signature of %s?") % signature,
        button=_("Take it back"), grave=True, note=_("It stays readable; the hold point is open until the role signs again."),
    )  # fmt: skip


@require_POST
def unsign(request: HttpRequest, slug: str, hold_id: int, signature_id: int) -> HttpResponse:
    """Take back a signature just entered."""
    opened = door.open_project(request, slug, may="plan")
    signature = reads.signature_in(opened.project, hold_id, signature_id)
    try:
        proofs.take_back_signature(signature, reason=_("a slip of the hand"), **_told(opened))
        said.done(request, _("The signature of %s is taken back.") % signature.role)
    except Refused as fault:
        said.refused(request, fault.message)
    return redirect("schedule:hold", slug, hold_id)


def visit(request: HttpRequest, slug: str, hold_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = reads.hold_in(opened.project, hold_id)
    planned = reads.one(opened.project, hold_id, today=opened.today).visit
    start = planned.on if planned.booked or not planned.late else planned.earliest_on
    form = forms.VisitForm(request.POST or None, project=opened.project, initial={"visit_on": start})
    if request.method == "POST" and form.is_valid():
        with refused_at(form):
            services.book(row, **form.cleaned_data, **_told(opened))
            return _done(request, opened, row, _("The visit for %s is noted.") % row)
    return _asked(
        request, opened, row, form, sentence=_("When is %s looked at?") % row, button=_("Note the visit"),
        note=wording.notice(planned, opened.project),
    )  # fmt: skip


# --- going over one, and taking one away --------------------------------------------------------------------------


def overrule(request: HttpRequest, slug: str, hold_id: int, activity_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = reads.hold_in(opened.project, hold_id)
    activity = reads.activity_in(opened.project, activity_id)
    answer = reads.before(activity, today=opened.today)
    hold = next((one for one in answer.stopping if one.pk == hold_id), None) if answer else None
    if hold is None:
        raise Http404
    form = forms.OverruleForm(request.POST or None, project=opened.project)
    if request.method == "POST" and form.is_valid():
        with refused_at(form):
            services.overrule(row, activity, **form.cleaned_data, **_told(opened))
            words = _("%(hold)s is overruled: %(activity)s may start. The owners see it.")
            return _done(request, opened, row, words % {"hold": row, "activity": activity})
    context = {"form": form, "hold": hold, "activity": activity, "answer": answer}
    return render(request, "schedule/hold_overrule.html", context, status=REFUSED if form.is_bound else 200)


def remove(request: HttpRequest, slug: str, hold_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    row = reads.hold_in(opened.project, hold_id)
    form = forms.ReasonForm(request.POST or None, project=opened.project)
    if request.method == "POST" and form.is_valid():
        with refused_at(form):
            services.remove(row, **form.cleaned_data, **_told(opened))
            said.done(request, _("%s is taken away; what was found stays in the trail.") % row)
            return redirect("schedule:holds", slug)
    return _asked(
        request, opened, row, form, sentence=_("Take %s away?") % row, button=_("Take it away"), grave=True,
        note=_("It stops nothing from then on. If the work may go on this once only, overrule it instead."),
    )  # fmt: skip


def _asked(request: HttpRequest, opened: Door, hold: HoldPoint, form: Any, **words: Any) -> HttpResponse:
    back = reverse("schedule:hold", args=[opened.project.slug, hold.pk])
    return form_page(request, form, back=back, back_label=str(hold), **words)


def _done(request: HttpRequest, opened: Door, hold: HoldPoint, words: str) -> HttpResponse:
    said.done(request, words)
    return redirect("schedule:hold", opened.project.slug, hold.pk)
