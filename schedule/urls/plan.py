"""The addresses of activities, links, calendars and of bringing a plan in and out."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
