"""Today, at /p/<slug>/."""

from django.urls import path

from reports.views import today

app_name = "reports"

urlpatterns = [path("", today.today, name="today")]
