"""Measure the money of a generated project on the database of DATABASE_URL; prints JSON rows for `measure_money`."""

import json
import statistics
import time
from collections.abc import Callable
from dataclasses import asdict

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client, RequestFactory  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from bench import big_project, naive_overview  # noqa: E402
from bench.figures import Figure, faster  # noqa: E402
from budget.models import LineItem  # noqa: E402
from budget.selectors.overview import overview  # noqa: E402
from budget.services import ledger  # noqa: E402
from decisions.models import Decision  # noqa: E402
from projects.models import Project, User  # noqa: E402


def seconds(deed: Callable[[], object], times: int) -> float:
    """The median time of a deed after one warming run."""
    deed()
    taken = []
    for _ in range(times):
        began = time.perf_counter()
        deed()
        taken.append(time.perf_counter() - began)
    return statistics.median(taken)


def queries(deed: Callable[[], object]) -> int:
    with CaptureQueriesContext(
        connection,
    ) as seen:
        deed()
    return len(seen)


def opened(client: Client, path: str) -> Callable[[], object]:
    def deed() -> object:
        answer = client.get(path)
        assert answer.status_code == 200, (path, answer.status_code)
        return answer

    return deed


def measure() -> list[Figure]:
    call_command("migrate", verbosity=0)
    project = big_project.build()
    _reconciles(project)
    seen = overview(project).total
    plain = naive_overview.rows(project)
    assert naive_overview.totals(plain) == (
        seen.budget, seen.original, seen.agreed, seen.changes, seen.invoiced, seen.likely,
    )  # fmt: skip
    client = Client()
    client.force_login(User.objects.get(username="lead"), backend="django.contrib.auth.backends.ModelBackend")
    found = [*_speeds(project, client), *_counts(project, client)]
    _reconciles(project)
    return found


def _reconciles(project: Project) -> None:
    """The kept figures are what their sources give, before and after everything that is measured."""
    lines = list(LineItem.objects.filter(project=project))
    assert ledger.unreconciled(project) == [] and ledger.drifted(project, lines, on=big_project.TODAY) == []


def _speeds(project: Project, client: Client) -> list[Figure]:
    request = RequestFactory().get("/")
    page = opened(client, f"/p/{project.slug}/money/")
    one_by_one = seconds(lambda: naive_overview.rows(project), 2)
    all_rows = seconds(lambda: naive_overview.page(request, project), 3)
    figures, shown = seconds(lambda: overview(project), 21), seconds(page, 21)
    return [
        faster("figures of Money", figures, one_by_one, "one object at a time", at_least=300),
        faster("page of Money", shown, all_rows, "a page of all rows", at_least=40),
    ]


def _counts(project: Project, client: Client) -> list[Figure]:
    root = f"/p/{project.slug}"
    line = LineItem.objects.filter(project=project).select_related("trade").first()
    decision = Decision.objects.filter(project=project).first()
    assert line and decision
    asked = [
        ("figures of Money", lambda: overview(project), 4),
        ("page of Money", opened(client, f"{root}/money/"), 12),
        ("a trade opened", opened(client, f"{root}/money/?open={line.trade.code}"), 12),
        ("a trade's levelled quotes", opened(client, f"{root}/money/trades/{line.trade_id}/quotes/"), 12),
        ("a decision", opened(client, f"{root}/choices/{decision.pk}/"), 12),
        ("Choices", opened(client, f"{root}/choices/"), 14),
        ("Owners", opened(client, f"{root}/owners/"), 45),
        ("Today", opened(client, f"{root}/"), 75),
    ]
    return [Figure(name, queries(deed), "queries", at_most=most) for name, deed, most in asked]


if __name__ == "__main__":
    print(json.dumps([asdict(figure) for figure in measure()]))
