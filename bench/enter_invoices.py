"""Enter invoices in a generated project over the database of DATABASE_URL; prints a JSON object for `measure_invoice`.

python -m bench.enter_invoices [BOOK]       # BOOK: also write the project as a plain spreadsheet
"""

import json
import statistics
import sys
import time
from pathlib import Path

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.http import HttpResponse  # noqa: E402
from django.test import Client  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from bench import big_project, sheet_of_project  # noqa: E402
from budget.models import AgreementLine, Invoice, LineItem  # noqa: E402
from budget.selectors.overview import overview  # noqa: E402
from budget.services import ledger  # noqa: E402
from projects.models import Project, User  # noqa: E402

TIMES = 25
NET = 100


def posted(row: AgreementLine, number: str) -> dict[str, str]:
    """What a browser sends for an invoice of one line, as somebody types it."""
    return {
        "vendor": row.agreement.vendor.name, "number": number, "kind": "invoice", "invoiced_on": "2027-01-29",
        "currency": "GBP", "tax_percent": "20", "tax": "", "bank": "", "due_on": "", "received_on": "", "rate": "", "note": "",
        "lines-TOTAL_FORMS": "1", "lines-INITIAL_FORMS": "0", "lines-0-line": f"{row.line.code} · {row.line.description}",
        "lines-0-net": str(NET), "lines-0-retention": "", "lines-0-change": "", "enter": "1",
    }  # fmt: skip


def stands(project: Project, line: LineItem) -> tuple[int, int, int]:
    """The invoiced amount of a line and of the project, and the project's likely final."""
    total = overview(project).total
    return LineItem.objects.get(pk=line.pk).invoiced_minor, total.invoiced, total.likely


def send(client: Client, project: Project, data: dict[str, str]) -> HttpResponse:
    return client.post(f"/p/{project.slug}/money/invoices/new/", data)


def entered(client: Client, project: Project, row: AgreementLine, number: str) -> float:
    """Post one invoice. Returns: seconds of the request; the totals are right after it."""
    before, data = stands(project, row.line), posted(row, number)
    began = time.perf_counter()
    answer = send(client, project, data)
    taken = time.perf_counter() - began
    assert answer.status_code == 302, (answer.status_code, answer.content[-3000:])
    assert Invoice.objects.get(project=project, number=number).state == "waiting"
    net = NET * 100
    assert stands(project, row.line) == (before[0] + net, before[1] + net, before[2]), "the totals are not right"
    return taken


def measure(book: str) -> dict[str, object]:
    call_command("migrate", verbosity=0)
    project = Project.objects.filter(slug="big").first() or big_project.build()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")  # rows that come one by one are counted by the database itself
    total = overview(project).total
    if book:
        sheet_of_project.write(project, Path(book))
    client = Client()
    client.force_login(User.objects.get(username="lead"), backend="django.contrib.auth.backends.ModelBackend")
    rows = list(
        AgreementLine.objects.filter(agreement__project=project, agreement__quote__currency="GBP")
        .select_related("agreement__vendor", "line")
        .order_by("pk")[: TIMES + 2]
    )
    entered(client, project, rows.pop(), "warm-1")
    with CaptureQueriesContext(connection) as asked:
        assert send(client, project, posted(rows.pop(), "warm-2")).status_code == 302
    queries = len(asked)  # the next request forgets them
    taken = [entered(client, project, row, f"bench {place} x") for place, row in enumerate(rows)]
    lines = list(LineItem.objects.filter(project=project))
    assert ledger.unreconciled(project) == [] and ledger.drifted(project, lines, on=big_project.TODAY) == []
    first = {"plan": sheet_of_project.PLAN, "invoiced": total.invoiced, "likely": total.likely}
    return first | {"seconds": statistics.median(taken), "queries": queries}


if __name__ == "__main__":
    print(json.dumps(measure(*sys.argv[1:2] or [""])))
