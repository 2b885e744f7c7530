"""The addresses of one activity, of what is reported on it, and of freezing the plan."""

from django.urls import path

from schedule.views import activity

urlpatterns = [
    path("activities/<int:activity_id>/", activity.activity, name="activity"),
    path("activities/<int:activity_id>/report/", activity.report, name="report"),
    path("activities/<int:activity_id>/report/undo/", activity.undo_report, name="undo_report"),
    path("activities/<int:activity_id>/started/", activity.started, name="started"),
    path("activities/<int:activity_id>/done/", activity.done, name="done"),
    path("baselines/new/", activity.freeze, name="freeze"),
]
