"""The addresses of import and export, below /p/<slug>/project/exchange/."""

from django.urls import path

from reports.views import exchange, workbook

app_name = "exchange"
urlpatterns = [
    path("", exchange.index, name="index"),
    path("samples/<str:kind>.csv", exchange.sample, name="sample"),
    path("sheets/<int:pk>/", exchange.sheet, name="sheet"),
    path("sheets/<int:pk>/bring-in/", exchange.bring_in, name="bring_in"),
    path("sheets/<int:pk>/discard/", exchange.discard, name="discard"),
    path("sheets/<int:pk>/take-back/", exchange.take_back, name="take_back"),
    path("money.xlsx", workbook.live, name="live"),
    path("tables.zip", exchange.all_csv, name="all_csv"),
    path("tables.xlsx", exchange.workbook, name="workbook"),
    path("tables/<str:name>.csv", exchange.one_csv, name="one_csv"),
    path("project.json", exchange.document, name="document"),
]
