"""The page of a practitioner's own sheet: its questions, its proofs, its rows."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from budget.models import ImportBatch
from budget.selectors import imports as kept
from budget.services import imports
from projects.access import Door
from reports.forms import book as forms
from reports.selectors import exchange_book
from reports.selectors.exchange import whole_number


def show(request: HttpRequest, opened: Door, batch: ImportBatch) -> HttpResponse:
    """A sheet as it was read; a POST keeps answers, columns, or which rows stay out."""
    grid, choices = kept.grid_of(batch), kept.choices_of(batch)
    seen = kept.preview(batch, today=opened.today)
    asks_shape = request.method == "POST" and request.POST.get("do") == "columns"
    form = forms.ShapeForm(seen, choices, width=grid.width, data=request.POST if asks_shape else None)
    if request.method == "POST" and (not asks_shape or form.is_valid()):
        if asks_shape:
            chosen = form.choices(choices)
        else:
            chosen = (forms.rows_chosen if request.POST.get("do") == "rows" else forms.answered)(request.POST, choices)
        imports.choose(batch, chosen)
        return redirect(f"{request.path}?{request.GET.urlencode()}")
    start, only = whole_number(request.GET.get("from")), request.GET.get("rows") == "out"
    context = {
        "batch": batch,
        "form": form,
        "only": only,
        "sheet": exchange_book.book(batch, seen, choices, start=start, only=only),
    }
    return render(request, "reports/exchange_book.html", context, status=422 if form.errors else 200)
