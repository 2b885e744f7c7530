"""The addresses of changes, below /p/<slug>/money/changes/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
