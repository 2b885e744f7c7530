"""The addresses of Money, below /p/<slug>/money/."""

from django.urls import include, path

from budget.views import agreements, levelled, lines, money, quotes, structure

app_name = "budget"
urlpatterns = [
    path("", money.overview, name="money"),
    path("steps/<slug:cause>/", money.step, name="step"),
    path("trades/new/", structure.add_trade, name="add_trade"),
    path("trades/<int:trade_id>/lines/", money.trade_lines, name="trade_lines"),
    path("trades/<int:trade_id>/quotes/", levelled.trade, name="trade_quotes"),
    path("lines/new/", structure.add_line, name="add_line"),
    path("lines/<int:line_id>/", lines.line, name="line"),
    path("lines/<int:line_id>/edit/", lines.edit, name="edit_line"),
    path("lines/<int:line_id>/scope/", lines.scope, name="scope"),
    path("lines/<int:line_id>/estimate/", lines.estimate, name="estimate"),
    path("lines/<int:line_id>/forecast/", lines.own_forecast, name="own_forecast"),
    path("lines/<int:line_id>/original/", lines.original, name="original"),
    path("lines/<int:line_id>/quotes/", levelled.line, name="line_quotes"),
    path("quotes/new/", quotes.log, name="log_quote"),
    path("quotes/new/scope/", quotes.scope_part, name="scope_part"),
    path("quotes/<int:quote_id>/", quotes.quote, name="quote"),
    path("quotes/<int:quote_id>/withdraw/", quotes.withdraw, name="withdraw"),
    path("quotes/<int:quote_id>/undo/", quotes.undo, name="undo_quote"),
    path("quotes/<int:quote_id>/renew/", quotes.renew, name="renew"),
    path("quotes/<int:quote_id>/lines/<int:line_id>/prefer/", quotes.prefer, name="prefer"),
    path("quotes/<int:quote_id>/accept/", agreements.accept, name="accept"),
    path("agreements/<int:agreement_id>/take-back/", agreements.take_back, name="take_back"),
    path("vendors/", structure.vendors, name="vendors"),
    path("changes/", include("budget.urls.changes")),
    path("invoices/", include("budget.urls.invoices")),
    path("cash/", include("budget.urls.cash")),
    path("reserve/", include("budget.urls.reserve")),
]
