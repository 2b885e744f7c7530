"""The plain way to the same figures: one object at a time, and a page of every row. The reference, not an example."""

from django.http import HttpRequest, HttpResponse
from django.template import engines

from budget.models import AgreementLine, Change, InvoiceLine, LineItem, Movement, OriginalQuote
from projects.models import Project

PAGE = (
    "{% load show %}<table>{% for row in rows %}<tr><td>{{ row.code }}</td><td>{{ row.line.description }}</td>"
    "<td>{{ row.trade.name }}</td><td>{{ row.budget|money:project }}</td><td>{{ row.original|money:project }}</td>"
    "<td>{{ row.agreed|money:project }}</td><td>{{ row.likely|money:project }}</td><td>{{ row.over|signed:project }}</td></tr>"
    "{% endfor %}</table>"
)


def rows(project: Project) -> list[dict]:
    """The figures of every line, each asked for on its own."""
    found = []
    for line in LineItem.objects.filter(project=project):
        original = OriginalQuote.objects.filter(line=line).order_by("pk").last()
        agreed = sum(row.amount_minor for row in AgreementLine.objects.filter(line=line, agreement__reversal=None))
        likely = line.budget_minor + sum(row.amount_minor for row in Movement.objects.filter(line=line))
        billed = InvoiceLine.objects.filter(line=line, invoice__state__in=("waiting", "approved"))
        changes = Change.objects.filter(line=line, state="agreed")
        found.append(
            {
                "code": line.code, "line": line, "trade": line.trade, "budget": line.budget_minor, "likely": likely,
                "original": original.levelled_minor if original else None, "agreed": agreed, "over": likely - line.budget_minor,
                "invoiced": sum(row.cost_minor for row in billed), "changes": sum(row.amount_minor for row in changes),
            }
        )  # fmt: skip
    return found


def totals(found: list[dict]) -> tuple[int, ...]:
    return (
        sum(row["budget"] for row in found),
        sum(row["original"] or 0 for row in found),
        sum(row["agreed"] for row in found),
        sum(row["changes"] for row in found),
        sum(row["invoiced"] for row in found),
        sum(row["likely"] for row in found),
    )


def page(request: HttpRequest, project: Project) -> HttpResponse:
    """The same rows fetched with prefetched relations, figures written as the program writes them, in one Django template."""
    lines = (
        LineItem.objects.filter(project=project)
        .select_related("trade")
        .prefetch_related("movements", "originals", "agreement_lines", "quote_lines")
    )
    found = []
    for line in lines:
        likely = line.budget_minor + sum(row.amount_minor for row in line.movements.all())
        originals = list(line.originals.all())
        found.append(
            {
                "code": line.code, "line": line, "trade": line.trade, "budget": line.budget_minor, "likely": likely,
                "original": originals[-1].levelled_minor if originals else None,
                "agreed": sum(row.amount_minor for row in line.agreement_lines.all()), "over": likely - line.budget_minor,
            }
        )  # fmt: skip
    return HttpResponse(engines["django"].from_string(PAGE).render({"rows": found, "project": project}))
