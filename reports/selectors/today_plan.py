"""What of the sequence waits for somebody: work that may not be covered, orders, visits, needs, and days to report."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q

from decisions.models import Decision
from decisions.selectors import board as boards
from decisions.selectors import deciding
from projects.access import Door
from projects.models import Project
from reports.selectors.matters import Matter
from reports.selectors.owners_work import order_by
from schedule.calc import gates, opening
from schedule.models import Activity, Need, Plan
from schedule.selectors import ahead, deliveries, holds

SOON = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class Opening:
    """When it opens, against the day it is to open; `days` above zero is late [calendar days]."""

    finish_on: date
    target_on: date | None
    days: int
    cost_minor: int

    @property
    def early(self) -> int:
        return max(0, -self.days)


def opening_of(door: Door) -> Opening | None:
    """The kept finish against the target; None where nothing is planned. Queries: 1."""
    project = door.project
    finish = Plan.objects.filter(project=project).values_list("finish_on", flat=True).first()
    if finish is None:
        return None
    days = opening.days_against(finish, project.opens_on) if project.opens_on else 0
    return Opening(finish, project.opens_on, days, opening.cost_of_days(days, project.cost_of_day_minor or 0))


def matters(door: Door) -> dict[str, list[Matter]]:
    """Read what of the sequence needs a person, by sort: "cover", "overruled", "order", "begin", "need" and "visit".

    Queries: 14 at most, whatever the size.
    """
    book = holds.book(door.project, today=door.today)
    return {
        "cover": list(_covering(holds.standing(book), door.today)),
        "overruled": [_overruled(one) for one in holds.went_over(book) if not one.released],
        "order": [_order(row) for row in deliveries.board(door.project, door.today).urgent],
        "begin": list(_to_report(door)),
        "need": [_need(row, door.today) for row in ahead.overdue(door.project, door.today) if not _is_answer(row)],
        "visit": list(_visits(book.holds, door.today)),
    }


def _covering(answers: Iterable[holds.Covering], today: date) -> Iterator[Matter]:
    """Work that starts within two weeks, or has begun, and may not; and work that covers something nobody looks at."""
    for one in answers:
        soon = one.begun or (one.needed_by is not None and one.needed_by <= today + SOON)
        if soon and one.verdict in (gates.NO, gates.UNNAMED):
            left = -1 if one.begun else (one.needed_by - today).days if one.needed_by else None
            yield Matter(
                "cover", left, one.cost_if_wrong_minor, line=str(one.work), on=one.needed_by, covering=one,
                activity_id=one.work.key,
            )  # fmt: skip


def _overruled(one: holds.Overruled) -> Matter:
    return Matter("overruled", None, one.cost_if_wrong_minor, line=str(one.work), on=one.on, overruled=one)


def _order(row: deliveries.Arriving) -> Matter:
    by = order_by(row)
    left = -row.days_past if row.days_past else (by - row.today).days if by else None
    return Matter("order", left, 0, on=by, order=row)


def _to_report(door: Door) -> Iterator[Matter]:
    """Work that by its dates begins or ends today at the latest, and of which nobody has said so. Queries: 1."""
    rows = Activity.objects.filter(project=door.project, removed_on=None, finished_on=None).exclude(days=0)
    begins = Q(started_on=None, early_start_on__lte=door.today)
    ends = Q(started_on__isnull=False, early_finish_on__lte=door.today)
    for row in rows.filter(begins | ends).order_by("float_days", "position", "pk"):
        yield Matter("begin", 0, 0, line=str(row), activity_id=row.pk, activity=row)


def _is_answer(row: Need) -> bool:
    """The answer to a decision stands with the decisions."""
    return row.kind == Need.Kind.DECISION and row.activity.kind == Activity.Kind.DECISION


def _need(row: Need, today: date) -> Matter:
    return Matter(
        "need", (row.by_on - today).days, 0, line=str(row.activity), on=row.by_on, activity_id=row.activity_id, need=row
    )


def _visits(book: Iterable[holds.Hold], today: date) -> Iterator[Matter]:
    """Visits that nobody has booked, and that have to be asked for within two weeks, or had to."""
    for hold in book:
        by = hold.visit.ask_by
        if by and not hold.visit.booked and hold.state != gates.RELEASED and by <= today + SOON:
            yield Matter("visit", (by - today).days, hold.gate.cost_if_wrong_minor, line=hold.title, on=by, hold=hold)


def deadlines(project: Project, found: Iterable[Decision], today: date) -> Mapping[int, deciding.Deadline]:
    """Until when some decisions have to be taken, by the plan. Queries: those of `boards` and `deciding.deadlines`."""
    rows = list(found)
    for row in rows:
        row.project = project
    return deciding.deadlines(boards.boards(rows, today=today).values(), today=today) if rows else {}
