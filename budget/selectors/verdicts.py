"""What stands against invoices, and the verdict on each that follows from it today.

Net is held against net: an agreement's tax that came on top is taken off again, and an invoice's tax is judged apart.
What was billed before an invoice is what came in before it and counts; a credit on the line counts whenever it came, so
that a credit explains the invoice it was asked for. Amounts of other currencies are brought to the invoice's own.
"""

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cached_property
from typing import Any

from django.db.models import Sum

from budget.calc import claims, numbering, verdicts
from budget.calc.verdicts import ChangeSeen, InvoiceFacts, InvoiceLineFacts, Judgement
from budget.models import AgreementLine, Change, Invoice, InvoiceLine, InvoiceStep, Progress, VendorBank
from budget.selectors.billing import COUNTED
from budget.selectors.resemblances import resemblances
from projects.models import Project
from units import money

#: A queried invoice's doubts of this kind are those of the day it came; later invoices cannot raise them.
FROZEN = verdicts.DUPLICATE
OPEN = (Invoice.State.WAITING, Invoice.State.QUERIED)


@dataclass(frozen=True, slots=True)
class Let:
    """What was agreed with one vendor on one line, without tax that came on top [minor units of each currency]."""

    currency: str
    rate: Decimal
    net_quoted_minor: int
    net_minor: int
    retention_percent: Decimal | None


@dataclass(frozen=True, slots=True)
class Row:
    """What some invoice bills on a line, as far as others are held against it."""

    invoice: int
    kind: str
    currency: str
    quoted_minor: int
    minor: int


def judgements(project: Project, invoices: Sequence[Invoice], *, today: date) -> dict[int, Judgement]:
    """Judge invoices by what is known today.

    Args:
        invoices: of this project, with their vendors.
        today: what was seen done later is left out.
    Returns: {invoice id: its verdict, with the reasons}.
    Queries: 6 to 9, whatever the number of invoices.
    """
    known = _Known(project, invoices, today)
    return {invoice.pk: verdicts.judge(known.facts(invoice)) for invoice in invoices}


def judgement(project: Project, invoice: Invoice, *, today: date) -> Judgement:
    """Judge one invoice. Queries: as `judgements`."""
    return judgements(project, [invoice], today=today)[invoice.pk]


def examined(project: Project, invoice: Invoice, *, today: date) -> tuple[InvoiceFacts, Judgement]:
    """Judge one invoice, with what stands against it line by line. Queries: as `judgements`."""
    facts = _Known(project, [invoice], today).facts(invoice)
    return facts, verdicts.judge(facts)


def first_judgement(project: Project, invoice: Invoice, *, today: date) -> Judgement:
    """Judge an invoice that is being entered, with the earlier invoices it looks like. Queries: as `judgements`, and 1."""
    known = _Known(project, [invoice], today)
    return verdicts.judge(known.facts(invoice, resemblances(invoice, known.own[invoice.pk])))


def from_project(minor: int, *, project: Project, currency: str, rate: Decimal) -> int:
    """Bring an amount of the project's currency to another at a rate [minor units], rounded half away from zero."""
    if currency == project.currency:
        return minor
    return money.round_minor(minor / money.exact_rate(rate, from_currency=currency, to_currency=project.currency))


class _Known:
    """Everything that was read for a number of invoices; each is then put together without a further query."""

    def __init__(self, project: Project, invoices: Sequence[Invoice], today: date) -> None:
        self.project, self.invoices, self.today = project, invoices, today
        own = InvoiceLine.objects.filter(invoice__in=[invoice.pk for invoice in invoices])
        self.own: dict[int, list[InvoiceLine]] = defaultdict(list)
        for row in own.select_related("line", "change").order_by("pk"):
            self.own[row.invoice_id].append(row)
        self.line_ids = {row.line_id for rows in self.own.values() for row in rows}
        self.let = agreed_with(project, self.line_ids)
        self.billed, self.for_change = _billed(self.line_ids)
        self.changes = _agreed_changes(project, self.line_ids)
        self.seen = seen_done(self.line_ids, today)

    # --- one invoice ------------------------------------------------------------------------------------------

    def facts(self, invoice: Invoice, look_alikes: tuple[numbering.LookAlike, ...] | None = None) -> InvoiceFacts:
        """Put together what is known of one invoice; without `look_alikes`, those that were found when it came."""
        rows = self.own[invoice.pk]
        net = sum(row.net_quoted_minor for row in rows)
        held = sum(row.retention_quoted_minor for row in rows)
        tax = sum(row.tax_quoted_minor for row in rows)
        percent = self._tax_percent(invoice)
        expected = None if percent is None else verdicts.expected_tax(net, held, percent)
        is_alone = look_alikes is not None and invoice.credits_id is None  # nothing credits what is only being entered
        if expected is not None and not is_alone:
            expected = self._put_right(invoice, tax, expected)
        return InvoiceFacts(
            kind=invoice.kind,
            currency=invoice.currency,
            agreed_currency=self._agreed_currency(invoice, rows),
            number=invoice.number,
            vendor=str(invoice.vendor),
            invoiced_on=invoice.invoiced_on,
            lines=tuple(self._line(invoice, row, rows[:place]) for place, row in enumerate(rows)),
            tax_minor=tax,
            tax_expected_minor=expected,
            tax_percent=percent,
            retention_minor=held,
            retention_expected_minor=self._retention(invoice, rows),
            bank=self._bank(invoice),
            look_alikes=tuple(self._look_alikes(invoice)) if look_alikes is None else look_alikes,
        )

    def _tax_percent(self, invoice: Invoice) -> Decimal | None:
        """The rate on the invoice; else the project's, which a vendor abroad does not charge."""
        if invoice.tax_percent is not None or invoice.currency != self.project.currency:
            return invoice.tax_percent
        return self.project.tax_percent

    def _agreed_currency(self, invoice: Invoice, rows: Sequence[InvoiceLine]) -> str | None:
        """The invoice's own currency where everything was agreed in it; else the first other one; None without any."""
        found = [let.currency for row in rows for let in self.let.get((row.line_id, invoice.vendor_id), ())]
        return next((code for code in found if code != invoice.currency), found[0] if found else None)

    def _line(self, invoice: Invoice, row: InvoiceLine, above: Sequence[InvoiceLine]) -> InvoiceLineFacts:
        let = self.let.get((row.line_id, invoice.vendor_id), [])
        rate = let[0].rate if let and let[0].currency == invoice.currency else invoice.rate
        agreed = sum(self._agreed(one, invoice) for one in let) if let else None
        changes = self._own(self.changes.get(row.line_id, 0), invoice, rate)
        before = self._before(invoice, row, above)
        return InvoiceLineFacts(
            line=row.line.description,
            net_minor=row.net_quoted_minor,
            agreed_minor=agreed,
            changes_agreed_minor=changes,
            invoiced_before_minor=before,
            change=self._change(invoice, row, above, rate),
            claimed_percent=claims.claimed_percent(before + row.net_quoted_minor, agreed or 0, changes),
            seen_percent=self.seen.get(row.line_id),
            closed=row.line.closed_on is not None and invoice.state != Invoice.State.APPROVED,
        )

    def _own(self, minor: int, invoice: Invoice, rate: Decimal) -> int:
        return from_project(minor, project=self.project, currency=invoice.currency, rate=rate)

    def _agreed(self, let: Let, invoice: Invoice) -> int:
        if let.currency == invoice.currency:
            return let.net_quoted_minor
        return self._own(let.net_minor, invoice, invoice.rate)

    def _in_own(self, row: Row, invoice: Invoice) -> int:
        return row.quoted_minor if row.currency == invoice.currency else self._own(row.minor, invoice, invoice.rate)

    def _earlier(self, invoice: Invoice, row: Row) -> bool:
        """Whether a row was billed before an invoice; on top of one that does not count comes everything that does."""
        if row.invoice == invoice.pk:
            return False
        credit = row.kind == Invoice.Kind.CREDIT and invoice.kind != Invoice.Kind.CREDIT
        return row.invoice < invoice.pk or credit or invoice.state not in COUNTED

    def _before(self, invoice: Invoice, row: InvoiceLine, above: Sequence[InvoiceLine]) -> int:
        others = sum(
            self._in_own(other, invoice)
            for other in self.billed.get((row.line_id, invoice.vendor_id), ())
            if self._earlier(invoice, other)
        )
        return others + sum(other.net_quoted_minor for other in above if other.line_id == row.line_id)

    def _change(
        self, invoice: Invoice, row: InvoiceLine, above: Sequence[InvoiceLine], rate: Decimal
    ) -> ChangeSeen | None:
        change = row.change
        if change is None:
            return None
        before = sum(
            self._in_own(other, invoice)
            for other in self.for_change.get(change.pk, ())
            if self._earlier(invoice, other)
        )
        before += sum(other.net_quoted_minor for other in above if other.change_id == change.pk)
        return ChangeSeen(change.code, change.state, self._own(change.amount_minor, invoice, rate), before)

    def _retention(self, invoice: Invoice, rows: Sequence[InvoiceLine]) -> int:
        if invoice.kind == Invoice.Kind.CREDIT:
            return 0
        return sum(
            expected_retention(row.net_quoted_minor, self.let.get((row.line_id, invoice.vendor_id), ())) for row in rows
        )

    # --- what only some invoices have -----------------------------------------------------------------------------

    def _put_right(self, invoice: Invoice, tax: int, expected: int) -> int:
        """The tax an invoice should bear, once its credit notes, or the invoice that it credits, are seen beside it."""
        root = invoice.credits_id or invoice.pk
        family = self._families.get(root, {})
        if len(family) < 2:
            return expected
        gap = sum(stated - right for stated, right in family.values())
        if invoice.kind == Invoice.Kind.CREDIT:
            return tax if abs(gap) <= len(self.own[invoice.pk]) else expected
        return tax - gap

    @cached_property
    def _families(self) -> dict[int, dict[int, tuple[int, int]]]:
        """Invoices with their credit notes: {invoice: {itself or a credit: (tax stated, tax expected)}}."""
        roots = {invoice.credits_id or invoice.pk for invoice in self.invoices}
        credits = InvoiceLine.objects.filter(invoice__credits__in=roots, invoice__state__in=COUNTED)
        rows = [*_taxes(credits)]
        if rows:
            rows += _taxes(InvoiceLine.objects.filter(invoice__in=roots))
        families: dict[int, dict[int, tuple[int, int]]] = defaultdict(dict)
        for pk, root, percent, currency, net, held, tax in rows:
            home = self.project.tax_percent if currency == self.project.currency else None
            rate = home if percent is None else Decimal(percent)
            families[root or pk][pk] = (tax, tax if rate is None else verdicts.expected_tax(net, held, rate))
        return families

    def _bank(self, invoice: Invoice) -> str:
        if not invoice.bank_print:
            return "unstated"
        known = self._banks.get(invoice.vendor_id, ())
        if invoice.bank_print in known:
            return "known"
        return "changed" if known else "unconfirmed"

    @cached_property
    def _banks(self) -> dict[int, set[str]]:
        vendors = {invoice.vendor_id for invoice in self.invoices if invoice.bank_print}
        return confirmed_banks(vendors)

    def _look_alikes(self, invoice: Invoice) -> Iterator[numbering.LookAlike]:
        for figures in self._doubts.get(invoice.pk, ()):
            if (invoice.vendor_id, figures["earlier"]) not in self._refused:
                yield numbering.LookAlike(figures["earlier"], figures["days_apart"], figures["same_amount"])

    @cached_property
    def _doubts(self) -> dict[int, list[dict[str, Any]]]:
        """The likenesses that were found when an invoice was entered; an approval has settled them."""
        asked = [invoice.pk for invoice in self.invoices if invoice.state != Invoice.State.APPROVED]
        steps = InvoiceStep.objects.filter(invoice__in=asked, verb=InvoiceStep.Verb.ENTERED)
        return {
            pk: [row["figures"] for row in frozen.get("reasons", ()) if row["code"] == FROZEN]
            for pk, frozen in steps.values_list("invoice_id", "judgement")
        }

    @cached_property
    def _refused(self) -> set[tuple[int, str]]:
        numbers = {figures["earlier"] for rows in self._doubts.values() for figures in rows}
        refused = Invoice.objects.filter(project=self.project, number__in=numbers, state=Invoice.State.REFUSED)
        return set(refused.values_list("vendor_id", "number")) if numbers else set()


def expected_retention(net_minor: int, let: Collection[Let]) -> int:
    """What is to be held back of a net amount by the agreement it is billed under [minor units]."""
    percent = max((one.retention_percent or Decimal(0) for one in let), default=Decimal(0))
    return money.round_minor(Fraction(percent) * net_minor / 100)


def agreed_with(project: Project, line_ids: Collection[int]) -> dict[tuple[int, int], list[Let]]:
    """What stands agreed, by line and vendor. Queries: 1."""
    rows = AgreementLine.objects.filter(
        agreement__project=project, agreement__reversal=None, line_id__in=line_ids
    ).order_by("pk")
    found: dict[tuple[int, int], list[Let]] = defaultdict(list)
    for line, vendor, currency, rate, tax, quoted, minor, held in rows.values_list(
        "line_id", "agreement__vendor_id", "agreement__quote__currency", "agreement__quote__rate",
        "agreement__quote__tax_percent", "amount_quoted_minor", "amount_minor", "agreement__retention_percent",
    ):  # fmt: skip
        net_quoted, net = _without_tax(project, currency, rate, tax, quoted, minor)
        found[line, vendor].append(Let(currency, rate, net_quoted, net, held))
    return found


def _without_tax(
    project: Project, currency: str, rate: Decimal, tax: Decimal | None, quoted: int, minor: int
) -> tuple[int, int]:
    """An agreed amount as it is billed; a quote that was agreed as it stood may hold freight, a discount and tax on top."""
    if money.convert(quoted, from_currency=currency, to_currency=project.currency, rate=rate) == minor:
        return quoted, minor
    net = money.round_minor(Fraction(minor) * 100 / (100 + Fraction(tax or 0)))
    return from_project(net, project=project, currency=currency, rate=rate), net


def _billed(line_ids: Collection[int]) -> tuple[dict[tuple[int, int], list[Row]], dict[int, list[Row]]]:
    """Everything that counts as billed on some lines: by line and vendor, and by the change it names. Queries: 1."""
    # Told the project too, PostgreSQL may go through every invoice of it.
    rows = InvoiceLine.objects.filter(line_id__in=line_ids, invoice__state__in=COUNTED)
    by_line: dict[tuple[int, int], list[Row]] = defaultdict(list)
    by_change: dict[int, list[Row]] = defaultdict(list)
    columns = (
        "line_id", "invoice_id", "invoice__vendor_id", "invoice__kind", "invoice__currency", "net_quoted_minor", "net_minor",
        "change_id",
    )  # fmt: skip
    for line, invoice, vendor, kind, currency, quoted, minor, change in rows.values_list(*columns):
        row = Row(invoice, kind, currency, quoted, minor)
        by_line[line, vendor].append(row)
        if change is not None:
            by_change[change].append(row)
    return by_line, by_change


def _agreed_changes(project: Project, line_ids: Collection[int]) -> dict[int, int]:
    rows = Change.objects.filter(project=project, line_id__in=line_ids, state=Change.State.AGREED)
    return dict(rows.values_list("line_id").annotate(total=Sum("amount_minor")).order_by())


def seen_done(line_ids: Collection[int], today: date) -> dict[int, Decimal]:
    """How much was seen done of lines, the newest look of each [%]. Queries: 1."""
    rows = Progress.objects.filter(line_id__in=line_ids, seen_on__lte=today).order_by("seen_on", "pk")
    return dict(rows.values_list("line_id", "seen_percent"))


def confirmed_banks(vendor_ids: Collection[int]) -> dict[int, set[str]]:
    """The fingerprints of bank details that a second person has confirmed, by vendor. Queries: 1."""
    rows = VendorBank.objects.filter(vendor_id__in=vendor_ids, confirmation__isnull=False)
    found: dict[int, set[str]] = defaultdict(set)
    for vendor, mark in rows.values_list("vendor_id", "bank_print"):
        found[vendor].add(mark)
    return found


def _taxes(rows: Any) -> Any:
    return rows.values_list(
        "invoice_id", "invoice__credits_id", "invoice__tax_percent", "invoice__currency"
    ).annotate(
        net=Sum("net_quoted_minor"), held=Sum("retention_quoted_minor"), tax=Sum("tax_quoted_minor")
    ).order_by()  # fmt: skip


def bank_is_known(invoice: Invoice) -> bool:
    """Whether a second person has confirmed the bank details on an invoice. Queries: 1."""
    return invoice.bank_print in confirmed_banks([invoice.vendor_id]).get(invoice.vendor_id, ())
