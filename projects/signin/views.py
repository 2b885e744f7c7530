"""Signing in: by password, or on one's own machine by a line from the console."""

import ipaddress

from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, resolve_url
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET

from projects.signin import tokens
from projects.signin.forms import SignInForm


class SignIn(LoginView):
    form_class = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **context: object) -> dict[str, object]:
        return super().get_context_data(**context, local=settings.LOCAL)


@login_not_required
@never_cache
@require_GET
def sign_in_by_line(request: HttpRequest, token: str) -> HttpResponse:
    """Only in local mode, only from this machine; anything wrong looks like a page that is not there."""
    if not (settings.LOCAL and comes_from_this_machine(request)):
        raise Http404
    user = tokens.bearer(token)
    if user is None:
        raise Http404
    login(request, user, backend="django.contrib.auth.backends.ModelBackend")
    return redirect(resolve_url(settings.LOGIN_REDIRECT_URL))


def comes_from_this_machine(request: HttpRequest) -> bool:
    """True for a loopback address that no proxy stands in front of."""
    if request.headers.get("X-Forwarded-For") or request.headers.get("Forwarded"):
        return False
    try:
        return ipaddress.ip_address(request.META.get("REMOTE_ADDR", "")).is_loopback
    except ValueError:
        return False
