"""The rows of the live workbook, as they lie in the tables, numbered so that sheets can name each other's rows.

Codes of people's own are no keys for a spreadsheet: it takes "007" for "7" and "L*" for anything that begins with L. So
every line, trade and invoice bears a number of its own in the workbook. What formulas will work out is worked out here
from the same rows, and never taken from the kept figures: the sheet of checks holds the two against each other.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Sum

from budget.models import Cause, Change, Invoice, InvoiceLine, LineItem, Movement, Payment, Trade, Transfer
from budget.selectors import billing, facts
from decisions.models import Decision
from decisions.selectors import book_entries
from projects.models import Project, TrailEntry
from units.sharing import share_out

#: How a line counts in the totals.
WORK, ASIDE, OFF = "work", "set aside", "taken off"
#: Rows that are fetched at a time.
_AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Line:
    """A line with its figures, worked out from the rows behind it, and its likely final as kept [project minor units]."""

    number: int
    pk: int
    code: str
    trade_number: int
    trade: str
    description: str
    kind: str
    counts: str
    state: str
    budget: int
    original: int | None
    agreed: int | None
    moved: int
    changes: int
    invoiced: int
    paid: int
    withheld: int
    movements: int
    kept: "Kept"

    @property
    def likely(self) -> int:
        return self.budget + self.movements

    @property
    def against(self) -> int | None:
        return None if self.original is None else self.likely - self.original


@dataclass(frozen=True, slots=True)
class Kept:
    """The figures kept beside a line [project minor units]."""

    likely: int
    changes: int
    invoiced: int
    withheld: int
    moved: int
    currency: int


@dataclass(frozen=True, slots=True)
class Plan:
    """Trades and lines, with the numbers that their rows bear: {primary key: number}."""

    trades: Mapping[int, tuple[int, str, str]]
    lines: tuple[Line, ...]
    by_pk: Mapping[int, Line]


@dataclass(frozen=True, slots=True)
class Moved:
    number: int
    on: date
    line: Line
    cause: str
    amount: int
    note: str
    reverses: int | None


@dataclass(frozen=True, slots=True)
class Billed:
    """An invoice with the sums of its lines, in its currency and, `_own`, in the project's [minor units]."""

    number: int
    name: str
    vendor: str
    kind: str
    state: str
    counts: bool
    invoiced_on: date
    due_on: date | None
    currency: str
    rate: Decimal
    net: int
    retention: int
    tax: int
    paid: int
    net_own: int
    paid_own: int

    @property
    def payable(self) -> int:
        return self.net - self.retention + self.tax


@dataclass(frozen=True, slots=True)
class BilledLine:
    """What an invoice bills on a line; `paid` is the line's share of what was paid on it [project minor units]."""

    invoice: int
    invoice_name: str
    line: Line
    change: str
    counts: bool
    currency: str
    net: int
    retention: int
    tax: int
    net_own: int
    retention_own: int
    cost: int
    exchange: int
    paid: int


@dataclass(frozen=True, slots=True)
class Paid:
    invoice: int
    invoice_name: str
    vendor: str
    on: date
    currency: str
    amount: int
    rate: Decimal
    amount_own: int
    exchange: int
    reference: str
    is_reversal: bool


@dataclass(frozen=True, slots=True)
class SavingRow:
    kind: str
    label: str
    what: str
    decision: str
    lines: tuple[str, ...]
    state: str
    counts: bool
    is_idea: bool
    promised: int
    realised: int
    cause: str


def mark(project: Project) -> int:
    """The newest row of the trail, which every deed writes: the same before and after means that nothing moved. Queries: 1."""
    return TrailEntry.objects.filter(project=project).order_by("-pk").values_list("pk", flat=True).first() or 0


def plan(project: Project) -> Plan:
    """Read trades and lines, also lines that were taken off. Queries: 14, whatever the number of rows."""
    trades = {
        pk: (number, code, name)
        for number, (pk, code, name) in enumerate(
            Trade.objects.filter(project=project).values_list("pk", "code", "name"), start=1
        )
    }
    sums = _Sums(project)
    rows = LineItem.objects.filter(project=project).order_by("trade__position", "trade__code", "position", "code")
    in_order = sorted(rows, key=lambda row: row.removed_on is not None)
    lines = tuple(_line(number, row, trades[row.trade_id], sums) for number, row in enumerate(in_order, start=1))
    return Plan(trades, lines, {line.pk: line for line in lines})


class _Sums:
    """By line, what the rows of other tables come to [project minor units]."""

    def __init__(self, project: Project) -> None:
        self.movements = _by_line(Movement.objects.filter(project=project))
        self.changes = _by_line(Change.objects.filter(project=project, state=Change.State.AGREED))
        self.moved = facts.moved(project)
        self.invoiced = billing.billed(project).invoiced
        self.withheld = billing.withheld(project)
        self.paid: dict[int, int] = defaultdict(int)
        for (line, _invoice, _row), amount in paid_shares(project).items():
            self.paid[line] += amount


def _by_line(rows: Any) -> dict[int, int]:
    return dict(rows.values_list("line_id").annotate(total=Sum("amount_minor")).order_by())


def _line(number: int, row: LineItem, trade: tuple[int, str, str], sums: _Sums) -> Line:
    counts = OFF if row.removed_on else ASIDE if row.kind == LineItem.Kind.CONTINGENCY else WORK
    return Line(
        number=number, pk=row.pk, code=row.code, trade_number=trade[0], trade=f"{trade[1]} {trade[2]}",
        description=row.description, kind=row.kind, counts=counts, state=row.state,
        budget=row.budget_minor, original=row.original_minor, agreed=row.agreed_minor,
        moved=sums.moved.get(row.pk, 0), changes=sums.changes.get(row.pk, 0), invoiced=sums.invoiced.get(row.pk, 0),
        paid=sums.paid.get(row.pk, 0), withheld=sums.withheld.get(row.pk, 0), movements=sums.movements.get(row.pk, 0),
        kept=Kept(
            row.likely_minor, row.changes_minor, row.invoiced_minor, row.retention_minor, row.moved_minor, row.currency_minor
        ),
    )  # fmt: skip


def paid_shares(project: Project) -> dict[tuple[int, int, int], int]:
    """Share out what was paid on each invoice over its lines, by what falls to be paid of each.

    Returns: {(line, invoice, row of the invoice): amount with its tax [project minor units]}. Queries: 2.
    """
    paid = dict(
        Payment.objects.filter(invoice__project=project)
        .values_list("invoice_id")
        .annotate(total=Sum("amount_minor"))
        .order_by()
    )
    rows: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    if paid:
        billed = InvoiceLine.objects.filter(invoice__project=project).order_by("pk")
        for pk, invoice, line, net, tax, retention in billed.values_list(
            "pk", "invoice_id", "line_id", "net_quoted_minor", "tax_quoted_minor", "retention_quoted_minor"
        ):
            rows[invoice].append((line, pk, abs(net + tax - retention)))
    return {
        (line, invoice, pk): share
        for invoice, total in paid.items()
        for (line, pk, _weight), share in zip(rows[invoice], _shared(total, rows[invoice]), strict=True)
    }


def _shared(total: int, rows: list[tuple[int, int, int]]) -> tuple[int, ...]:
    if len(rows) == 1:
        return (total,)
    weights = [weight for _line, _pk, weight in rows]
    return tuple(share_out(total, weights if any(weights) else [1] * len(weights)))


def movements(project: Project, seen: Plan) -> Iterator[Moved]:
    """Read the ledger, row after row in the order it was written. Queries: 1."""
    rows = Movement.objects.filter(project=project).order_by("pk")
    numbers: dict[int, int] = {}
    for number, (pk, on, line, cause, amount, note, reverses) in enumerate(
        rows.values_list("pk", "occurred_on", "line_id", "cause", "amount_minor", "note", "reverses_id").iterator(
            _AT_ONCE
        ),
        start=1,
    ):
        numbers[pk] = number
        yield Moved(number, on, seen.by_pk[line], cause, amount, note, numbers.get(reverses))


def currency_moved(project: Project) -> int:
    """What exchange rates moved in all, by the ledger [project minor units]. Queries: 1."""
    rows = Movement.objects.filter(project=project, cause=Cause.CURRENCY)
    return rows.aggregate(total=Sum("amount_minor", default=0))["total"]


def transfers(project: Project) -> Any:
    """Budget that was moved, with its lines, in the order it was entered. Queries: 1."""
    return Transfer.objects.filter(project=project).select_related("change").order_by("pk").iterator(_AT_ONCE)


def changes(project: Project) -> Any:
    """Every change, whatever became of it, in the order of the days they were raised. Queries: 1."""
    return Change.objects.filter(project=project).order_by("raised_on", "pk").iterator(_AT_ONCE)


def invoices(project: Project) -> Iterator[tuple[int, Billed]]:
    """Read every invoice and credit note with what was billed and paid on it. Queries: 2.

    Returns: primary key and row, in the order of their dates.
    """
    paid = {
        pk: (quoted, own)
        for pk, quoted, own in Payment.objects.filter(invoice__project=project)
        .values_list("invoice_id")
        .annotate(quoted=Sum("amount_quoted_minor"), own=Sum("amount_minor"))
        .order_by()
    }
    rows = (
        Invoice.objects.filter(project=project)
        .annotate(
            net=Sum("lines__net_quoted_minor", default=0),
            retention=Sum("lines__retention_quoted_minor", default=0),
            tax=Sum("lines__tax_quoted_minor", default=0),
            net_own=Sum("lines__net_minor", default=0),
        )
        .order_by("invoiced_on", "pk")
        .values_list(
            "pk", "number", "vendor__name", "kind", "state", "invoiced_on", "due_on", "currency", "rate",
            "net", "retention", "tax", "net_own",
        )
    )  # fmt: skip
    for number, (pk, name, vendor, kind, state, on, due, currency, rate, net, retention, tax, net_own) in enumerate(
        rows.iterator(_AT_ONCE), start=1
    ):
        quoted, own = paid.get(pk, (0, 0))
        yield pk, Billed(
            number=number, name=name, vendor=vendor, kind=kind, state=state, counts=state in billing.COUNTED,
            invoiced_on=on, due_on=due, currency=currency, rate=rate, net=net, retention=retention, tax=tax,
            paid=quoted, net_own=net_own, paid_own=own,
        )  # fmt: skip


def billed_lines(project: Project, seen: Plan, numbers: Mapping[int, int]) -> Iterator[BilledLine]:
    """Read what every invoice bills on its lines. Queries: 5.

    Args:
        numbers: the number of each invoice's row.
    """
    exchange, shares = billing.exchange_of_payments(project), paid_shares(project)
    rows = InvoiceLine.objects.filter(invoice__project=project).order_by("invoice__invoiced_on", "invoice_id", "pk")
    for pk, invoice, name, state, currency, line, change, net, tax, retention, net_own, cost, retention_own in rows.values_list(
        "pk", "invoice_id", "invoice__number", "invoice__state", "invoice__currency", "line_id", "change__code",
        "net_quoted_minor", "tax_quoted_minor", "retention_quoted_minor", "net_minor", "cost_minor", "retention_minor",
    ).iterator(_AT_ONCE):  # fmt: skip
        yield BilledLine(
            invoice=numbers[invoice], invoice_name=name, line=seen.by_pk[line], change=change or "",
            counts=state in billing.COUNTED, currency=currency, net=net, retention=retention, tax=tax, net_own=net_own,
            retention_own=retention_own, cost=cost, paid=shares.get((line, invoice, pk), 0),
            # Two rows of one invoice on one line share one sum; the first bears it.
            exchange=exchange.pop((line, invoice), 0),
        )  # fmt: skip


def payments(project: Project, numbers: Mapping[int, int]) -> Iterator[Paid]:
    """Read every payment and what took one back, in the order they were entered. Queries: 1."""
    rows = Payment.objects.filter(invoice__project=project).order_by("pk")
    for row in rows.values_list(
        "invoice_id", "invoice__number", "invoice__vendor__name", "paid_on", "invoice__currency", "amount_quoted_minor",
        "rate", "amount_minor", "exchange_minor", "reference", "reverses_id",
    ).iterator(_AT_ONCE):  # fmt: skip
        yield Paid(numbers[row[0]], *row[1:10], is_reversal=row[10] is not None)


def savings(book: book_entries.Book, project: Project) -> Iterator[SavingRow]:
    """The entries of the savings book. Queries: 1."""
    codes = dict(Decision.objects.filter(project=project).values_list("pk", "code"))
    for entry in book.entries:
        yield SavingRow(
            kind=entry.kind, label=entry.label, what=entry.what,
            decision=codes.get(entry.decision, "") if entry.decision else "",
            lines=tuple(book.lines[line].code for line in entry.lines if line in book.lines),
            state=entry.state, counts=entry.counted, is_idea=entry.is_idea, promised=entry.amount_minor,
            realised=entry.realised_minor, cause=entry.cause,
        )  # fmt: skip
