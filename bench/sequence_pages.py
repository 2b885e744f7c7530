"""Measure the Sequence page and the saving of dates on the database of DATABASE_URL; prints JSON rows for `measure_sequence`.

The plain way to kept dates is one a Django developer would write first: model instances, a graph library that knows only
working days from zero, and `bulk_update`. Both are given a change that moves every date.
"""

import gzip
import json
import re
import time
from collections.abc import Callable
from dataclasses import asdict
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import django

django.setup()

import networkx  # noqa: E402
from django.core.management import call_command  # noqa: E402
from django.db import transaction  # noqa: E402
from django.test import Client  # noqa: E402

from bench.figures import Figure, faster  # noqa: E402
from bench.money_pages import opened, queries  # noqa: E402
from projects.models import Membership, Project, Role, User  # noqa: E402
from schedule.models import Activity, Link, Plan  # noqa: E402
from schedule.services import activities, calendars, plan  # noqa: E402
from schedule.services.activities import ActivityDraft, LinkDraft  # noqa: E402

COUNT, TRADES = 1_500, 18
TODAY = date(2027, 1, 29)
NOW = datetime(2027, 1, 29, 9, tzinfo=ZoneInfo("UTC"))
WEEK = frozenset({1, 2, 3, 4, 5})


@transaction.atomic
def build() -> Project:
    project = Project.objects.create(
        slug="long", name="Long", currency="GBP", held_on=TODAY, created_at=NOW, cost_of_day_minor=90_000, opens_on=date(2029, 1, 31)
    )  # fmt: skip
    lead, _made = User.objects.get_or_create(username="lead")
    Membership.objects.create(project=project, user=lead, role=Role.LEAD, joined_at=NOW)
    told = {"by": lead, "now": NOW, "today": TODAY}
    for name in ("Trades", "Crane", "Inspector"):
        calendars.add(project, calendars.CalendarDraft(name, WEEK, "GB"), **told)
    activities.add_many(project, [_draft(n) for n in range(COUNT)], **told)
    return project


def _draft(n: int) -> ActivityDraft:
    before = tuple(LinkDraft(f"B{m:04d}") for m in dict.fromkeys((n - 40, n - 12 - n % 5)) if m >= 0)
    return ActivityDraft(
        f"B{n:04d}", f"Piece of work number {n}", 2 + n % 6, trade=f"Trade {n % TRADES}", area=f"Area {n % 9}", after=before,
        calendar=("Trades", "Crane", "Inspector")[n % 3],
    )  # fmt: skip


def shifted(project: Project) -> None:
    """Begin the plan a day later or earlier, and settle: every date moves."""
    row = Plan.objects.get(project=project)
    row.starts_on = TODAY + timedelta(days=3 if row.starts_on <= TODAY else 0)
    row.save(update_fields=["starts_on"])
    with transaction.atomic():
        plan.settle(plan.lock(project), today=TODAY)


def plain(project: Project) -> None:
    """The same dates by instances, a graph and `bulk_update`; on plain weekdays, in finish to start alone."""
    rows = {row.pk: row for row in Activity.objects.filter(project=project)}
    graph = networkx.DiGraph()
    graph.add_nodes_from(rows)
    graph.add_edges_from((link.before_id, link.waiting_id) for link in Link.objects.filter(waiting__project=project))
    order = list(networkx.topological_sort(graph))
    early = {}
    for pk in order:
        early[pk] = max((early[other] + rows[other].days for other in graph.predecessors(pk)), default=0)
    end = max(early[pk] + rows[pk].days for pk in order)
    late = {}
    for pk in reversed(order):
        late[pk] = min((late[other] for other in graph.successors(pk)), default=end) - rows[pk].days
    start = next(iter(rows.values())).early_start_on + timedelta(days=1)
    with transaction.atomic():
        for pk, row in rows.items():
            _keep(row, start, early[pk], late[pk])
        Activity.objects.bulk_update(rows.values(), plan.KEPT)


def _keep(row: Activity, start: date, early: int, late: int) -> None:
    row.early_start_on = start + timedelta(days=early)
    row.early_finish_on = row.early_start_on + timedelta(days=row.days - 1)
    row.late_start_on = start + timedelta(days=late)
    row.late_finish_on = row.target_finish_on = row.late_start_on + timedelta(days=row.days - 1)
    row.float_days = row.free_days = row.target_float_days = late - early
    row.critical = late == early


def worked(deed: Callable[[Project], object], project: Project) -> float:
    """The work of a deed on this machine [seconds of the processor], whatever else it is busy with."""
    began = time.process_time()
    deed(project)
    return time.process_time() - began


def picture(client: Client, path: str) -> int:
    """The size of the picture of a page when it is packed [bytes]."""
    html = client.get(path).content.decode()
    found = re.search(r'<script id="sequence-figure" type="application/json">(.*?)</script>', html, re.DOTALL)
    assert found
    return len(gzip.compress(found[1].encode()))


def measure() -> list[Figure]:
    call_command("migrate", verbosity=0)
    project = build()
    client = Client()
    client.force_login(User.objects.get(username="lead"), backend="django.contrib.auth.backends.ModelBackend")
    root = f"/p/{project.slug}/sequence/"
    pages = {"Sequence": "", "Sequence, the whole build": "?span=whole", "Sequence by trade": "?by=trade"}
    counts = [
        Figure(name, queries(opened(client, root + asked)), "queries", at_most=12) for name, asked in pages.items()
    ]
    sizes = [
        Figure(f"{name}: the picture, packed", picture(client, root + asked) / 1000, "KB", at_most=12)
        for name, asked in pages.items()
    ]
    shifted(project)
    ours = min(worked(shifted, project) for _ in range(7))
    assert plan.drifted(project) == {}
    theirs = min(worked(plain, project) for _ in range(2))
    shifted(project)
    return [
        *counts,
        *sizes,
        faster("dates of 1,500 activities saved", ours, theirs, "instances, a graph, bulk_update", at_least=20),
    ]


if __name__ == "__main__":
    print(json.dumps([asdict(figure) for figure in measure()]))
