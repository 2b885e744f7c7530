"""The addresses of what falls due, retention, goods not on site and funding, below /p/<slug>/money/cash/."""

from django.urls import path

from budget.views import cash, funds

urlpatterns = [
    path("", cash.overview, name="cash"),
    path("agreements/<int:agreement_id>/release/", cash.release, name="release"),
    path("agreements/<int:agreement_id>/retention/", cash.retention_stages, name="retention_stages"),
    path("agreements/<int:agreement_id>/stages/", cash.payment_stages, name="payment_stages"),
    path("agreements/<int:agreement_id>/arrived/", cash.arrive, name="arrive"),
    path("releases/<int:release_id>/take-back/", cash.take_back_release, name="take_back_release"),
    path("releases/<int:release_id>/undo/", cash.undo_release, name="undo_release"),
    path("arrivals/<int:arrival_id>/take-back/", cash.take_back_arrival, name="take_back_arrival"),
    path("arrivals/<int:arrival_id>/undo/", cash.undo_arrival, name="undo_arrival"),
    path("funding/new/", funds.add_source, name="add_source"),
    path("funding/receive/", funds.receive, name="receive"),
    path("funding/<int:source_id>/", funds.edit_source, name="edit_source"),
    path("funding/<int:source_id>/remove/", funds.remove_source, name="remove_source"),
    path("funding/<int:source_id>/put-back/", funds.put_back_source, name="put_back_source"),
    path("receipts/<int:receipt_id>/take-back/", funds.take_back_receipt, name="take_back_receipt"),
    path("receipts/<int:receipt_id>/undo/", funds.undo_receipt, name="undo_receipt"),
]
