"""What the owners are told of the work itself: what may not be covered yet, orders about to be late, and holds overruled."""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from projects.models import Project
from schedule.calc import gates
from schedule.selectors import deliveries, holds

Content = dict[str, Any]
#: So far ahead the owners are told of work that is not cleared, and so many of it.
AHEAD, TOLD = timedelta(days=42), 6
#: What there is to tell where nothing is planned.
NOTHING: Content = {"covering": [], "orders": [], "gone_over": []}


def content(project: Project, *, on: date) -> Content:
    """Read what of the work the owners should know.

    Returns: values that JSON holds as they are, under "covering", "orders" and "gone_over"; empty where there is nothing.
    Queries: 12 at most, whatever the size.
    """
    book = holds.book(project, today=on)
    board = deliveries.board(project, on)
    return {
        "covering": [_covering(one) for one in _near(holds.standing(book), on)][:TOLD],
        "orders": [_order(row) for row in board.urgent][:TOLD],
        "gone_over": [_gone_over(one) for one in holds.went_over(book)],
    }


def _near(answers: Iterable[holds.Covering], on: date) -> list[holds.Covering]:
    """Work that starts in the next weeks, or has begun, and may not."""
    return [one for one in answers if one.verdict == gates.NO and (not one.needed_by or one.needed_by <= on + AHEAD)]


def _covering(one: holds.Covering) -> Content:
    return {
        "work": str(one.work),
        "starts_on": one.needed_by.isoformat() if one.needed_by else None,
        "begun": one.begun,
        "missing": one.counted,
        "signs": list(one.signs),
        "cost_minor": one.cost_if_wrong_minor,
    }


def _order(row: deliveries.Arriving) -> Content:
    return {
        "item": row.item,
        "state": row.state,
        "expected_on": row.expected_on.isoformat() if row.expected_on else None,
        "latest_on": row.latest_on.isoformat() if row.latest_on else None,
        "order_by_on": by.isoformat() if (by := order_by(row)) else None,
        "promised_on": row.row.promised_on.isoformat() if row.row.promised_on else None,
        "days": row.days_past or row.promised_later,
    }


def order_by(row: deliveries.Arriving) -> date | None:
    """The last day to begin with an order: so that no work waits where that is what is near, else for the opening."""
    last = row.order_for_work if row.state == "plan soon" else row.order
    return last.begin_on if last else None


def _gone_over(one: holds.Overruled) -> Content:
    return {
        "hold": str(one.hold),
        "work": str(one.work),
        "reason": one.reason,
        "by": one.by,
        "overruled_on": one.on.isoformat(),
        "missing": list(one.missing),
        "cost_minor": one.cost_if_wrong_minor,
        "released": one.released,
    }
