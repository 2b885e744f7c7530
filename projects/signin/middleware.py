"""Every page asks who is there, unless its view is marked `login_not_required`."""

from collections.abc import Callable
from urllib.parse import urlencode

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import resolve_url
from django_htmx.http import HttpResponseClientRedirect


class AskWhoIsThere(LoginRequiredMiddleware):
    def handle_no_permission(  # type: ignore[override]  # the library allows any answer
        self, request: HttpRequest, view_func: Callable[..., HttpResponseBase]
    ) -> HttpResponseBase:
        """Lead a stranger to the sign-in page; a swap of part of a page leads the whole page there, and back to it."""
        answer = super().handle_no_permission(request, view_func)
        if not getattr(request, "htmx", False):
            return answer
        back = request.htmx.current_url_abs_path or "/"  # type: ignore[attr-defined]
        return HttpResponseClientRedirect(f"{resolve_url(self.get_login_url(view_func))}?{urlencode({'next': back})}")
