"""The addresses of what-ifs."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
