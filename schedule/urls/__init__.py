"""The addresses of Sequence, below /p/<slug>/sequence/."""

from django.urls import include, path

from schedule.views import overview

app_name = "schedule"
urlpatterns = [
    path("", overview.overview, name="sequence"),
    path("plan/", include("schedule.urls.progress")),
    path("plan/", include("schedule.urls.plan")),
    path("ahead/", include("schedule.urls.ahead")),
    path("what-if/", include("schedule.urls.questions")),
    path("holds/", include("schedule.urls.holds")),
    path("deliveries/", include("schedule.urls.deliveries")),
]
