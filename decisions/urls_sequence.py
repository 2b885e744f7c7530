"""What money and decisions add to the pages of an activity, below /p/<slug>/sequence/plan/activities/."""

from django.urls import path

from decisions.views import ties

app_name = "sequence_lines"

urlpatterns = [
    path("<int:activity_id>/lines/", ties.lines, name="lines"),
]
