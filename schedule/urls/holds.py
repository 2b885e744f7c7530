"""The addresses of hold points."""

from django.urls import path

from schedule.views import hold_drafts, holds

urlpatterns = [
    path("", holds.listing, name="holds"),
    path("usual/", hold_drafts.usual, name="usual_holds"),
    path("new/", hold_drafts.new, name="new_hold"),
    path("<int:hold_id>/", holds.one, name="hold"),
    path("<int:hold_id>/edit/", hold_drafts.edit, name="edit_hold"),
    path("<int:hold_id>/remove/", holds.remove, name="remove_hold"),
    path("<int:hold_id>/sheet/", holds.sheet, name="hold_sheet"),
    path("<int:hold_id>/checks/<int:check_id>/", holds.prove, name="prove"),
    path("<int:hold_id>/sign/", holds.sign, name="sign_hold"),
    path("<int:hold_id>/signatures/<int:signature_id>/take-back/", holds.take_back, name="take_back_signature"),
    path("<int:hold_id>/signatures/<int:signature_id>/undo/", holds.unsign, name="unsign"),
    path("<int:hold_id>/visit/", holds.visit, name="book_visit"),
    path("<int:hold_id>/overrule/<int:activity_id>/", holds.overrule, name="overrule"),
]
