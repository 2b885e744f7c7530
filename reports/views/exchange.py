"""Import and export: sheets in, tables out, the whole project as one document."""

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET, require_POST

from budget.models import ImportBatch
from budget.selectors import imports as kept
from budget.services import imports
from decisions import door
from projects import access, said
from projects.faults import Refused
from reports.exchange import dumping, receiving, samples, tables
from reports.forms.exchange import ChoicesForm, FileForm
from reports.selectors import exchange as shown
from reports.sheets import writing
from reports.views import exchange_book

#: What those bring in who book, and not only the lead.
BOOKED = (ImportBatch.Kind.INVOICES,)
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def index(request: HttpRequest, slug: str) -> HttpResponse:
    """The page of import and export; a POST hands a sheet in."""
    opened = door.open_project(request, slug)
    if request.method == "POST":
        _must_bring(opened, request.POST.get("kind", ""))
    kinds = None if opened.may_edit else BOOKED
    form = FileForm(request.POST or None, request.FILES or None, kinds=kinds, use_required_attribute=False)
    if request.method == "POST" and form.is_valid():
        found = form.cleaned_data
        try:
            batch = receiving.receive(
                opened.project, found["file"], kind=found["kind"], sheet=found["sheet"], by=opened.user, now=opened.now
            )
        except Refused as fault:
            form.add_error(fault.field if fault.field in form.fields else None, fault.message)
        else:
            return redirect("exchange:sheet", slug=slug, pk=batch.pk)
    context = {
        "form": form,
        "earlier": kept.earlier(opened.project),
        "names": tables.names() if opened.may_export else [],
    }
    return render(request, "reports/exchange.html", context, status=422 if form.errors else 200)


def _must_bring(opened: access.Door, kind: str) -> None:
    """The lead brings everything in; who books, the invoices."""
    if not (opened.may_edit or (opened.may_book and kind in BOOKED)):
        raise PermissionDenied


def _batch(request: HttpRequest, slug: str, pk: int) -> tuple[access.Door, ImportBatch]:
    """An import of this project, for somebody who may bring its kind in."""
    opened = door.open_project(request, slug)
    if not opened.may_book:
        raise PermissionDenied
    batch = kept.find(opened.project, pk)
    _must_bring(opened, batch.kind)
    batch.project = opened.project
    return opened, batch


@require_GET
def sample(request: HttpRequest, slug: str, kind: str) -> HttpResponse:
    door.open_project(request, slug)
    if kind not in samples.SAMPLES:
        raise Http404
    return _file(samples.as_csv(kind), "text/csv; charset=utf-8", f"sample-{kind}.csv")


def sheet(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    """A sheet as it was read; a POST keeps what was chosen about it."""
    opened, batch = _batch(request, slug, pk)
    if batch.state != ImportBatch.State.PREVIEWED:
        return _back(slug)
    if batch.kind == ImportBatch.Kind.WORKBOOK:
        return exchange_book.show(request, opened, batch)
    grid, seen, choices = kept.grid_of(batch), kept.preview(batch, today=opened.today), kept.choices_of(batch)
    form = ChoicesForm(
        batch.kind, grid, seen, currencies=kept.currencies(opened.project), trades=kept.trades(opened.project),
        choices=choices, data=request.POST or None,
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        asked = shown.left_out(seen, request.POST.getlist("shown"), request.POST.getlist("out"))
        imports.choose(batch, form.choices(asked))
        return redirect(f"{request.path}?{request.GET.urlencode()}")
    start, only = shown.whole_number(request.GET.get("from")), request.GET.get("rows") == "troubled"
    context = {
        "batch": batch,
        "form": form,
        "sheet": shown.sheet(batch, grid, seen, start=start, only_troubled=only),
        "only": only,
    }
    return render(request, "reports/exchange_sheet.html", context, status=422 if form.errors else 200)


@require_POST
def bring_in(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    opened, batch = _batch(request, slug, pk)
    try:
        count = imports.bring_in(batch, by=opened.user, now=opened.now, today=opened.today)
    except Refused as fault:
        said.refused(request, fault.message)
        return redirect("exchange:sheet", slug=slug, pk=pk)
    words = ngettext(
        "Brought in %(count)d row of %(kind)s from %(file)s.",
        "Brought in %(count)d rows of %(kind)s from %(file)s.",
        count,
    )
    undo = reverse("exchange:take_back", kwargs={"slug": slug, "pk": pk})
    said.done(request, words % {"count": count, "kind": batch.get_kind_display(), "file": batch.file_name}, undo=undo)
    return _back(slug)


@require_POST
def discard(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    opened, batch = _batch(request, slug, pk)
    try:
        imports.discard(batch)
    except Refused as fault:
        said.refused(request, fault.message)
    else:
        said.done(request, _("Threw the preview of %s away; nothing was brought in.") % batch.file_name)
    return _back(slug)


@require_POST
def take_back(request: HttpRequest, slug: str, pk: int) -> HttpResponse:
    opened, batch = _batch(request, slug, pk)
    try:
        count = imports.take_back(batch, by=opened.user, now=opened.now, today=opened.today)
    except Refused as fault:
        said.refused(request, fault.message)
    else:
        said.done(request, f"{imports.taken_back(batch, count)}.")
    return _back(slug)


@require_GET
def all_csv(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="export")
    return _file(writing.as_zip(tables.every(opened.project)), "application/zip", f"{slug}-{opened.today}.zip")


@require_GET
def workbook(request: HttpRequest, slug: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="export")
    return _file(writing.as_workbook(tables.every(opened.project)), XLSX, f"{slug}-{opened.today}.xlsx")


@require_GET
def one_csv(request: HttpRequest, slug: str, name: str) -> HttpResponse:
    opened = door.open_project(request, slug, may="export")
    table = tables.table(opened.project, name)
    return _file(writing.as_csv(table), "text/csv; charset=utf-8", f"{slug}-{table.name}-{opened.today}.csv")


@require_GET
def document(request: HttpRequest, slug: str) -> HttpResponse:
    """The whole project, for whoever manages it."""
    opened = access.open_project(request, slug, may="manage")
    try:
        data = dumping.as_bytes(opened.project)
    except Refused as fault:
        said.refused(request, fault.message)
        return _back(slug)
    return _file(data, "application/json", f"{slug}-{opened.today}.json")


def _back(slug: str) -> HttpResponse:
    return redirect("exchange:index", slug=slug)


def _file(data: bytes, media_type: str, name: str) -> HttpResponse:
    return HttpResponse(
        data,
        content_type=media_type,
        headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "private, no-store"},
    )
