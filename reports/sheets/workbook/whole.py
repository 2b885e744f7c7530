"""Every sheet of the live workbook, written from one reading of the project."""

from collections.abc import Iterable, Iterator
from datetime import date

from budget.selectors import overview, pot, retained
from decisions.calc import savings_book
from decisions.selectors import book_entries
from projects.models import Project
from reports.selectors import workbook as rows
from reports.sheets.workbook import bills, checks, plan, summary
from reports.sheets.workbook.book import Book

#: So often the project is read anew when somebody writes to it meanwhile.
_TRIES = 3


def as_workbook(project: Project, *, on: date) -> bytes:
    """Write the money of a project as one workbook with live formulas.

    Args:
        on: the project's date, for the first sheet.
    Returns: an .xlsx file, the same bytes for the same project and day. Where somebody writes meanwhile it is read
        anew, so that its sums belong together. Queries: about 45, whatever the number of rows.
    """
    for _time in range(_TRIES):
        before = rows.mark(project)
        data = _written(project, on)
        if rows.mark(project) == before:
            break
    return data


def _written(project: Project, on: date) -> bytes:
    # Long because it is the list of sheets: each is added in the order of the tabs, then written once what it needs is known.
    book, seen = Book(project, on), rows.plan(project)
    first, lines, ledger = summary.summary_sheet(book), plan.lines_sheet(book), plan.movements_sheet(book)
    changes, moved = plan.changes_sheet(book), plan.transfers_sheet(book)
    invoices, billed, paid = bills.invoices_sheet(book), bills.billed_sheet(book), bills.payments_sheet(book)
    retention, savings, last = bills.retention_sheet(book), plan.savings_sheet(book), checks.checks_sheet(book)

    plan.write_lines(lines, seen)
    plan.write_movements(ledger, rows.movements(project, seen))
    plan.write_changes(changes, rows.changes(project), seen)
    plan.write_transfers(moved, rows.transfers(project), seen)
    numbers, beyond = bills.write_invoices(invoices, rows.invoices(project))
    net = _Sum()
    bills.write_billed(billed, net.of_net(rows.billed_lines(project, seen, numbers)))
    total_paid = bills.write_payments(paid, rows.payments(project, numbers))
    held = retained.by_agreement(project)
    bills.write_retention(retention, held)
    entries = book_entries.read(project)
    plan.write_savings(savings, rows.savings(entries, project))

    told = summary.Told(
        seen=overview.overview(project),
        plan=seen,
        savings=savings_book.totals(entry.part for entry in entries.standing),
        paid=total_paid,
        withheld=sum(row.withheld_minor for row in held),
        released=sum(row.released_minor for row in held),
    )
    summary.write_summary(first, told)
    checks.write_checks(last, told, _extra(project, net.total, beyond))
    return book.close()


class _Sum:
    """Adds up the net amounts of rows as they go by."""

    def __init__(self) -> None:
        self.total = 0

    def of_net(self, billed: Iterable[rows.BilledLine]) -> Iterator[rows.BilledLine]:
        for row in billed:
            self.total += row.net_own
            yield row


def _extra(project: Project, net: int, beyond: int) -> checks.Extra:
    held = pot.pot(project)
    return checks.Extra(
        currency_moved=rows.currency_moved(project),
        billed_net=net,
        beyond=beyond,
        contingency_left=held.left if held else 0,
    )
