"""Money: where the whole stands, and each trade opened to its lines."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from budget import charts, door, wording
from budget.selectors import overview as overviews
from budget.selectors import pages, steps
from budget.views.asked import whole_number


def overview(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug)
    seen = overviews.overview(opened.project)
    open_id = pages.trade_called(opened.project, request.GET.get("open", "")[:12])
    context = {
        "seen": seen,
        "bridge": charts.bridge(wording.bridge_steps(seen), project=opened.project) if seen.total.lines else None,
        "open_id": open_id,
        "opened": pages.lines_of(opened.project, open_id, start=whole_number(request.GET.get("from")))
        if open_id
        else None,
        "set_aside": pages.contingency_lines(opened.project),
    }
    return render(request, "budget/money.html", context)


def trade_lines(request: HttpRequest, slug: str, trade_id: int) -> HttpResponse:
    """The lines of one trade, to be put under its row."""
    opened = door.open_project(request, slug)
    context = {
        "trade": pages.trade_in(opened.project, trade_id),
        "trade_id": trade_id,
        "opened": pages.lines_of(opened.project, trade_id, start=whole_number(request.GET.get("from"))),
    }
    return render(
        request, "budget/_trade_lines.html" if request.headers.get("HX-Request") else "budget/trade.html", context
    )


def step(request: HttpRequest, slug: str, cause: str) -> HttpResponse:
    """The entries behind one step of the bridge, to be put under it."""
    opened = door.open_project(request, slug)
    found = steps.entries(opened.project, cause, start=whole_number(request.GET.get("from")))
    name = "budget/_step_entries.html" if request.headers.get("HX-Request") else "budget/step.html"
    return render(request, name, {"entries": found})
