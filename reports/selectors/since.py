"""What changed since the last issued report: the likely final then, each cause with its entries, the likely final now."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from typing import Any

from django.db.models import Count, F, Sum, Window
from django.db.models.functions import Abs, RowNumber
from django.utils.translation import gettext as _

from budget.models import Cause, LineItem, Movement
from budget.selectors.overview import Overview
from projects.models import Project
from reports.models import IssuedReport

#: So many entries of a cause are shown, the largest first; the rest is summed up.
ENTRIES = 12


def changes(project: Project, seen: Overview, last: IssuedReport) -> dict[str, Any]:
    """Read what moved the likely final since a report.

    Returns: the likely final then and now, and the causes between, which add up to the cent; work that came with a first
    budget of its own, or left with it, is a step of its own. Queries: 1.
    """
    running, steps = last.likely_minor, []
    for cause in _causes(project, last):
        running += cause["amount"]
        steps.append(cause | {"running": running})
    rest = seen.total.likely - running
    if rest:
        label = _("lines that came or left with their first budget")
        steps.append(
            {"label": label, "amount": rest, "running": seen.total.likely, "entries": [], "more": 0, "more_minor": 0}
        )
    return {
        "number": last.number,
        "issued_on": last.issued_on.isoformat(),
        "then": last.likely_minor,
        "now": seen.total.likely,
        "moved": seen.total.likely - last.likely_minor,
        "steps": steps,
    }


def _causes(project: Project, last: IssuedReport) -> Iterator[dict[str, Any]]:
    """The causes that moved something, each with its largest entries. One query: sums and places are worked out in it."""
    by_cause: dict[str, Any] = {"partition_by": [F("cause")]}
    rows = (
        Movement.objects.filter(project=project, pk__gt=last.up_to_id or 0)
        .exclude(line__kind=LineItem.Kind.CONTINGENCY)
        .annotate(
            total=Window(Sum("amount_minor"), **by_cause),
            count=Window(Count("pk"), **by_cause),
            place=Window(RowNumber(), order_by=[Abs("amount_minor").desc(), F("pk").asc()], **by_cause),
        )
        .filter(place__lte=ENTRIES)
        .order_by("cause", "place")
        .values(
            "cause",
            "total",
            "count",
            "occurred_on",
            "amount_minor",
            "note",
            "line_id",
            "line__code",
            "line__description",
        )
    )
    found = {key: list(part) for key, part in groupby(rows, key=lambda row: row["cause"])}
    return (_cause(cause, found[cause]) for cause in Cause if cause in found)


def _cause(cause: Cause, rows: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    shown = sum(row["amount_minor"] for row in rows)
    return {
        "label": str(cause.label),
        "amount": rows[0]["total"],
        "entries": [_entry(row) for row in rows],
        "more": rows[0]["count"] - len(rows),
        "more_minor": rows[0]["total"] - shown,
    }


def _entry(row: Mapping[str, Any]) -> dict[str, Any]:
    # A line that was taken off bears its number behind its code, so that the code is free again.
    code = str(row["line__code"]).removesuffix(f"~{row['line_id']}")
    return {
        "on": row["occurred_on"].isoformat(),
        "line": f"{code} {row['line__description']}",
        "amount": row["amount_minor"],
        "note": row["note"],
    }
