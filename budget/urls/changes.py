"""The addresses of changes, below /p/<slug>/money/changes/."""

from django.urls import path

from budget.views import changes

urlpatterns = [
    path("", changes.listing, name="changes"),
    path("new/", changes.new, name="new_change"),
    path("new/stands/", changes.stands, name="change_stands"),
    path("new/within/", changes.within, name="change_within"),
    path("<int:change_id>/", changes.change, name="change"),
    path("<int:change_id>/paper/", changes.paper, name="change_paper"),
    path("<int:change_id>/price/", changes.price, name="price_change"),
    path("<int:change_id>/agree/", changes.agree, name="agree_change"),
    path("<int:change_id>/decline/", changes.decline, name="decline_change"),
    path("<int:change_id>/withdraw/", changes.withdraw, name="withdraw_change"),
    path("<int:change_id>/reopen/", changes.reopen, name="reopen_change"),
    path("<int:change_id>/files/", changes.files, name="change_files"),
    path("<int:change_id>/undo/", changes.undo, name="undo_change"),
]
