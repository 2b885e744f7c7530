"""The addresses of the look-ahead and of the weekly promises."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
