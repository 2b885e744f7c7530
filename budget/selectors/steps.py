"""What is behind one step of the bridge: every movement of its cause, by line."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Count, QuerySet, Sum
from django.http import Http404

from budget.models import Cause, LineItem, Movement
from projects.models import Project

#: So many entries are shown at once.
AT_ONCE = 100


@dataclass(frozen=True, slots=True)
class Entries:
    """Movements of one cause, the newest first, and what all of them come to [project minor units]."""

    cause: str
    label: str
    total_minor: int
    count: int
    rows: tuple[Movement, ...]
    next_start: int | None


def entries(project: Project, cause: str, *, start: int = 0) -> Entries:
    """Read the movements behind a step of the bridge, without those of the contingency, as the bridge does.

    Args:
        start: how many to pass over.
    Raises: Http404 for what is no cause. Queries: 2.
    """
    if cause not in Cause.values:
        raise Http404
    found = _of(project, cause)
    sums: dict[str, Any] = found.aggregate(total=Sum("amount_minor", default=0), count=Count("pk"))
    rows = found.select_related("line", "recorded_by").order_by("-occurred_on", "-pk")
    some = list(rows[start : start + AT_ONCE + 1])
    more = start + AT_ONCE if len(some) > AT_ONCE else None
    return Entries(cause, str(Cause(cause).label), sums["total"], sums["count"], tuple(some[:AT_ONCE]), more)


def _of(project: Project, cause: str) -> QuerySet:
    return Movement.objects.filter(project=project, cause=cause).exclude(line__kind=LineItem.Kind.CONTINGENCY)
