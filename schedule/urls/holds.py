"""The addresses of hold points."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
