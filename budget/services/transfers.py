"""Budget moved from one line to another: drawn from the contingency, given back to it, shifted between lines.

A transfer moves budget, not cost (ADR 0106): the total of the budgets stays, the line that is paid for keeps its likely
final, and the contingency's follows at once. Who may draw, and for what, is in ADR 0125.
"""

from collections.abc import Collection, Iterator
from datetime import date, datetime

from django.db import transaction
from django.db.models import QuerySet
from django.utils.translation import gettext as _

from budget.calc.reserve import may_draw
from budget.models import Cause, Change, LineItem, Transfer
from budget.selectors.closing import Purse, purses, to_give
from budget.services.bounds import amount_within_bounds, columns_within_bounds
from budget.services.ledger import Deed, lock, settle
from projects import display, limits, trail
from projects.faults import Refused
from projects.models import Project, Role, User

CONTINGENCY = LineItem.Kind.CONTINGENCY


def enter_draw(change: Change, *, by: User | None, now: datetime, on: date) -> set[int]:
    """Write the rows that pay an agreed change from the contingency; the caller settles the lines.

    The contingency of the change's own trade is drawn first, then the others in the order of the budget. A change that
    costs nothing draws nothing. Returns: the lines touched, none where nothing was drawn.
    Raises: Refused for an owner's wish, and when less is left than the change costs.
    """
    if not may_draw(change.reason):
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


@transaction.atomic
def move(
    project: Project, *, from_line_id: int, to_line_id: int, amount_minor: int, reason: str, by: User, role: str, now: datetime,
    today: date, need: str = "",
) -> Transfer:  # fmt: skip
    """Move budget between two open lines, or out of the contingency.

    Args:
        need: what money is needed for that leaves a contingency; never an owner's wish. Not asked for any other move.
    Writes Transfer, perhaps movements `transfer`, and a trail row. Not safe to repeat: every call moves again.
    Raises: Refused, among others when it leaves the contingency above the limit of the role.
    """
    project = lock(project)
    source, target = _line(project, from_line_id, "from_line"), _line(project, to_line_id, "to_line")
    _must_be_open(source, target)
    if source.kind != CONTINGENCY:
        _must_stay_in_the_work(target, role)
    elif target.kind != CONTINGENCY:
        _must_be_needed(project, role, amount_minor, need)
    _must_be_there(project, source, amount_minor)
    leaves = need if source.kind == CONTINGENCY != target.kind else ""
    row = _row(
        project, source, target, amount_minor, cause=Transfer.Cause.SHIFT, reason=_said(reason), by=by, now=now, on=today, need=leaves
    )  # fmt: skip
    return _written(row, by=by, verb="moved", said=_("Moved %(amount)s from %(from)s to %(to)s: %(reason)s"))


def _line(project: Project, line_id: int, field: str) -> LineItem:
    found = LineItem.objects.filter(project=project, removed_on=None, pk=line_id).first()
    if found is None:
        raise Refused(_("There is no such line on the budget any more; choose one that is."), field=field)
    return found


def _must_be_open(source: LineItem, target: LineItem) -> None:
    if source.pk == target.pk:
        raise Refused(_("Choose another line than the one the budget comes from."), field="to_line")
    if source.closed_on is not None:
        raise Refused(
            _("%s is closed; what is left of it goes back to the contingency, from the line\u2019s own page.") % source,
            field="from_line",
        )
    if target.closed_on is not None:
        raise Refused(_("%s is closed; reopen it first, or choose another line.") % target, field="to_line")


def _must_stay_in_the_work(target: LineItem, role: str) -> None:
    if role != Role.LEAD:
        raise Refused(_("Only the lead moves budget between lines; an owner agrees to what leaves the contingency."))
    if target.kind == CONTINGENCY:
        raise Refused(
            _("What an open line seems to save stays with it: it returns to the contingency when the line is closed."),
            field="to_line",
        )


def _must_be_needed(project: Project, role: str, amount_minor: int, need: str) -> None:
    if need not in Change.Reason.values:
        raise Refused(
            _("Say what the money is needed for; nothing leaves the contingency without a cause."), field="need"
        )
    if not may_draw(need):
        raise Refused(
            _(
                "An owner\u2019s wish is never paid from the contingency; log it as a change that an owner adds money for."
            ),
            field="need",
        )
    if not limits.allows(project, role, amount_minor):
        raise Refused(
            _("This is above what your role may commit; ask an owner to move it, or move less."), field="amount"
        )


def _must_be_there(project: Project, source: LineItem, amount_minor: int) -> None:
    if amount_minor <= 0:
        raise Refused(_("Give an amount above zero."), field="amount")
    amount_within_bounds(amount_minor, project.currency, field="amount")
    held = max(0, purses(project, [source])[0].held_minor)
    if held < amount_minor:
        raise Refused(
            _("%(line)s holds %(held)s of budget; move that much at most.")
            % {"line": source, "held": display.money(held, project, brief=True)},
            field="amount",
        )


def _said(reason: str) -> str:
    if not reason.strip():
        raise Refused(_("Say why the budget moves; the owners see it."), field="reason")
    return reason.strip()


def _written(row: Transfer, *, by: User, verb: str, said: str) -> Transfer:
    """Save a transfer, settle its lines and tell the trail; `said` is a sentence with amount, from, to and reason."""
    columns_within_bounds(row)
    row.save()
    deed = Deed(by, row.entered_at, row.moved_on, Cause.TRANSFER, row.reason, "transfer", row.pk)
    settle(row.project, _touched([row]), deed)
    amount = display.money(row.amount_minor, row.project, brief=True)
    summary = said % {"amount": amount, "from": row.from_line, "to": row.to_line, "reason": row.reason}
    trail.note(row.project, by=by, at=row.entered_at, verb=verb, subject="transfer", subject_id=row.pk, summary=summary)
    return row


@transaction.atomic
def give_back(
    line: LineItem,
    *,
    amount_minor: int,
    reason: str,
    by: User,
    now: datetime,
    today: date,
    to_line_id: int | None = None,
) -> Transfer:
    """Give back to the contingency what a closed line has not needed of its budget.

    Args:
        to_line_id: which contingency; without it the one of the line's trade, else the first.
    Writes Transfer, a movement of the contingency, and a trail row. Not safe to repeat: every call gives back again.
    Raises: Refused when the line is not closed, or has less to give than is asked.
    """
    project = lock(line.project)
    source = _line(project, line.pk, "")
    most = _to_give(project, source)
    if amount_minor <= 0:
        raise Refused(_("Give an amount above zero."), field="amount")
    if most < amount_minor:
        raise Refused(
            _("%(line)s has %(most)s to give back: its budget as moved, less what it cost.")
            % {"line": source, "most": display.money(most, project, brief=True)},
            field="amount",
        )
    row = _row(
        project, source, _pot(source, to_line_id), amount_minor, cause=Transfer.Cause.RETURN, reason=_said(reason), by=by, now=now,
        on=today,
    )  # fmt: skip
    return _written(row, by=by, verb="gave back", said=_("Gave back %(amount)s from %(from)s to %(to)s: %(reason)s"))


def _to_give(project: Project, line: LineItem) -> int:
    if line.closed_on is None:
        raise Refused(_("%s is open; a saving returns to the contingency when its line is closed.") % line)
    return to_give(project, line)


def _pot(line: LineItem, wanted: int | None) -> LineItem:
    found = [pot for pot in _aside(line.project) if wanted in (None, pot.pk)]
    if not found:
        raise Refused(_("This budget has no contingency line to give back to; add one first."), field="to_line")
    return min(found, key=lambda pot: pot.trade_id != line.trade_id)


@transaction.atomic
def take_back(transfer: Transfer, *, reason: str, by: User, now: datetime, today: date) -> Transfer:
    """Let a transfer run the other way.

    What was drawn for a change is given back with the change, not here. Writes the reversing Transfer, perhaps
    movements `transfer`, and a trail row. A second call is refused.
    """
    project = lock(transfer.project)
    row = _standing(project).filter(pk=transfer.pk).first()
    if row is None:
        raise Refused(_("This move was taken back already."))
    if row.cause == Transfer.Cause.DRAW:
        raise Refused(_("This was drawn for %s; take the change up again, and the draw goes with it.") % row.change)
    _must_be_there(project, row.to_line, row.amount_minor)
    back = _reversal(row, reason=_said(reason), by=by, now=now, on=today)
    return _written(back, by=by, verb="took back", said=_("Took back %(amount)s from %(from)s to %(to)s: %(reason)s"))
