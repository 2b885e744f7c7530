"""When the work of each line is done, for the outlook of Cash; registered with the budget when the program starts."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from decisions.calc import spans
from decisions.models import ActivityLine
from projects.models import Project


def of_lines(project: Project, today: date) -> Mapping[int, tuple[tuple[date, date], ...]]:
    """The days that the work of each line still takes. Left out: lines that no activity pays for. Queries: 1."""
    rows = ActivityLine.objects.filter(
        activity__project=project, activity__removed_on=None, activity__early_start_on__isnull=False
    ).order_by("activity__position", "pk")
    found: dict[int, list[spans.Work]] = defaultdict(list)
    columns = ("line_id", "activity__early_start_on", "activity__early_finish_on", "activity__finished_on")
    for line, first, last, done in rows.values_list(*columns):
        found[line].append(spans.Work(first, last, done is not None))
    return {line: spans.remaining(works, today) for line, works in found.items()}
