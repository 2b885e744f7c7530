"""The sheet of a hold point, on one page to take to site."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_safe

from reports.pdf import gate_words, setting
from schedule import door
from schedule.selectors import holds


@require_safe
def sheet(request: HttpRequest, slug: str, hold_id: int) -> HttpResponse:
    opened = door.open_project(request, slug)
    hold = holds.one(opened.project, hold_id, today=opened.today)
    paper = gate_words.paper(hold, holds.checks_of(opened.project, hold), project=opened.project, on=opened.today)
    answer = HttpResponse(setting.as_pdf(paper, on=opened.today, template="gate.typ"), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="hold-point-{hold.pk}-{opened.today.isoformat()}.pdf"'
    return answer
