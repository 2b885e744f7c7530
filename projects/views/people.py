from typing import Any

from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache

from projects import access, said, selectors
from projects.access import Door
from projects.faults import Refused
from projects.forms.pages import AccountForm, InviteForm, LimitsForm, RoleForm
from projects.models import Role
from projects.services import builds
from projects.services import people as people_services
from projects.views.builds import UNREADABLE, status_of


def people(request: HttpRequest, slug: str) -> HttpResponse:
    return _people_page(request, access.open_project(request, slug))


def _people_page(request: HttpRequest, door: Door, **more: Any) -> HttpResponse:
    """The page with its forms; a form that was refused takes the place of its empty one."""
    facts = {
        "people": selectors.people(door.project, me=door.user, now=door.now),
        "invite": InviteForm(auto_id="invite_%s"),
        "limits": LimitsForm(project=door.project, initial=selectors.limits(door.project), auto_id="limit_%s"),
        "roles": Role.choices,
    }
    refused = any(status_of(form) == UNREADABLE for form in more.values())
    return render(request, "projects/people.html", facts | more, status=UNREADABLE if refused else 200)


def _manager(request: HttpRequest, slug: str) -> Door:
    return access.open_project(request, slug, may="manage")


@never_cache
def invite(request: HttpRequest, slug: str) -> HttpResponse:
    """Answers with the page itself, not with a redirect: the secret is on it and is kept nowhere."""
    door = _manager(request, slug)
    if request.method != "POST":
        return redirect("projects:people", slug)
    form = InviteForm(request.POST, auto_id="invite_%s")
    if form.is_valid():
        try:
            made = people_services.invite(door.project, by=door.user, now=door.now, **form.cleaned_data)
        except Refused as fault:
            form.refuse(fault)
        else:
            link = request.build_absolute_uri(reverse("projects:join", args=[made.secret]))
            return _people_page(request, door, link=link, invited=made.invitation)
    return _people_page(request, door, invite=form)


def take_back(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = _manager(request, slug)
    invitation = selectors.invitation(door.project, pk)
    if invitation is None:
        raise Http404
    if request.method == "POST":
        try:
            people_services.revoke_invitation(invitation, by=door.user, now=door.now)
        except Refused as fault:
            said.refused(request, fault.message)
        else:
            said.done(request, _("The invitation is taken back; its link no longer works."))
    return redirect("projects:people", slug)


def role(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = _manager(request, slug)
    member = selectors.member(door.project, pk)
    if member is None:
        raise Http404
    form = RoleForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            people_services.change_role(member, by=door.user, now=door.now, **form.cleaned_data)
        except Refused as fault:
            said.refused(request, fault.message)
        else:
            label = Role(form.cleaned_data["role"]).label
            said.done(request, _("%(who)s is %(role)s on this build.") % {"who": member.user.called, "role": label})
    elif request.method == "POST":
        said.refused(request, _("Choose one of the roles."))
    return redirect("projects:people", slug)


def take_off(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    door = _manager(request, slug)
    member = selectors.member(door.project, pk)
    if member is None:
        raise Http404
    if request.method != "POST":
        return redirect("projects:people", slug)
    try:
        people_services.remove_member(member, by=door.user, now=door.now)
    except Refused as fault:
        said.refused(request, fault.message)
        return redirect("projects:people", slug)
    said.done(request, _("%s is off this build; what they did stays in the trail.") % member.user.called)
    return redirect("projects:list") if member.user_id == door.user.pk else redirect("projects:people", slug)


def limits(request: HttpRequest, slug: str) -> HttpResponse:
    door = _manager(request, slug)
    if request.method != "POST":
        return redirect("projects:people", slug)
    form = LimitsForm(request.POST, project=door.project, auto_id="limit_%s")
    if form.is_valid():
        try:
            builds.set_limits(door.project, form.cleaned_data, by=door.user, now=door.now)
        except Refused as fault:
            form.refuse(fault)
        else:
            said.done(request, _("The limits are saved."))
            return redirect("projects:people", slug)
    return _people_page(request, door, limits=form)


@login_not_required
@never_cache
def join(request: HttpRequest, secret: str) -> HttpResponse:
    """What a link leads to; every reason why it does not work gets the same answer."""
    now = timezone.now()
    user = request.user if request.user.is_authenticated else None
    found = selectors.welcome(secret, user=user, now=now)
    if found is None:
        return _private(render(request, "projects/join_closed.html", status=404))
    if user is not None:
        return _private(_join_signed_in(request, secret, found))
    return _private(_join_anew(request, secret, found))


def _private(answer: HttpResponse) -> HttpResponse:
    """Keep the page out of search engines. (No stricter referrer policy: a form then bears no origin and is refused.)"""
    answer["X-Robots-Tag"] = "noindex, nofollow"
    return answer


def _join_signed_in(request: HttpRequest, secret: str, found: selectors.Welcome) -> HttpResponse:
    if request.method == "POST" and not found.already_on_it:
        try:
            people_services.accept_invitation(secret, by=request.user, now=timezone.now())  # type: ignore[arg-type]
        except Refused as fault:
            said.refused(request, fault.message)
        else:
            return _welcomed(request, found)
    return render(request, "projects/join.html", {"welcome": found})


def _join_anew(request: HttpRequest, secret: str, found: selectors.Welcome) -> HttpResponse:
    form = AccountForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        account = people_services.NewAccount(**form.cleaned_data)
        try:
            membership = people_services.accept_with_account(secret, account, now=timezone.now())
        except Refused as fault:
            form.refuse(fault)
        else:
            login(request, membership.user, backend="django.contrib.auth.backends.ModelBackend")
            return _welcomed(request, found)
    facts = {"welcome": found, "form": form, "here": request.path}
    return render(request, "projects/join.html", facts, status=status_of(form))


def _welcomed(request: HttpRequest, found: selectors.Welcome) -> HttpResponse:
    said.done(request, _("You are on %s.") % found.project_name)
    return redirect(f"/p/{found.slug}/")
