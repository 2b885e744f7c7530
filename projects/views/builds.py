from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET, require_safe

from projects import access, said, selectors
from projects.access import Door, project_date
from projects.faults import Refused
from projects.forms.pages import CostOfDayForm, NewProjectForm, RateForm, SettingsForm, TaxForm
from projects.models import ExchangeRate, Project
from projects.services import builds
from projects.services import rates as rate_services

Purpose = ExchangeRate.Purpose
UNREADABLE = 422  # an answer that shows a form again; a swap of part of a page takes it, too


def status_of(form: object) -> int:
    return UNREADABLE if getattr(form, "errors", None) else 200


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """Straight to work for those who are on one build; a list for the others."""
    slug = selectors.only_build(request.user)  # type: ignore[arg-type]  # nobody gets here without signing in
    return redirect(f"/p/{slug}/") if slug else redirect("projects:list")


@require_safe
def my_builds(request: HttpRequest) -> HttpResponse:
    builds_of_mine = selectors.my_builds(request.user, now=timezone.now())  # type: ignore[arg-type]
    return render(request, "projects/list.html", {"builds": builds_of_mine})


def new(request: HttpRequest) -> HttpResponse:
    american = request.LANGUAGE_CODE.lower() == "en-us"  # type: ignore[attr-defined]  # set by LocaleMiddleware
    form = NewProjectForm.begin(request.POST or None, american=american)
    if request.method == "POST" and form.is_valid():
        try:
            project = _started(request, form)
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("%s is started; lay out its budget first.") % project.name)
            return redirect(f"/p/{project.slug}/money/")
    return render(request, "projects/new.html", {"form": form}, status=status_of(form))


def _started(request: HttpRequest, form: NewProjectForm) -> Project:
    now, given = timezone.now(), form.cleaned_data
    draft = form.draft()
    return builds.create_project(
        draft,
        by=request.user,  # type: ignore[arg-type]
        now=now,
        today=project_date(Project(time_zone=draft.time_zone), now),
        cost_of_day_minor=given["cost_of_day"] or 0,
        lead_limit_minor=given["lead_limit"],
        contingency_minor=given["contingency"],
    )


def settings(request: HttpRequest, slug: str) -> HttpResponse:
    door = access.open_project(request, slug, may="manage" if request.method == "POST" else "see")
    form = _settings_form(door, request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            builds.edit_project(
                door.project, form.draft(), by=door.user, now=door.now, version=form.cleaned_data["version"] or 0
            )
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("The settings are saved."))
            return redirect("projects:settings", slug)
    return _settings_page(request, door, form, _cost_form(door, None), _tax_form(door, None))


def _settings_form(door: Door, data: object) -> SettingsForm:
    project = door.project
    names = ("name", "about", "currency", "units", "locale", "time_zone", "starts_on", "opens_on", "version")
    form = SettingsForm(data, project=project, initial={name: getattr(project, name) for name in names})
    if builds.has_amounts(project):
        form.fix_currency()
    return form


def _cost_form(door: Door, data: object) -> CostOfDayForm:
    start = {
        "amount": door.project.cost_of_day_minor,
        "made_of": selectors.cost_of_day_made_of(door.project),
        "version": door.project.version,
    }
    return CostOfDayForm(data, project=door.project, initial=start, auto_id="cost_%s")


def _tax_form(door: Door, data: object) -> TaxForm:
    names = ("tax_percent", "tax_recovered", "rate_swing_percent", "version")
    start = {name: getattr(door.project, name) for name in names}
    return TaxForm(data, project=door.project, initial=start, auto_id="tax_%s")


def _settings_page(
    request: HttpRequest, door: Door, form: SettingsForm, cost: CostOfDayForm, tax: TaxForm
) -> HttpResponse:
    status = max(status_of(form), status_of(cost), status_of(tax))
    return render(request, "projects/settings.html", {"form": form, "cost": cost, "tax": tax}, status=status)


def tax(request: HttpRequest, slug: str) -> HttpResponse:
    door = access.open_project(request, slug, may="manage")
    if request.method != "POST":
        return redirect("projects:settings", slug)
    form = _tax_form(door, request.POST)
    if form.is_valid():
        try:
            builds.set_tax(door.project, form.draft(), by=door.user, now=door.now, version=form.cleaned_data["version"])
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("Tax and exchange rates are saved; invoices already entered keep their tax."))
            return redirect("projects:settings", slug)
    return _settings_page(request, door, _settings_form(door, None), _cost_form(door, None), form)


def cost_of_day(request: HttpRequest, slug: str) -> HttpResponse:
    door = access.open_project(request, slug, may="manage")
    if request.method != "POST":
        return redirect("projects:settings", slug)
    form = _cost_form(door, request.POST)
    if form.is_valid():
        given = form.cleaned_data
        try:
            builds.set_cost_of_day(
                door.project,
                amount_minor=given["amount"],
                made_of=given["made_of"],
                by=door.user,
                now=door.now,
                version=given["version"],
            )
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("The cost of a day is saved; open decisions reckon with it from now on."))
            return redirect("projects:settings", slug)
    return _settings_page(request, door, _settings_form(door, None), form, _tax_form(door, None))


def rates(request: HttpRequest, slug: str) -> HttpResponse:
    """Budget rates are the lead's; today's are read off by whoever keeps the books."""
    purpose = Purpose.TODAY if request.POST.get("purpose") == Purpose.TODAY else Purpose.BUDGET
    deed = {Purpose.TODAY: "book", Purpose.BUDGET: "manage"}[purpose] if request.method == "POST" else "see"
    door = access.open_project(request, slug, may=deed)
    forms = {each: _rate_form(door, each, request.POST if each == purpose else None) for each in Purpose}
    form = forms[purpose]
    if request.method == "POST" and form.is_valid():
        try:
            made = rate_services.set_rate(
                door.project, by=door.user, now=door.now, today=door.today, purpose=purpose, **form.cleaned_data
            )
        except Refused as fault:
            form.refuse(fault)
        else:
            _say_rate(request, made)
            return redirect("projects:rates", slug)
    facts = {
        "sheets": [
            {"purpose": each.value, "form": forms[each], "rates": selectors.rates(door.project, each)}
            for each in (Purpose.TODAY, Purpose.BUDGET)
        ]
    }
    return render(request, "projects/rates.html", facts, status=status_of(form))


def _rate_form(door: Door, purpose: str, data: object) -> RateForm:
    return RateForm(data or None, project=door.project, initial={"rated_on": door.today}, auto_id=f"{purpose}_%s")


def _say_rate(request: HttpRequest, made: rate_services.RateSet) -> None:
    words = {
        Purpose.BUDGET: _("The rate of %s is saved; quotes already logged keep their own."),
        Purpose.TODAY: _("Today\u2019s rate of %s is saved; what is let in it and not yet billed follows."),
    }
    said.done(request, words[Purpose(made.rate.purpose)] % made.rate.currency)
    if made.unusual:
        said.watch_out(
            request, _("It lies more than a fifth away from the one before; check that it is not upside down.")
        )


@require_GET
def trail(request: HttpRequest, slug: str) -> HttpResponse:
    door = access.open_project(request, slug)
    who, subject = request.GET.get("who", ""), request.GET.get("subject", "")
    found = selectors.trail(door.project, who=who, subject=subject, page=request.GET.get("page", "1"))
    return render(request, "projects/trail.html", {"trail": found, "who": who, "subject": subject})
