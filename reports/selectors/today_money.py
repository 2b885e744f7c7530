"""What of changes, invoices and the money at hand waits for somebody."""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from budget.models import Invoice
from budget.selectors import abroad, cash, changes, invoices, reserve
from projects import display
from projects.access import Door
from reports.selectors.matters import Matter

SOON = timedelta(days=14)
#: What the cover of the contingency is called by where it does not suffice.
THIN = ("amber", "red")


def matters(door: Door) -> dict[str, list[Matter]]:
    """Read what of the money needs a person, by sort.

    Returns: {"mine": what waits for this person; "change", "billed", "queried", "flag", "due", "pot", "short", "held",
    "away"}, each in no order; sorts may be empty. Queries: about 60, whatever the size of the project.
    """
    queue = invoices.queue(door.project, door.today)
    waiting = changes.listing(door.project, role=door.role, today=door.today).waiting
    to_approve = [_bill(row, door) for row in queue if row.invoice.state == Invoice.State.WAITING]
    out = cash.outlook(door.project, today=door.today)
    return {
        "mine": [_change(row) for row in waiting if row.mine] + (to_approve if door.may_commit else []),
        "change": [_change(row) for row in waiting if not row.mine],
        "billed": [] if door.may_commit else to_approve,
        "queried": [_bill(row, door, "queried") for row in queue if row.queried],
        "flag": [_bill(row, door, "flag") for row in invoices.flags(door.project, door.today)],
        "due": list(_due(queue, door)),
        "pot": list(_thin_pot(door)),
        "short": list(_short(out, door)),
        "held": list(_retention(out, door.today)),
        "away": list(_away(door)),
    }


def _change(row: changes.ChangeRow) -> Matter:
    return Matter(
        "change",
        None,
        abs(row.change.amount_minor),
        change=row,
        line=str(row.change.line),
        on=row.since,
        names=row.names,
    )


def _bill(row: invoices.Row, door: Door, kind: str = "bill") -> Matter:
    amount = abs(row.open_minor or row.invoice.payable_quoted_minor)
    return Matter(kind, None, amount, bill=row, on=row.invoice.invoiced_on, priced=_priced(row, door))


def _priced(row: invoices.Row, door: Door) -> display.InCurrency:
    return display.InCurrency(row.invoice.currency, door.project.locale)


def _due(queue: Iterable[invoices.Row], door: Door) -> Iterator[Matter]:
    """Approved invoices that fall due within two weeks, or did."""
    today = door.today
    for row in queue:
        due = cash.falls_due(row.invoice)
        if row.approved and row.open_minor > 0 and due <= today + SOON:
            yield Matter("due", (due - today).days, row.open_minor, bill=row, on=due, priced=_priced(row, door))


def _thin_pot(door: Door) -> Iterator[Matter]:
    seen = reserve.reserve(door.project, today=door.today)
    if seen is not None and seen.cover.signal in THIN:
        yield Matter("pot", None, seen.left, other=seen.cover.signal, other_minor=seen.open)


def _short(out: cash.Outlook, door: Door) -> Iterator[Matter]:
    """The month from which the money in hand does not pay what goes out, and more than all funds is needed."""
    room = out.funds.funds.room_minor
    if out.funds.rows and room < 0:
        yield Matter("short", None, -room)
    elif out.funds.rows and out.short_from is not None:
        first = max(out.short_from.first, door.today)
        yield Matter("draw", (first - door.today).days, out.funds.funds.undrawn_minor, on=first)


def _retention(out: cash.Outlook, today: date) -> Iterator[Matter]:
    for row in out.retained:
        due = row.next_due
        if row.held_minor > 0 and due is not None and due.due_on is not None and due.due_on <= today + SOON:
            yield Matter(
                "held", (due.due_on - today).days, row.in_project(due.amount_minor), vendor=row.vendor, line=due.name, on=due.due_on
            )  # fmt: skip


def _away(door: Door) -> Iterator[Matter]:
    """What is paid for goods that are not on the site yet."""
    for row in abroad.not_on_site(door.project).rows:
        if row.exposed_minor:
            yield Matter("away", None, row.exposed_minor, vendor=str(row.agreement.vendor), names=row.lines)
