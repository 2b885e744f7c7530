"""Invoices as pages show them: what waits, what was let through in spite of a doubt, and one invoice with all its deeds."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import F, Max, Q, QuerySet, Sum
from django.db.models.expressions import CombinedExpression
from django.db.models.functions import Coalesce
from django.shortcuts import get_object_or_404

from budget import wording_invoices as wording
from budget import wording_to_vendors as theirs
from budget.calc import claims
from budget.calc import verdicts as rules
from budget.calc.verdicts import InvoiceLineFacts, Judgement
from budget.models import (
    Change,
    Invoice,
    InvoiceAttachment,
    InvoiceLine,
    InvoiceStep,
    LineItem,
    Payment,
    Progress,
    Vendor,
    VendorBank,
)
from budget.selectors import vendors, verdicts
from projects.models import Project
from units import money

State = Invoice.State
#: The worst first; what is approved comes last and waits for its payment.
_RANK = {"query": 0, "part": 1, "pay": 2}
_APPROVED = 3
#: What an approval settles for good, or what the payment itself asks about.
_SETTLED = frozenset({rules.DUPLICATE, rules.CLOSED_LINE, rules.BANK_CHANGED})
#: What no word explains, only a change or a credit.
_BEYOND = frozenset({rules.OVER_AGREEMENT, rules.NO_CHANGE, rules.OVER_CHANGE, rules.NO_AGREEMENT})


@dataclass(frozen=True, slots=True)
class Row:
    """An invoice with the verdict of today: why, in our voice, and a sentence for the vendor."""

    invoice: Invoice
    judgement: Judgement
    reasons: tuple[str, ...]
    sentence: str
    lines: tuple[InvoiceLine, ...]

    @property
    def verdict(self) -> str:
        return self.judgement.verdict

    @property
    def approved(self) -> bool:
        return self.invoice.state == State.APPROVED

    @property
    def queried(self) -> bool:
        """Whether somebody, or the verdict of the first day, has put it aside."""
        return self.invoice.state == State.QUERIED

    @property
    def open_minor(self) -> int:
        """What is still to be paid [minor units of its currency]."""
        return self.invoice.payable_quoted_minor - self.invoice.paid_quoted_minor

    @property
    def rank(self) -> tuple[int, date, date, int]:
        worst = _APPROVED if self.approved else 0 if self.queried else _RANK[self.verdict]
        return worst, self.invoice.due_on or date.max, self.invoice.invoiced_on, self.invoice.pk


@dataclass(frozen=True, slots=True)
class Totals:
    """What the open invoices come to [project minor units], each at its own rate."""

    approved_minor: int
    waiting_minor: int
    queried_minor: int


def queue(project: Project, today: date) -> tuple[Row, ...]:
    """Every invoice on which something is still to be done, the worst first: query, part, pay, approved.

    Queries: 11 at most, whatever their number.
    """
    undone = Q(state__in=verdicts.OPEN) | Q(state=State.APPROVED) & ~Q(payable_quoted_minor=F("paid_quoted_minor"))
    found = list(Invoice.objects.filter(undone, project=project).select_related("vendor").order_by("pk"))
    return tuple(sorted(_rows(project, found, today), key=lambda row: row.rank))


def _rows(project: Project, invoices: Sequence[Invoice], today: date) -> list[Row]:
    judged = verdicts.judgements(project, invoices, today=today)
    lines: dict[int, list[InvoiceLine]] = defaultdict(list)
    for line in (
        InvoiceLine.objects.filter(invoice__in=[one.pk for one in invoices]).select_related("line").order_by("pk")
    ):
        lines[line.invoice_id].append(line)
    return [_row(project, one, judged[one.pk], lines[one.pk]) for one in invoices]


def _row(project: Project, invoice: Invoice, judged: Judgement, lines: Iterable[InvoiceLine]) -> Row:
    voice = wording.voice_of(invoice, project)
    reasons = tuple(wording.reasons(judged, voice))
    return Row(invoice, judged, reasons, theirs.to_vendor(judged, voice), tuple(lines))


def totals(project: Project, rows: Iterable[Row]) -> Totals:
    """Add up what open invoices come to, each at its own rate, as the page of cash does. Queries: none."""
    sums: dict[str, int] = defaultdict(int)
    for row in rows:
        invoice = row.invoice
        sums[invoice.state] += money.convert(
            row.open_minor, from_currency=invoice.currency, to_currency=project.currency, rate=invoice.rate
        )
    return Totals(sums[State.APPROVED], sums[State.WAITING], sums[State.QUERIED])


def flags(project: Project, today: date) -> tuple[Row, ...]:
    """Approved and paid invoices with something that is still not explained: beyond the agreement, tax, retention, ahead.

    Of a line that is billed beyond its price, or ahead of what was seen done, the newest invoice is shown.
    Queries: 15 at most, whatever their number.
    """
    asked = Q(flagged=True) | Q(pk__in=_newest_on(project, today))
    found = list(
        Invoice.objects.filter(asked, project=project, state=State.APPROVED).select_related("vendor").order_by("pk")
    )
    judged = verdicts.judgements(project, found, today=today)
    explained = _explained(found)
    left = {one.pk: _left(judged[one.pk], explained.get(one.pk, frozenset())) for one in found}
    kept = [one for one in found if left[one.pk].reasons]
    return tuple(sorted((_row(project, one, left[one.pk], ()) for one in kept), key=_worst_first))


def _worst_first(row: Row) -> tuple[bool, int]:
    """What has to be asked about before what is only ahead or short; then as they came."""
    return all(reason.severity != "query" for reason in row.judgement.reasons), row.invoice.pk


def _newest_on(project: Project, today: date) -> list[int]:
    """The newest approved invoice of each line that is billed beyond its price or ahead of its work."""
    seen = dict(
        Progress.objects.filter(line__project=project, seen_on__lte=today)
        .order_by("seen_on", "pk")
        .values_list("line_id", "seen_percent")
    )
    worth = Coalesce(F("agreed_minor"), 0) + F("changes_minor")
    rows = LineItem.objects.filter(project=project, removed_on=None).filter(
        Q(invoiced_minor__gt=worth) | Q(pk__in=seen)
    )
    lines = [
        pk
        for pk, invoiced, agreed, changes in rows.values_list("pk", "invoiced_minor", "agreed_minor", "changes_minor")
        if invoiced > (agreed or 0) + changes or _is_ahead(invoiced, agreed or 0, changes, seen.get(pk))
    ]
    bills = InvoiceLine.objects.filter(
        line_id__in=lines, invoice__state=State.APPROVED, invoice__kind=Invoice.Kind.INVOICE
    )
    return list(bills.values("line_id").annotate(newest=Max("invoice_id")).values_list("newest", flat=True).order_by())


def _is_ahead(invoiced: int, agreed: int, changes: int, seen: Decimal | None) -> bool:
    return claims.ahead(claims.claimed_percent(invoiced, agreed, changes), seen)


def _explained(invoices: Sequence[Invoice]) -> dict[int, frozenset[str]]:
    """What the newest word on each invoice has settled, by its codes."""
    steps = InvoiceStep.objects.filter(
        invoice__in=[one.pk for one in invoices], verb=InvoiceStep.Verb.EXPLAINED
    ).order_by("pk")
    return {
        pk: frozenset(row["code"] for row in judged.get("reasons", ())) - _BEYOND
        for pk, judged in steps.values_list("invoice_id", "judgement")
    }


def _left(judged: Judgement, explained: frozenset[str]) -> Judgement:
    gone = _SETTLED | explained
    return Judgement(judged.verdict, tuple(row for row in judged.reasons if row.code not in gone), judged.pay_minor)


def invoice_in(project: Project, invoice_id: int) -> Invoice:
    """One invoice of this project, or 404. Queries: 1."""
    found = get_object_or_404(Invoice.objects.select_related("vendor", "credits"), project=project, pk=invoice_id)
    found.project = found.vendor.project = project
    return found


def payment_in(project: Project, payment_id: int) -> Payment:
    """One payment of this project, or 404. Queries: 1."""
    rows = Payment.objects.select_related("invoice__vendor", "reversal")
    found = get_object_or_404(rows, invoice__project=project, pk=payment_id)
    found.invoice.project = project
    return found


def bank_in(project: Project, bank_id: int) -> VendorBank:
    """Bank details of a vendor of this project, or 404. Queries: 1."""
    rows = VendorBank.objects.select_related("vendor", "confirmation", "entered_by")
    found = get_object_or_404(rows, vendor__project=project, pk=bank_id)
    found.vendor.project = project
    return found


@dataclass(frozen=True, slots=True)
class Standing:
    """What an invoice bills on a line, held against what was agreed [minor units of the invoice's currency]."""

    row: InvoiceLine
    facts: InvoiceLineFacts

    @property
    def left_minor(self) -> int | None:
        """What of the price is left after this invoice; below zero when it is passed, None where nothing is agreed."""
        if self.facts.agreed_minor is None:
            return None
        return self.facts.worth_minor - self.facts.invoiced_before_minor - self.row.net_quoted_minor


@dataclass(frozen=True, slots=True)
class InvoicePage:
    """An invoice with the verdict of today, its lines against the agreement, and everything that was done about it."""

    seen: Row
    lines: tuple[Standing, ...]
    steps: tuple[tuple[InvoiceStep, list[str]], ...]
    payments: tuple[Payment, ...]
    credits: tuple[Invoice, ...]
    attachments: tuple[InvoiceAttachment, ...]
    bank: VendorBank | None
    moved: tuple[vendors.Step, ...]

    @property
    def invoice(self) -> Invoice:
        return self.seen.invoice

    @property
    def net_minor(self) -> int:
        return sum(one.row.net_quoted_minor for one in self.lines)

    @property
    def tax_minor(self) -> int:
        return sum(one.row.tax_quoted_minor for one in self.lines)

    @property
    def held_minor(self) -> int:
        return sum(one.row.retention_quoted_minor for one in self.lines)

    @property
    def now_minor(self) -> int:
        """What is to be paid now of what is open [minor units of its currency]: of a part what the verdict leaves."""
        left = self.seen.open_minor
        if self.seen.verdict != "part":
            return left
        return max(0, min(left, self.seen.judgement.pay_minor - self.invoice.paid_quoted_minor)) or left

    @property
    def bank_waits(self) -> bool:
        """Whether its bank details still want a second person's word."""
        return self.bank is not None and not hasattr(self.bank, "confirmation")

    @property
    def unexplained(self) -> bool:
        """Whether something does not fit that nobody has said to be settled."""
        newest = self.steps[-1][0].verb if self.steps else ""
        return bool(self.seen.reasons) and (newest != InvoiceStep.Verb.EXPLAINED or self.beyond)

    @property
    def beyond(self) -> bool:
        """Whether only a change or a credit explains what does not fit."""
        return any(row.code in _BEYOND for row in self.seen.judgement.reasons)


def invoice_page(project: Project, invoice_id: int, *, today: date) -> InvoicePage:
    """Read one invoice's page. Queries: 18 at most, whatever the number of its lines."""
    invoice = invoice_in(project, invoice_id)
    facts, judged = verdicts.examined(project, invoice, today=today)
    own = tuple(invoice.lines.select_related("line", "change").order_by("pk"))
    voice = wording.voice_of(invoice, project)
    steps = invoice.steps.select_related("taken_by").order_by("pk")
    return InvoicePage(
        seen=_row(project, invoice, judged, own),
        lines=tuple(Standing(row, told) for row, told in zip(own, facts.lines, strict=True)),
        steps=tuple((step, wording.kept_reasons(step, voice)) for step in steps),
        payments=tuple(invoice.payments.select_related("entered_by", "reversal").order_by("pk")),
        credits=tuple(invoice.credit_notes.exclude(state=State.REFUSED).order_by("pk")),
        attachments=tuple(
            InvoiceAttachment.objects.filter(invoice=invoice).select_related("attachment").order_by("pk")
        ),
        bank=_bank_of(invoice),
        moved=tuple(vendors.moved_by(project, "invoice", invoice.pk)),
    )


def _bank_of(invoice: Invoice) -> VendorBank | None:
    if not invoice.bank_print:
        return None
    rows = VendorBank.objects.filter(vendor=invoice.vendor_id, bank_print=invoice.bank_print)
    return rows.select_related("confirmation__confirmed_by", "entered_by").order_by("pk").first()


def past(project: Project, *, vendor: str = "") -> QuerySet[Invoice]:
    """Every invoice, the newest first, for turning pages; of one vendor where one is named."""
    rows = Invoice.objects.filter(project=project).select_related("vendor").order_by("-invoiced_on", "-pk")
    return rows.filter(vendor__name__icontains=vendor) if vendor else rows


def on_line(line: LineItem, *, most: int = 200) -> tuple[InvoiceLine, ...]:
    """What was billed on a line, the newest first. Queries: 1."""
    rows = InvoiceLine.objects.filter(line=line).select_related("invoice__vendor", "change")
    return tuple(rows.order_by("-invoice__invoiced_on", "-pk")[:most])


def looks(line: LineItem) -> tuple[Progress, ...]:
    """What was seen done of a line, the newest look first. Queries: 1."""
    rows = Progress.objects.filter(line=line).select_related("entered_by", "attachment")
    return tuple(rows.order_by("-seen_on", "-pk"))


def choosable_changes(project: Project) -> list[tuple[int, str, int]]:
    """The changes that an invoice may name, as (id, code with title, line id). Queries: 1."""
    rows = Change.objects.filter(project=project, state__in=[Change.State.PROPOSED, Change.State.AGREED])
    return [
        (pk, f"{code} \u00b7 {title}", line)
        for pk, code, title, line in rows.values_list("pk", "code", "title", "line_id")
    ]


def vendor_banks(vendor: Vendor) -> list[VendorBank]:
    """The bank details of a vendor, the newest first. Queries: 1."""
    rows = VendorBank.objects.filter(vendor=vendor).select_related("confirmation__confirmed_by", "entered_by")
    return list(rows.order_by("-pk"))


def vendor_in(project: Project, vendor_id: int) -> Vendor:
    """One vendor of this project, or 404. Queries: 1."""
    found = get_object_or_404(Vendor, project=project, pk=vendor_id)
    found.project = project
    return found


@dataclass(frozen=True, slots=True)
class Group:
    """Open invoices that want the same thing done."""

    kind: str
    rows: tuple[Row, ...]


def groups(rows: Sequence[Row]) -> tuple[Group, ...]:
    """The open invoices by what is to be done: query, part, pay, approved; what is empty is left out."""
    kinds = ("query", "part", "pay", "approved")
    found = {kind: tuple(row for row in rows if row.rank[0] == place) for place, kind in enumerate(kinds)}
    return tuple(Group(kind, some) for kind, some in found.items() if some)


def counted(found: Sequence[Group]) -> tuple[int, int]:
    """How many open invoices wait to be approved, and how many have to be asked about."""
    sizes = {group.kind: len(group.rows) for group in found}
    return sizes.get("part", 0) + sizes.get("pay", 0), sizes.get("query", 0)


def unbalanced(project: Project) -> list[tuple[Invoice, str, int, int]]:
    """Prove the kept figures of invoices from their lines and payments.

    Returns: (invoice, "payable" or "paid", as kept, by its rows) of each that differs [minor units of its currency].
    Queries: 3, whatever the number of invoices.
    """
    net = F("net_quoted_minor") - F("retention_quoted_minor") + F("tax_quoted_minor")
    due = _summed(InvoiceLine.objects.filter(invoice__project=project), net)
    paid = _summed(Payment.objects.filter(invoice__project=project), F("amount_quoted_minor"))
    wrong = []
    for invoice in Invoice.objects.filter(project=project).select_related("vendor").order_by("pk"):
        kept = (invoice.payable_quoted_minor, invoice.paid_quoted_minor)
        found = (due.get(invoice.pk, 0), paid.get(invoice.pk, 0))
        pairs = zip(("payable", "paid"), kept, found, strict=True)
        wrong += [(invoice, name, was, now) for name, was, now in pairs if was != now]
    return wrong


def _summed(rows: QuerySet, amount: F | CombinedExpression) -> dict[int, int]:
    return dict(rows.values_list("invoice_id").annotate(total=Sum(amount)).order_by())
