"""The addresses of invoices and payments, below /p/<slug>/money/invoices/."""

from django.urls import path

from budget.views import invoices, payments

urlpatterns = [
    path("", invoices.queue, name="invoices"),
    path("all/", invoices.past, name="past_invoices"),
    path("new/", invoices.new, name="new_invoice"),
    path("<int:invoice_id>/", invoices.invoice, name="invoice"),
    path("<int:invoice_id>/undo/", invoices.undo, name="undo_invoice"),
    path("<int:invoice_id>/approve/", invoices.approve, name="approve_invoice"),
    path("<int:invoice_id>/query/", invoices.query, name="query_invoice"),
    path("<int:invoice_id>/refuse/", invoices.refuse, name="refuse_invoice"),
    path("<int:invoice_id>/take-up/", invoices.take_up, name="take_up_invoice"),
    path("<int:invoice_id>/settled/", invoices.explain, name="explain_invoice"),
    path("<int:invoice_id>/pay/", payments.pay, name="pay"),
    path("payments/<int:payment_id>/take-back/", payments.take_back, name="take_back_payment"),
    path("payments/<int:payment_id>/undo/", payments.undo, name="undo_payment"),
    path("vendors/<int:vendor_id>/bank/", payments.vendor_bank, name="vendor_bank"),
    path("bank/<int:bank_id>/confirm/", payments.confirm_bank, name="confirm_bank"),
    path("lines/<int:line_id>/seen/", payments.seen, name="seen"),
]
