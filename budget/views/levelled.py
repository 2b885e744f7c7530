"""Quotes side by side, for a trade or for one line."""

from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from budget import door
from budget.selectors import levelled, pages
from budget.selectors import line as lines


def trade(request: HttpRequest, slug: str, trade_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    found = pages.trade_in(opened.project, trade_id)
    quoted, bare = levelled.lines_with_quotes(opened.project, found)
    page = Paginator(quoted, levelled.SHEETS_AT_ONCE).get_page(request.GET.get("page"))
    context = {
        "trade": found,
        "page": page,
        "sheets": levelled.sheets(opened.project, list(page.object_list), today=opened.today) if quoted else [],
        "bare": bare,
    }
    return render(request, "budget/levelled.html", context)


def line(request: HttpRequest, slug: str, line_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    found = lines.line_in(opened.project, line_id)
    sheets = levelled.sheets(opened.project, [found.pk], today=opened.today)
    whole = [sheet for sheet in sheets if sheet.columns]
    return render(request, "budget/levelled.html", {"line": found, "sheets": whole, "bare": [] if whole else [found]})
