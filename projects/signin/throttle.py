"""The wait after too many wrong passwords."""

from datetime import timedelta

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


def cool_off(request: HttpRequest | None = None) -> timedelta:
    return timedelta(minutes=settings.AXES_COOLOFF_MINUTES)


def client_address(request: HttpRequest) -> str:
    """Where the visitor is: behind a proxy, the last address it noted, for the earlier ones may be made up."""
    noted = request.headers.get("X-Forwarded-For", "") if settings.BEHIND_PROXY else ""
    return noted.rpartition(",")[2].strip() or request.META.get("REMOTE_ADDR", "")


def please_wait(request: HttpRequest, credentials: dict[str, object], *args: object, **kwargs: object) -> HttpResponse:
    minutes = settings.AXES_COOLOFF_MINUTES
    response = render(request, "429.html", {"wait_minutes": minutes}, status=429)
    response["Retry-After"] = str(minutes * 60)
    return response
