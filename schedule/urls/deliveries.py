"""The addresses of deliveries."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
