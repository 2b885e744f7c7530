"""Measure the money of a generated project on the database of DATABASE_URL; prints JSON rows for `measure_money`."""

import json
import statistics
import time
from collections.abc import Callable

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test import Client, RequestFactory  # noqa: E402
from django.test.utils import CaptureQueriesContext  # noqa: E402

from bench import big_project, naive_overview  # noqa: E402
from budget.models import LineItem  # noqa: E402
from budget.selectors.overview import overview  # noqa: E402
from budget.services import ledger  # noqa: E402
from decisions.models import Decision  # noqa: E402
from projects.models import User  # noqa: E402


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


def measure() -> list[tuple[str, float, str, float | None]]:
    call_command("migrate", verbosity=0)
    project = big_project.build()
    assert ledger.unreconciled(project) == []
    seen = overview(project)
    plain = naive_overview.rows(project)
    assert naive_overview.totals(plain) == (
        seen.total.budget,
        seen.total.original,
        seen.total.agreed,
        seen.total.likely,
    )
    client = Client()
    client.force_login(User.objects.get(username="lead"), backend="django.contrib.auth.backends.ModelBackend")
    root = f"/p/{project.slug}"
    figures, page = lambda: overview(project), opened(client, f"{root}/money/")
    request = RequestFactory().get("/")
    naive = seconds(lambda: naive_overview.rows(project), 1)
    naive_page = seconds(lambda: naive_overview.page(request, project), 2)
    line = LineItem.objects.filter(project=project).select_related("trade").first()
    decision = Decision.objects.filter(project=project).first()
    return [
        ("figures of Money: queries", queries(figures), "", 4),
        ("figures of Money, of one object at a time", seconds(figures, 9) / naive, "of 1", 1 / 300),
        ("page of Money, of a page of all rows", seconds(page, 9) / naive_page, "of 1", 1 / 40),
        ("page of Money: queries", queries(page), "", 12),
        ("a trade opened: queries", queries(opened(client, f"{root}/money/?open={line.trade.code}")), "", 12),
        ("a trade's levelled quotes: queries", queries(opened(client, f"{root}/money/trades/{line.trade_id}/quotes/")), "", 12),
        ("a decision: queries", queries(opened(client, f"{root}/choices/{decision.pk}/")), "", 12),
        ("Choices: queries", queries(opened(client, f"{root}/choices/")), "", 14),
        ("Owners: queries", queries(opened(client, f"{root}/owners/")), "", 12),
        ("Today: queries", queries(opened(client, f"{root}/")), "", 22),
        ("figures of Money, on this machine", seconds(figures, 9) * 1000, "ms", None),
        ("page of Money, on this machine", seconds(page, 9) * 1000, "ms", None),
        ("one object at a time, on this machine", naive * 1000, "ms", None),
        ("a page of all rows, on this machine", naive_page * 1000, "ms", None),
    ]  # fmt: skip


if __name__ == "__main__":
    print(json.dumps(measure()))
