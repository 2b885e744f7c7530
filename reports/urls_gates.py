"""The sheet of a hold point as PDF, below /p/<slug>/sequence/holds/."""

from django.urls import path

from reports.views import gates

urlpatterns = [path("<int:hold_id>/sheet.pdf", gates.sheet, name="gate_sheet")]
