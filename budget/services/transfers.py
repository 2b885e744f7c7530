"""Budget moved from one line to another: drawn from the contingency, given back to it, shifted between lines.

A transfer moves budget, not cost (ADR 0106): the total of the budgets stays, the line that is paid for keeps its likely
final, and the contingency's follows at once. Who may draw, and for what, is in ADR 0125.
"""

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from budget.models import Change, LineItem, Transfer
from budget.selectors import facts
from projects import display
from projects.faults import Refused
from projects.models import Project, User

CONTINGENCY = LineItem.Kind.CONTINGENCY


@dataclass(frozen=True, slots=True)
class Purse:
    """A line and what budget it holds as moved [project minor units]."""

    line: LineItem
    held_minor: int


def purses(project: Project, lines: Collection[LineItem]) -> list[Purse]:
    """What budget some lines hold: the first budget and what was moved, from the transfers themselves. Queries: 2."""
    moved = facts.moved(project, [line.pk for line in lines])
    return [Purse(line, line.budget_minor + moved.get(line.pk, 0)) for line in lines]


def enter_draw(change: Change, *, by: User | None, now: datetime, on: date) -> set[int]:
    """Write the rows that pay an agreed change from the contingency; the caller settles the lines.

    The contingency of the change's own trade is drawn first, then the others in the order of the budget. A change that
    costs nothing draws nothing. Returns: the lines touched, none where nothing was drawn.
    Raises: Refused for an owner's wish, and when less is left than the change costs.
    """
    if change.reason == Change.Reason.WISH:
        raise Refused(
            _("An owner\u2019s wish is never paid from the contingency; choose an owner\u2019s addition."),
            field="paid_from",
        )
    if change.amount_minor <= 0:
        return set()
    rows = [
        _row(
            change.project, purse.line, change.line, amount, cause=Transfer.Cause.DRAW, reason=str(change), by=by,
            now=now, on=on, change=change, need=change.reason,
        )
        for purse, amount in _drawn_from(change)
    ]  # fmt: skip
    Transfer.objects.bulk_create(rows)
    return _touched(rows)


def _drawn_from(change: Change) -> Iterator[tuple[Purse, int]]:
    """The contingency lines that pay a change, and how much each pays."""
    project, wanted = change.project, change.amount_minor
    found = purses(project, list(_aside(project)))
    _must_hold(project, found, wanted)
    for purse in sorted(found, key=lambda one: one.line.trade_id != change.line.trade_id):
        amount = min(wanted, purse.held_minor)
        if amount > 0:
            wanted -= amount
            yield purse, amount


def _aside(project: Project) -> QuerySet:
    return LineItem.objects.filter(project=project, kind=CONTINGENCY, removed_on=None, closed_on=None)


def _must_hold(project: Project, found: Collection[Purse], wanted: int) -> None:
    if not found:
        raise Refused(
            _("This budget has no contingency line to draw on; choose who else pays, or add a contingency line first."),
            field="paid_from",
        )
    left = sum(max(0, purse.held_minor) for purse in found)
    if left < wanted:
        raise Refused(
            _("Only %(left)s is left of the contingency; choose who else pays, or move budget into it first.")
            % {"left": display.money(left, project, brief=True)},
            field="paid_from",
        )


def enter_undo(change: Change, *, by: User | None, now: datetime, on: date) -> set[int]:
    """Write the rows that give back what was drawn for a change; the caller settles the lines.

    Safe to repeat: what was given back already is left alone. Returns: the lines touched.
    Raises: Refused where the change's line has given budget back since, which would then be paid in twice.
    """
    drawn = list(_standing(change.project).filter(change=change, cause=Transfer.Cause.DRAW))
    if drawn:
        _must_not_have_given_back(change.line)
    rows = [_reversal(row, reason=str(change), by=by, now=now, on=on) for row in drawn]
    Transfer.objects.bulk_create(rows)
    return _touched(rows)


def _standing(project: Project) -> QuerySet:
    rows = Transfer.objects.filter(project=project, reverses=None, reversal=None)
    return rows.select_related("project", "from_line", "to_line").order_by("pk")


def _must_not_have_given_back(line: LineItem) -> None:
    if _standing(line.project).filter(from_line=line, cause=Transfer.Cause.RETURN).exists():
        raise Refused(_("%s has given budget back to the contingency since; take that back first.") % line)


def _row(
    project: Project, from_line: LineItem, to_line: LineItem, amount: int, *, cause: str, reason: str, by: User | None, now: datetime,
    on: date, change: Change | None = None, need: str = "", reverses: Transfer | None = None,
) -> Transfer:  # fmt: skip
    return Transfer(
        project=project, from_line=from_line, to_line=to_line, amount_minor=amount, cause=cause, change=change, need=need,
        reason=reason[:300], moved_on=on, approved_by=by, approved_by_name=by.called if by else "", entered_at=now, entered_by=by,
        reverses=reverses,
    )  # fmt: skip


def _reversal(row: Transfer, *, reason: str, by: User | None, now: datetime, on: date) -> Transfer:
    return _row(
        row.project, row.to_line, row.from_line, row.amount_minor, cause=row.cause, reason=reason, by=by, now=now, on=on,
        change=row.change, need=row.need, reverses=row,
    )  # fmt: skip


def _touched(rows: Collection[Transfer]) -> set[int]:
    return {pk for row in rows for pk in (row.from_line_id, row.to_line_id)}
