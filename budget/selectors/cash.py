"""What is still to be paid and when, and whether the money is there by then (ADR 0124).

Everything that a line will still cost has one of four sources: invoices that are entered and not paid, retention that is
held, payment stages that are agreed and not yet billed, and the rest, of which no day is known: it goes with the dates of the
line's work where there are any (ADR 0407). Together they are the likely final less what was paid, to the cent: the months
of the picture add up to the cost to complete.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from django.db.models import F, Sum
from django.utils.translation import gettext as _

from budget.calc import cash as rules
from budget.calc.cash import Funds, Month, Planned, Source, Week
from budget.calc.retention import due_on, months_after
from budget.models import FundingReceipt, FundingSource, Invoice, InvoiceLine, LineItem, RetentionRelease
from budget.selectors import due_stages, open_cost, retained, work_dates
from budget.selectors.belonging import Belonging, belonging
from budget.selectors.billing import COUNTED, rates_of_today
from budget.selectors.retained import Retained
from projects.models import Project
from units.money import convert, round_ratio

#: When an invoice without a date falls due [calendar days after its own]; common practice, no source.
TERM_DAYS = 30
#: Over how many months what has no day is spread where the project has no opening date; our rule.
MONTHS_WITHOUT_OPENING = 12
WEEKS = 8


@dataclass(frozen=True, slots=True)
class Outgoing(Planned):
    """An amount that is still to be paid, as it leaves the bank: `amount_minor` with all its tax.

    `cost_minor` is what of it the project bears: without the tax that it gets back [project minor units].
    """

    cost_minor: int = 0
    overdue: bool = False
    invoice_id: int | None = None
    agreement_id: int | None = None
    approved: bool = False
    currency: str = ""
    open_quoted_minor: int = 0


@dataclass(frozen=True, slots=True)
class FundingRow:
    """One source of money, what came in of it, and the receipts, newest first [project minor units]."""

    source: FundingSource
    received: int
    receipts: tuple[FundingReceipt, ...]

    @property
    def left(self) -> int:
        return max(0, self.source.amount_minor - self.received)


@dataclass(frozen=True, slots=True)
class FundsFacts:
    """Money against what is still to be paid [project minor units].

    `likely` is the likely final of the works, without the contingency; `paid` is without the tax that comes back; `risk`
    is what the open risks cost on average, `spread` how far lines without a firm price may still go.
    """

    rows: tuple[FundingRow, ...]
    likely: int
    paid: int
    funds: Funds
    risk: int
    spread: int

    @property
    def promised(self) -> int:
        return sum(row.source.amount_minor for row in self.rows)

    @property
    def received(self) -> int:
        return sum(row.received for row in self.rows)

    @property
    def has_receipts(self) -> bool:
        return any(row.receipts for row in self.rows)

    @property
    def to_complete(self) -> int:
        return self.likely - self.paid

    @property
    def room_after_risk(self) -> int:
        return self.funds.room_minor - self.risk

    @property
    def room_at_worst(self) -> int:
        """What is left when the risks cost what they do on average and every open price ends at its highest."""
        return self.room_after_risk - self.spread


@dataclass(frozen=True, slots=True)
class Given:
    """A release of retention, to whom, and in which currency."""

    vendor: str
    currency: str
    release: RetentionRelease

    @property
    def amount_quoted_minor(self) -> int:
        return self.release.amount_quoted_minor


@dataclass(frozen=True, slots=True)
class Outlook:
    """What goes out, by name and by month, and the money for it [project minor units].

    `rest` has no day; `rest_dated` is what of it is laid out over the dates of `dated_lines` lines' work.
    """

    outgoing: tuple[Outgoing, ...]
    retained: tuple[Retained, ...]
    rest: int
    rest_lines: int
    rest_dated: int
    dated_lines: int
    spread_until: date
    months: tuple[Month, ...]
    weeks: tuple[Week, ...]
    funds: FundsFacts
    short_from: Month | None
    approved_unpaid: int
    due_in_weeks: int

    @property
    def held(self) -> int:
        """All retention that is held."""
        return sum(row.held_minor for row in self.retained)

    @property
    def released(self) -> tuple[Given, ...]:
        """Every release and every reversal of one, the newest first."""
        rows = [Given(row.vendor, row.currency, each) for row in self.retained for each in row.releases]
        return tuple(sorted(rows, key=lambda row: (row.release.released_on, row.release.pk), reverse=True))

    @property
    def overdue(self) -> int:
        return sum(row.amount_minor for row in self.outgoing if row.overdue)


@dataclass(frozen=True, slots=True)
class _Line:
    """What of a line is kept [project minor units]."""

    name: str
    likely: int
    invoiced: int
    retention: int


def outlook(project: Project, *, today: date) -> Outlook:
    """Read what is still to be paid and the money for it.

    Contingency lines and lines that were taken off the budget are left out, and so is what a queried invoice asks.
    Queries: 14, whatever the number of lines, up to 2 more where invoices or stages are open, and those of `work_dates`.
    """
    belongs, lines = belonging(project), _lines(project)
    invoices = _open_invoices(project, today)
    kept = retained.by_agreement(project, belongs)
    rest = {pk: line.likely - line.invoiced for pk, line in lines.items()}
    stages = _stages(project, belongs, rest, today)
    outgoing = (*invoices, *stages, *_retention(kept, today))
    left = sum(rest.values())
    dated = _dated(lines, rest, work_dates.spans(project, today=today))
    until = project.opens_on or months_after(today, MONTHS_WITHOUT_OPENING)
    funds = _funds(project, lines, invoices, kept, today)
    months = rules.by_month(_costs(outgoing, dated, left), start=today, end=until)
    weeks = rules.next_weeks(outgoing, today=today, weeks=WEEKS)
    return Outlook(
        outgoing=outgoing,
        retained=kept,
        rest=left,
        rest_lines=sum(1 for amount in rest.values() if amount),
        rest_dated=sum(row.amount_minor for row in dated),
        dated_lines=len(dated),
        spread_until=max(today, until),
        months=months,
        weeks=weeks,
        funds=funds,
        short_from=rules.short_from(months, funds.funds.in_hand_minor),
        approved_unpaid=sum(row.amount_minor for row in invoices if row.approved),
        due_in_weeks=sum(week.total_minor for week in weeks),
    )


def by_month(project: Project, *, today: date) -> tuple[Month, ...]:
    """What goes out month by month, without the tax that comes back; in all the cost to complete. Queries: as `outlook`."""
    return outlook(project, today=today).months


def next_weeks(project: Project, *, today: date) -> tuple[Week, ...]:
    """What falls due in the next eight weeks, by name, as it leaves the bank. Queries: as `outlook`."""
    return outlook(project, today=today).weeks


def funds(project: Project, *, today: date) -> FundsFacts:
    """Money promised and received against what is still to be paid. Queries: 12, and one where invoices are open."""
    kept = retained.by_agreement(project)
    return _funds(project, _lines(project), _open_invoices(project, today), kept, today)


# --- the four sources -------------------------------------------------------------------------------------------


def _lines(project: Project) -> dict[int, _Line]:
    rows = LineItem.objects.filter(project=project, removed_on=None).exclude(kind=LineItem.Kind.CONTINGENCY)
    found = rows.values_list("pk", "code", "description", "likely_minor", "invoiced_minor", "retention_minor")
    return {pk: _Line(f"{code} {text}", likely, *kept) for pk, code, text, likely, *kept in found}


def _open_invoices(project: Project, today: date) -> tuple[Outgoing, ...]:
    """Counted invoices and credit notes that are not paid in full."""
    rows = Invoice.objects.filter(project=project, state__in=COUNTED).select_related("vendor")
    unpaid = list(rows.exclude(paid_quoted_minor=F("payable_quoted_minor")).order_by("due_on", "pk"))
    costs = _costs_of(unpaid)
    return tuple(_open_invoice(project, invoice, costs.get(invoice.pk, 0), today) for invoice in unpaid)


def _costs_of(invoices: Iterable[Invoice]) -> dict[int, int]:
    """What each invoice costs the project, less its retention [project minor units]."""
    ids = [invoice.pk for invoice in invoices]
    if not ids:
        return {}
    rows = InvoiceLine.objects.filter(invoice_id__in=ids).values_list("invoice_id").order_by()
    return dict(rows.annotate(cost=Sum(F("cost_minor") - F("retention_minor"))))


def falls_due(invoice: Invoice) -> date:
    """The day an invoice is to be paid by: its own, else the usual term after its date."""
    return invoice.due_on or due_on(invoice.invoiced_on, TERM_DAYS)


def _open_invoice(project: Project, invoice: Invoice, cost: int, today: date) -> Outgoing:
    left = invoice.payable_quoted_minor - invoice.paid_quoted_minor
    to_pay = convert(left, from_currency=invoice.currency, to_currency=project.currency, rate=invoice.rate)
    on = falls_due(invoice)
    return Outgoing(
        name=str(invoice),
        kind="invoice",
        amount_minor=to_pay,
        on=on,
        cost_minor=_share(cost, left, invoice.payable_quoted_minor),
        overdue=on < today and left > 0,
        invoice_id=invoice.pk,
        approved=invoice.state == Invoice.State.APPROVED,
        currency=invoice.currency,
        open_quoted_minor=left,
    )


def _share(whole: int, part: int, of: int) -> int:
    """The share of a whole that goes with a part of another; the sign of both sides is the same for a credit."""
    if of == 0:
        return 0
    ratio = Fraction(part, of) * whole
    return round_ratio(ratio.numerator, ratio.denominator)


def _retention(kept: Iterable[Retained], today: date) -> list[Outgoing]:
    found = []
    for row in kept:
        for due in row.planned():
            if due.amount_minor:
                overdue = due.due_on is not None and due.due_on < today
                name = _("%(vendor)s, %(stage)s") % {"vendor": row.vendor, "stage": due.name}
                found.append(
                    Outgoing(
                        name=name,
                        kind="retention",
                        amount_minor=due.amount_minor,
                        on=due.due_on,
                        cost_minor=due.amount_minor,
                        overdue=overdue,
                        agreement_id=row.agreement_id,
                    )
                )
    return found


def _stages(project: Project, belongs: Belonging, rest: dict[int, int], today: date) -> list[Outgoing]:
    """Stages with a day that are not billed yet; what they take is taken off the rest of their lines."""
    open_stages = due_stages.unbilled(project, belongs)
    rates = rates_of_today(project) if open_stages else {}
    found = []
    for stage in open_stages:
        quote = belongs.agreements[stage.agreement_id].quote
        rate = rates.get(quote.currency, quote.rate)
        minor = convert(
            stage.amount_quoted_minor, from_currency=quote.currency, to_currency=project.currency, rate=rate
        )
        taken = _take(rest, [row.line_id for row in belongs.lines[stage.agreement_id]], minor)
        if taken:
            found.append(_stage(belongs, stage, taken, today))
    return found


def _take(rest: dict[int, int], line_ids: Iterable[int], amount: int) -> int:
    """Take an amount off the rests of some lines, in order, as far as they go. Returns: what was taken."""
    wanted = amount
    for pk in line_ids:
        part = min(wanted, max(0, rest.get(pk, 0)))
        if part:
            rest[pk] -= part
            wanted -= part
    return amount - wanted


def _stage(belongs: Belonging, stage: due_stages.Unbilled, minor: int, today: date) -> Outgoing:
    agreement = belongs.agreements[stage.agreement_id]
    return Outgoing(
        name=_("%(vendor)s, %(stage)s") % {"vendor": agreement.vendor, "stage": stage.name},
        kind="stage",
        amount_minor=minor,
        on=stage.due_on,
        cost_minor=minor,
        overdue=stage.due_on < today,
        agreement_id=agreement.pk,
        currency=agreement.quote.currency,
        open_quoted_minor=stage.amount_quoted_minor,
    )


def _dated(lines: Mapping[int, _Line], rest: Mapping[int, int], spans: work_dates.Spans) -> list[Planned]:
    """What is left of the lines whose work has dates."""
    return [
        Planned(lines[pk].name, "rest", amount, during=spans[pk])
        for pk, amount in rest.items()
        if amount and pk in spans
    ]


def _costs(outgoing: Iterable[Outgoing], dated: Iterable[Planned], rest: int) -> list[Planned]:
    """Every amount as the project bears it: with a day, with dates of its work, and the rest of all other lines in one."""
    rows = [Planned(row.name, row.kind, row.cost_minor, row.on) for row in outgoing]
    known = list(dated)
    other = rest - sum(row.amount_minor for row in known)
    return [*rows, *known, Planned(_("not yet billed"), "rest", other)]


# --- the money for it -------------------------------------------------------------------------------------------


def _funds(
    project: Project, lines: Mapping[int, _Line], invoices: Iterable[Outgoing], kept: Iterable[Retained], today: date
) -> FundsFacts:
    rows = funding_rows(project)
    likely = sum(line.likely for line in lines.values())
    paid = _paid(lines, invoices, kept)
    sources = [Source(row.source.name, row.source.amount_minor, row.received) for row in rows]
    return FundsFacts(
        rows=rows,
        likely=likely,
        paid=paid,
        funds=rules.funds(sources, cost_to_complete_minor=likely - paid, paid_minor=paid),
        risk=sum(row.expected for row in open_cost.open_risks(project)),
        spread=sum(row.spread for row in open_cost.spreads(project, today=today)),
    )


def _paid(lines: Mapping[int, _Line], invoices: Iterable[Outgoing], kept: Iterable[Retained]) -> int:
    """What was paid: all that was invoiced, less what is held of it and what is open, with what was released."""
    invoiced = sum(line.invoiced - line.retention for line in lines.values())
    released = sum(row.released_minor for row in kept)
    return invoiced - sum(row.cost_minor for row in invoices) + released


def funding_rows(project: Project) -> tuple[FundingRow, ...]:
    """The sources of a project with their receipts. Queries: 2."""
    receipts: dict[int, list[FundingReceipt]] = defaultdict(list)
    rows = FundingReceipt.objects.filter(source__project=project).select_related("entered_by", "reversal")
    for row in rows.order_by("-received_on", "-pk"):
        receipts[row.source_id].append(row)
    sources = FundingSource.objects.filter(project=project, removed_on=None)
    return tuple(_funding_row(project, source, receipts[source.pk]) for source in sources)


def _funding_row(project: Project, source: FundingSource, receipts: list[FundingReceipt]) -> FundingRow:
    source.project = project
    return FundingRow(source, sum(row.amount_minor for row in receipts), tuple(receipts))
