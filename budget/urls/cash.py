"""The addresses of what falls due, retention, funding, below /p/<slug>/money/cash/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
