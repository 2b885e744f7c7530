"""What if: one page that asks beside the plan, the questions that are kept, and putting one into the plan."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from projects import display, said
from projects.access import Door
from projects.faults import Refused
from schedule import charts_whatif, door, wording_effects
from schedule import wording_whatif as wording
from schedule.forms import asking
from schedule.forms.asking import Asking
from schedule.forms.questions import KeepForm, ReasonForm
from schedule.models import Question
from schedule.selectors import questions as facts
from schedule.selectors.questions import Ground
from schedule.services import effects, questions
from schedule.views.answers import form_page

REFUSED = 422


def what_if(request: HttpRequest, slug: str) -> HttpResponse:
    """The page. A step that was sent leads to the address that has it."""
    opened = door.open_project(request, slug)
    ground = facts.ground(opened.project, today=opened.today)
    if ground is None:
        return render(request, "schedule/what_if_nothing.html")
    found = _read(request, opened, ground)
    if found.added is not None:
        return redirect(reverse("schedule:what_if", args=[slug]) + found.added)
    return _page(request, opened, ground, found, KeepForm(project=opened.project))


def _read(request: HttpRequest, opened: Door, ground: Ground) -> Asking:
    number, calendar = request.GET.get("activity", ""), request.GET.get("calendar", "")
    about = facts.code_of(ground, int(number)) if _is_key(number) else ""
    named = facts.calendar_named(opened.project, int(calendar)) if _is_key(calendar) else ""
    start = asking.Start(about, named, request.GET.get("late", ""))
    return asking.read(request.GET, ground, opened.project, start=start)


def _is_key(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10


def _page(
    request: HttpRequest, opened: Door, ground: Ground, found: Asking, keep: KeepForm, status: int = 200
) -> HttpResponse:  # fmt: skip
    project = opened.project
    context = {
        "asking": found,
        "ground": ground,
        "keep": keep,
        "happens": [
            (wording.step(step, ground, project.locale), found.without(place)) for place, step in enumerate(found.steps)
        ],
        "kept": () if found.is_asked else facts.kept(project, ground),
        "opened": found.opened,
        "symbol": display.symbol(project),
    }
    return render(request, "schedule/what_if.html", context | _answer(opened, ground, found), status=status)


def _answer(opened: Door, ground: Ground, found: Asking) -> dict[str, object]:
    """The answer with its words and its picture; nothing where nothing is asked, and why where there is none."""
    project = opened.project
    try:
        added = _began(opened, found)
        if not found.steps and not added.add:
            return {"asked": None}
        asked = facts.asked(ground, facts.put_together(ground, found.steps, added), cost_minor=found.cost_minor)
    except Refused as fault:
        return {"asked": None, "fault": fault.message}
    happens = [wording.step(step, ground, project.locale) for step in found.steps]
    return {
        "asked": asked,
        "sentence": wording.sentence(asked.answer, ground, project),
        "figure": charts_whatif.moves(asked.answer, ground, project),
        "message": wording.message(asked, ground, project, happens),
    }


def _began(opened: Door, found: Asking) -> questions.Alteration:
    """What the kept question that it began with puts in besides the steps."""
    if not found.began:
        return questions.Alteration()
    return questions.alteration_of(facts.question_in(opened.project, int(found.began)))


def show(request: HttpRequest, slug: str, question_id: int) -> HttpResponse:
    """A kept question, asked on the page; its address there has everything in it."""
    opened = door.open_project(request, slug)
    if request.method == "POST":
        return HttpResponseNotAllowed(["GET"])
    row = facts.question_in(opened.project, question_id)
    ground = facts.ground(opened.project, today=opened.today)
    page = reverse("schedule:what_if", args=[slug])
    if ground is None:
        return redirect(page)
    found = facts.kept_one(row, ground)
    began = str(row.pk) if found.added else ""
    return redirect(page + asking.query(found.steps, row.cost_minor, began=began, project=opened.project))


def keep(request: HttpRequest, slug: str) -> HttpResponse:
    """Keep what the address asks."""
    opened = door.open_project(request, slug, may="plan")
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    ground = facts.ground(opened.project, today=opened.today)
    if ground is None:
        return redirect("schedule:what_if", slug)
    found, form = _read(request, opened, ground), KeepForm(request.POST, project=opened.project)
    if form.is_valid():
        try:
            alteration = facts.put_together(ground, found.steps, _began(opened, found))
            row = questions.keep(
                opened.project, alteration, title=form.cleaned_data["title"], note=form.cleaned_data["note"],
                cost_minor=found.cost_minor, by=opened.user, now=opened.now, today=opened.today,
            )  # fmt: skip
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("“%s” is kept and asked anew each day; the plan is as it was.") % row)
            return redirect(reverse("schedule:what_if", args=[slug]) + "#kept")
    return _page(request, opened, ground, found, form, REFUSED)


def put_in(request: HttpRequest, slug: str, question_id: int) -> HttpResponse:
    """Put a kept question into the plan, with a reason; the page tells first what moves."""
    opened = door.open_project(request, slug, may="plan")
    row = facts.question_in(opened.project, question_id)
    form = ReasonForm(request.POST or None, project=opened.project)
    if request.method == "POST" and form.is_valid():
        try:
            _done, effect = effects.of(opened.project, _putting(row, form.cleaned_data["reason"], opened))
        except Refused as fault:
            form.refuse(fault)
        else:
            words = _("“%s” is in the plan.") % row
            undo = reverse("schedule:take_question_out", args=[slug, row.pk])
            said.done(request, f"{words} {wording_effects.moved(effect, opened.project)}", undo=undo)
            return redirect("schedule:what_if", slug)
    return form_page(
        request, form, sentence=_("Put “%s” into the plan?") % row, button=_("Put it into the plan"),
        back=reverse("schedule:what_if", args=[slug]), back_label=_("What if"), note=_foreseen(row, opened),
    )  # fmt: skip


def _putting(row: Question, reason: str, opened: Door) -> Callable[[], None]:
    return lambda: questions.put_in(row, reason=reason, by=opened.user, now=opened.now, today=opened.today)


def _foreseen(row: Question, opened: Door) -> str:
    """What would move, tried and taken back; or why it cannot be put in."""
    try:
        effect = effects.rehearsed(opened.project, _putting(row, str(row), opened))
    except Refused as fault:
        return fault.message
    return wording_effects.moved(effect, opened.project)


def take_out(request: HttpRequest, slug: str, question_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    row = facts.question_in(opened.project, question_id)
    try:
        left, effect = effects.of(
            opened.project,
            lambda: questions.take_out(row, by=opened.user, now=opened.now, today=opened.today),
        )
    except Refused as fault:
        said.refused(request, fault.message)
    else:
        words = _("“%s” is out of the plan again.") % row
        said.done(request, f"{words} {wording_effects.moved(effect, opened.project)}")
        for sentence in left:
            said.watch_out(request, sentence)
    return redirect("schedule:what_if", slug)


def remove(request: HttpRequest, slug: str, question_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    row = facts.question_in(opened.project, question_id)
    questions.remove(row, by=opened.user, now=opened.now, today=opened.today)
    undo = reverse("schedule:bring_question_back", args=[slug, row.pk])
    said.done(request, _("“%s” is off the list.") % row, undo=undo)
    return redirect("schedule:what_if", slug)


def bring_back(request: HttpRequest, slug: str, question_id: int) -> HttpResponse:
    opened = door.open_project(request, slug, may="plan")
    if request.method != "POST":
        return HttpResponseNotAllowed(["POST"])
    row = facts.question_in(opened.project, question_id)
    questions.bring_back(row, by=opened.user, now=opened.now)
    said.done(request, _("“%s” is back on the list.") % row)
    return redirect("schedule:what_if", slug)
