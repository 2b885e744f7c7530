"""Owners, below /p/<slug>/owners/."""

from django.urls import path

from reports.views import owners

app_name = "owners"

urlpatterns = [path("", owners.page, name="page")]
