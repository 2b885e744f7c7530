"""The addresses of contingency, transfers and risks, below /p/<slug>/money/reserve/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
