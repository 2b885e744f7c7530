"""What the owners are told of the money that is still to go out: the contingency and its cover, the funds, the next weeks."""

from datetime import date
from typing import Any

from budget.models import Change
from budget.selectors import cash, changes, reserve
from projects.models import Project, Role

Content = dict[str, Any]


def content(project: Project, *, on: date) -> Content:
    """Read the contingency, the funds, what goes out in the next weeks, and the changes that wait for an owner.

    Returns: values that JSON holds as they are, under "reserve", "funds", "weeks" and "changes"; None or empty where
    there is nothing. Queries: 25 at most, whatever the size.
    """
    out = cash.outlook(project, today=on)
    return {
        "reserve": _reserve(project, on),
        "funds": _funds(out, on) if out.funds.rows else None,
        "weeks": [_week(week) for week in out.weeks if week.items],
        "changes": _changes(project, on),
    }


def _reserve(project: Project, on: date) -> Content | None:
    seen = reserve.reserve(project, today=on)
    if seen is None:
        return None
    ratio = seen.cover.ratio
    return {
        "start": seen.start,
        "drawn": seen.drawn,
        "left": seen.left,
        "likely": seen.likely,
        "left_after_likely": seen.left_after_likely,
        "uncovered": seen.uncovered,
        "risk": seen.risk,
        "spread": seen.spread,
        "open": seen.open,
        "ratio": None if ratio is None else str(ratio),
        "signal": seen.cover.signal,
    }


def _funds(out: cash.Outlook, on: date) -> Content:
    seen, short = out.funds, out.short_from
    return {
        "promised": seen.promised,
        "received": seen.received,
        "likely": seen.likely,
        "paid": seen.paid,
        "to_complete": seen.to_complete,
        "undrawn": seen.funds.undrawn_minor,
        "in_hand": seen.funds.in_hand_minor,
        "available": seen.funds.undrawn_minor + seen.funds.in_hand_minor,
        "room": seen.funds.room_minor,
        "room_size": abs(seen.funds.room_minor),
        "room_after_risk": seen.room_after_risk,
        "room_at_worst": seen.room_at_worst,
        "spent_on": None if short is None else max(short.first, on).isoformat(),
    }


def _week(week: Any) -> Content:
    """A week by name; what it comes to is as it leaves the bank, with all its tax."""
    return {
        "first_on": week.first.isoformat(),
        "total": week.total_minor,
        "items": [{"name": item.name, "kind": item.kind, "amount": item.amount_minor} for item in week.items],
    }


def _changes(project: Project, on: date) -> list[Content]:
    """Proposed changes that the lead may not agree to alone."""
    waiting = changes.listing(project, role=Role.LEAD, today=on).waiting
    return [_change(row.change, row.since, row.likely) for row in waiting if not row.mine]


def _change(change: Change, since: date, likely: int) -> Content:
    return {
        "change_id": change.pk,
        "code": change.code,
        "title": change.title,
        "line": str(change.line),
        "reason": str(change.get_reason_display()),
        "amount": change.amount_minor,
        "is_ceiling": change.is_ceiling,
        "likely": likely,
        "days": change.days,
        "since_on": since.isoformat(),
    }
