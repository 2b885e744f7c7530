"""The addresses of activities, links, calendars and of bringing a plan in and out."""

from django.urls import URLPattern, path

from schedule.views import calendars, editing

urlpatterns: list[URLPattern] = [
    path("activities/new/", editing.add, name="add_activity"),
    path("activities/<int:activity_id>/edit/", editing.edit, name="edit_activity"),
    path("activities/<int:activity_id>/remove/", editing.remove, name="remove_activity"),
    path("start/", editing.start, name="start"),
    path("take-back/<int:entry_id>/", editing.take_back, name="take_back"),
    path("calendars/", calendars.listing, name="calendars"),
    path("calendars/new/", calendars.add, name="add_calendar"),
    path("calendars/<int:calendar_id>/edit/", calendars.edit, name="edit_calendar"),
    path("calendars/<int:calendar_id>/close/", calendars.close, name="close_calendar"),
    path("calendars/<int:calendar_id>/remove/", calendars.remove, name="remove_calendar"),
]
