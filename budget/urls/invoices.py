"""The addresses of invoices and payments, below /p/<slug>/money/invoices/."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
