"""An address book with one view that asks nobody who they are."""

from django.http import HttpRequest, HttpResponse
from django.urls import include, path


def forgotten(request: HttpRequest) -> HttpResponse:
    return HttpResponse("open to all")


urlpatterns = [path("forgotten/", forgotten), path("", include("projects.signin.urls"))]
