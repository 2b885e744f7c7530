"""The owners' page as plain values: where the money stands, what was decided, what is asked, what changed.

The page, the link, the PDF and an issued report are all drawn from the same content, so that what was seen is what is
kept. It holds whole minor units, dates as text, and words as they were on the day.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from django.db.models import F, Q, Window
from django.db.models.functions import RowNumber
from django.utils.translation import gettext as _

from budget.models import LineItem
from budget.selectors import overview
from decisions.selectors import overview as choices
from decisions.selectors import savings
from projects.models import Project
from reports.models import IssuedReport
from reports.selectors import owners_money, owners_plan, owners_work, since

Content = dict[str, Any]
#: What reports did not tell that were issued before the page told it.
NOT_YET: Content = {
    "reserve": None, "funds": None, "weeks": [], "changes": [], "opening": None, "covering": [], "orders": [], "gone_over": [],
}  # fmt: skip
#: So many lines are named as the largest over, and as many as the largest saved.
LARGEST = 3


def content(project: Project, *, on: date, last: IssuedReport | None) -> Content:
    """Read everything the owners' page tells.

    Args:
        last: the report issued last, or None.
    Returns: values that JSON holds as they are. Queries: 12, 1 more where there is a last report, up to 4 more where
        something is let in another currency, and those of `owners_money`, `owners_plan` and `owners_work`.
    """
    seen, book, recorded = overview.overview(project), savings.book(project), choices.recorded(project)
    opening = owners_plan.opening(project)
    return {
        "project": _project(project),
        "on": on.isoformat(),
        "total": asdict(seen.total),
        "bridge": [asdict(step) for step in seen.bridge],
        "reason": _reason(seen),
        "contingency": asdict(seen.contingency) if seen.contingency else None,
        "savings": asdict(book),
        "trades": [_trade(row) for row in seen.trades],
        **_largest(project),
        "asked": [_recorded(row) for row in recorded if row.taken_on is None],
        "taken": [_taken(row) for row in recorded if row.taken_on is not None],
        "since": since.changes(project, seen, last) | {"opening": owners_plan.moved(opening, last)} if last else None,
        "opening": opening,
        **(owners_work.content(project, on=on) if opening else owners_work.NOTHING),
        **owners_money.content(project, on=on),
    }


def _project(project: Project) -> Content:
    return {
        "name": project.name,
        "currency": project.currency,
        "locale": project.locale,
        "opens_on": project.opens_on.isoformat() if project.opens_on else None,
        "cost_of_day_minor": project.cost_of_day_minor,
    }


def _trade(row: overview.TradeFigures) -> Content:
    return {"code": row.code, "name": row.name, **asdict(row.figures)}


def _reason(seen: overview.Overview) -> Content | None:
    """The cause that did most to bring the likely final where it is; None where nothing moved that way."""
    gap = seen.total.over_budget
    same_way = [step for step in seen.bridge if (step.amount > 0) == (gap > 0)]
    most = max(same_way, key=lambda step: abs(step.amount), default=None)
    return {"label": most.label, "amount": most.amount} if gap and most else None


def _largest(project: Project) -> Content:
    """The lines that stand furthest over their budget, and furthest under their original quote. Queries: 1."""
    rows = (
        LineItem.objects.filter(project=project, removed_on=None)
        .exclude(kind=LineItem.Kind.CONTINGENCY)
        .annotate(over=F("likely_minor") - F("budget_minor"), extra=F("likely_minor") - F("original_minor"))
        .annotate(
            place_over=Window(RowNumber(), order_by=[F("over").desc(), F("position").asc()]),
            place_saved=Window(RowNumber(), order_by=[F("extra").asc(nulls_last=True), F("position").asc()]),
        )
        .filter(Q(place_over__lte=LARGEST) | Q(place_saved__lte=LARGEST))
        .values("code", "description", "budget_minor", "original_minor", "likely_minor", "over", "extra",
                "place_over", "place_saved")
    )  # fmt: skip
    found = list(rows)
    over = [row for row in found if row["place_over"] <= LARGEST and row["over"] > 0]
    saved = [row for row in found if row["place_saved"] <= LARGEST and (row["extra"] or 0) < 0]
    return {
        "over": [_line(row) for row in sorted(over, key=lambda row: row["place_over"])],
        "saved": [_line(row) for row in sorted(saved, key=lambda row: row["place_saved"])],
    }


def _line(row: Mapping[str, Any]) -> Content:
    return {name: row[name] for name in row if not name.startswith("place_")}


def _recorded(row: choices.TakenRow) -> Content:
    """What a waiting and a taken decision both tell; the yardsticks as on every page: above zero is over."""
    frozen = json.loads(row.record.frozen)
    return {
        "id": row.decision.pk,
        "code": row.decision.code,
        "title": row.decision.title,
        "option": str(row.option),
        "reason": row.record.reason,
        "decided_on": row.record.decided_on.isoformat(),
        "by": row.record.recorded_by.called if row.record.recorded_by else "",
        "price_minor": row.price_minor,
        "against_original_minor": row.against_original_minor,
        "over_minor": row.over_minor,
        "rejected": _rejected(frozen),
        "overruled": frozen["choice"]["overruled"],
    }


def _taken(row: choices.TakenRow) -> Content:
    approval = getattr(row.record, "approval", None)
    return _recorded(row) | {
        "taken_on": row.taken_on.isoformat() if row.taken_on else None,
        "approved_by": approval.given_by_name if approval else "",
    }


def _rejected(frozen: Mapping[str, Any]) -> Content | None:
    """The cheapest of the options that were not taken, by expected total, and the checks it fails."""
    chosen = next(o for o in frozen["options"] if o["key"] == frozen["choice"]["option"])
    others = [option for option in frozen["options"] if option is not chosen]
    if not others:
        return None
    lowest = min(others, key=_total)
    return {
        "name": f"{lowest['key']} {lowest['name']}",
        "dearer_minor": _total(lowest) - _total(chosen),
        "fails": [check["name"] for check in lowest["checks"] if check["verdict"] == "fails"],
    }


def _total(option: Mapping[str, Any]) -> int:
    return option["outcome"]["expected_total_minor"]


def for_page(content: Mapping[str, Any]) -> Content:
    """Read a content for a page, with what was saved signed as on every page: below zero is saved."""
    saved, page = content["savings"]["counted_minor"], NOT_YET | shown(content)
    asks = len(page["asked"]) + len(page["changes"])
    return page | {"saved": -saved, "saved_size": abs(saved), "saved_lines": page["saved"], "asks": asks}


def bridge_steps(page: Mapping[str, Any]) -> list[tuple[str, int, int]]:
    """The bridge of a content, as the picture takes it: the first budget, the causes, the likely final."""
    total = page["total"]
    causes = [(step["label"], step["amount"], step["running"]) for step in page["bridge"]]
    first, last = (
        (_("first budget"), total["budget"], total["budget"]),
        (_("likely final"), total["likely"], total["likely"]),
    )
    return [first, *causes, last]


def shown(value: Any, name: str = "") -> Any:
    """Read a content for a page: texts under "on", or a name that ends in "_on", become dates again."""
    if isinstance(value, Mapping):
        return {key: shown(part, key) for key, part in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [shown(part) for part in value]
    is_date = isinstance(value, str) and (name == "on" or name.endswith("_on"))
    return date.fromisoformat(value) if is_date else value
