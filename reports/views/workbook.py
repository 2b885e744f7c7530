"""The money of a project as a workbook with live formulas, to take along."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_GET

from decisions import door

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@require_GET
def live(request: HttpRequest, slug: str) -> HttpResponse:
    from reports.sheets.workbook import whole  # a web worker starts without the library that writes workbooks

    opened = door.open_project(request, slug, may="export")
    headers = {
        "Content-Disposition": f'attachment; filename="{slug}-money-{opened.today}.xlsx"',
        "Cache-Control": "private, no-store",
    }
    return HttpResponse(whole.as_workbook(opened.project, on=opened.today), content_type=XLSX, headers=headers)
