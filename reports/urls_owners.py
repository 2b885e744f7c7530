"""Owners, below /p/<slug>/owners/."""

from django.urls import path

from reports.views import owners

app_name = "owners"

urlpatterns = [
    path("", owners.page, name="page"),
    path("pdf/", owners.pdf, name="pdf"),
    path("issue/", owners.issue, name="issue"),
    path("reports/<int:number>/", owners.report, name="report"),
    path("links/give/", owners.give, name="give"),
    path("links/<int:pk>/take-back/", owners.take_back, name="take_back"),
]
