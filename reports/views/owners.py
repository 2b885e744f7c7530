"""Owners: one page for the people who pay, the same by a link, and the reports that were issued."""

from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST, require_safe

from budget import charts
from decisions.door import open_project, settle
from projects import access, said
from projects.access import Door
from projects.display import Priced
from projects.faults import Refused
from reports.forms.owners import IssueForm, LinkForm
from reports.pdf import setting, words
from reports.selectors import issued
from reports.selectors import owners as selectors
from reports.services import issuing
from reports.services import links as link_services

UNREADABLE = 422


@require_safe
def page(request: HttpRequest, slug: str) -> HttpResponse:
    return _page(request, open_project(request, slug))


def _page(request: HttpRequest, door: Door, **more: Any) -> HttpResponse:
    """The page with its forms; a form that was refused takes the place of its empty one."""
    reports = issued.reports(door.project)
    content = selectors.content(door.project, on=door.today, last=reports[0] if reports else None)
    forms = {"give": LinkForm(auto_id="give_%s"), "issue": IssueForm(auto_id="issue_%s")}
    refused = any(name in forms for name in more)
    standing = {
        "reports": reports,
        "links": issued.links(door.project, now=door.now) if door.may_manage else (),
    }
    context = _shown(content, door.project) | forms | standing | more
    return render(request, "reports/owners.html", context, status=UNREADABLE if refused else 200)


def _shown(content: selectors.Content, project: Priced) -> dict[str, Any]:
    steps = selectors.bridge_steps(content)
    picture = charts.bridge(steps, project=project) if content["total"]["lines"] else None
    return {"page": selectors.for_page(content), "bridge": picture, "holder": project}


@require_safe
def pdf(request: HttpRequest, slug: str) -> HttpResponse:
    """The page as it stands, on paper."""
    door = open_project(request, slug)
    last = issued.last_report(door.project)
    paper = words.paper(selectors.content(door.project, on=door.today, last=last))
    answer = HttpResponse(setting.as_pdf(paper, on=door.today), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="owners-{door.today.isoformat()}.pdf"'
    return answer


@require_POST
def issue(request: HttpRequest, slug: str) -> HttpResponse:
    door = open_project(request, slug, may="manage")
    form = IssueForm(request.POST, auto_id="issue_%s")
    if form.is_valid():
        try:
            report = issuing.issue(door.project, by=door.user, now=door.now, today=door.today, **form.cleaned_data)
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("Report %s is issued and kept.") % report.number)
            return redirect("owners:page", slug)
    return _page(request, door, issue=form)


@require_safe
def report(request: HttpRequest, slug: str, number: int) -> HttpResponse:
    """A report as it was issued; what has changed since is on the page of today."""
    door = open_project(request, slug)
    found = issued.report_in(door.project, number)
    content = issued.content(found)
    then = words.Build(*(content["project"][name] for name in ("name", "currency", "locale")))
    context = _shown(content, then) | {"report": found, "intact": issued.intact(found)}
    return render(request, "reports/owners_report.html", context)


@require_POST
@never_cache
def give(request: HttpRequest, slug: str) -> HttpResponse:
    """Answers with the page itself, not with a redirect: the secret is on it and is kept nowhere."""
    door = open_project(request, slug, may="manage")
    form = LinkForm(request.POST, auto_id="give_%s")
    if form.is_valid():
        try:
            given = link_services.give(door.project, by=door.user, now=door.now, **form.cleaned_data)
        except Refused as fault:
            form.refuse(fault)
        else:
            address = request.build_absolute_uri(reverse("owners_link", args=[given.secret]))
            return _page(request, door, address=address, given=given.link)
    return _page(request, door, give=form)


@require_POST
def take_back(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = open_project(request, slug, may="manage")
    link = link_services.take_back(issued.link_in(door.project, pk), by=door.user, now=door.now)
    said.done(request, _("The link of %s no longer works.") % link.note)
    return redirect("owners:page", slug)


@login_not_required
@never_cache
@require_safe
def linked(request: HttpRequest, token: str) -> HttpResponse:
    """The page by its link: for whoever bears it, read only, and unknown to search engines."""
    now = timezone.now()
    project = issued.bearer(token, now=now).project
    today = access.project_date(project, now)
    translation.activate(project.locale.lower())
    settle(project, today=today, now=now)
    content = selectors.content(project, on=today, last=issued.last_report(project))
    answer = render(request, "reports/owners_linked.html", _shown(content, project))
    answer["X-Robots-Tag"] = "noindex, nofollow"
    answer["Referrer-Policy"] = "no-referrer"
    return answer
