"""Choices, below /p/<slug>/choices/."""

from django.urls import path

from decisions.views import choices, drafting, options, recording, ties

app_name = "decisions"

urlpatterns = [
    path("", choices.index, name="list"),
    path("new/", drafting.new, name="new"),
    path("<int:pk>/", choices.decision, name="decision"),
    path("<int:pk>/edit/", drafting.edit, name="edit"),
    path("<int:pk>/checks/", drafting.checks, name="checks"),
    path("<int:pk>/work/", ties.work, name="work"),
    path("<int:pk>/options/new/", options.add, name="add_option"),
    path("<int:pk>/options/<int:option>/", options.edit, name="edit_option"),
    path("<int:pk>/options/<int:option>/take-off/", options.take_off, name="take_off"),
    path("<int:pk>/options/<int:option>/bring-back/", options.bring_back, name="bring_back"),
    path("<int:pk>/record/", recording.record, name="record"),
    path("<int:pk>/answer/", recording.answer, name="answer"),
    path("<int:pk>/reopen/", recording.reopen, name="reopen"),
    path("records/<int:pk>/", choices.sheet, name="sheet"),
]
