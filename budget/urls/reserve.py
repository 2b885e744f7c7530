"""The addresses of contingency, transfers and risks, below /p/<slug>/money/reserve/."""

from django.urls import path

from budget.views import closing, reserve

urlpatterns = [
    path("", reserve.reserve, name="reserve"),
    path("moves/new/", reserve.move, name="move_budget"),
    path("moves/<int:transfer_id>/take-back/", reserve.take_back, name="take_back_move"),
    path("moves/<int:transfer_id>/undo/", reserve.undo, name="undo_move"),
    path("risks/new/", reserve.add_risk, name="add_risk"),
    path("risks/<int:risk_id>/", reserve.edit_risk, name="edit_risk"),
    path("risks/<int:risk_id>/close/", reserve.close_risk, name="close_risk"),
    path("lines/<int:line_id>/close/", closing.close_line, name="close_line"),
    path("lines/<int:line_id>/close/undo/", closing.undo_close, name="undo_close_line"),
    path("lines/<int:line_id>/reopen/", closing.reopen_line, name="reopen_line"),
    path("lines/<int:line_id>/give-back/", closing.give_back, name="give_back"),
]
