"""The address book: each app has its own, this file only puts them together."""

from django.urls import include, path

urlpatterns = [
    path("", include("projects.signin.urls")),
    path("", include("projects.urls")),
    path("o/", include("reports.urls_link")),
    path("gallery/", include("reports.urls_gallery")),
    path("p/<slug:slug>/", include("reports.urls_today")),
    path("p/<slug:slug>/project/exchange/", include("reports.urls_exchange")),
    path("p/<slug:slug>/money/savings/", include("decisions.urls_savings")),
    path("p/<slug:slug>/money/", include("budget.urls")),
    path("p/<slug:slug>/sequence/plan/activities/", include("decisions.urls_sequence")),
    path("p/<slug:slug>/sequence/holds/", include("reports.urls_gates")),
    path("p/<slug:slug>/sequence/plan/", include("reports.urls_plan")),
    path("p/<slug:slug>/sequence/", include("schedule.urls")),
    path("p/<slug:slug>/choices/", include("decisions.urls")),
    path("p/<slug:slug>/owners/", include("reports.urls_owners")),
]
