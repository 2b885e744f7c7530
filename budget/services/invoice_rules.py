"""What an invoice that is entered has to be: each slip is refused at its field."""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.utils.translation import gettext as _

from budget.calc.numbering import number_key
from budget.models import AgreementLine, Change, Invoice, LineItem, Vendor
from budget.services.bounds import amount_within_bounds, date_within_bounds, share_within_bounds
from projects import display
from projects.faults import Refused
from projects.models import Project
from units import money

Kind, State = Invoice.Kind, Invoice.State
MOST_LINES = 100
#: A vendor may date an invoice a little ahead, as for a hire that is paid in advance.
AHEAD = timedelta(days=31)
#: Terms of payment that give a number of days, such as "30 days from invoice".
_DAYS = re.compile(r"\b([0-9]{1,3})\s*days?\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class InvoicedLine:
    """What an invoice bills on one line [minor units of the invoice's currency]; of a credit note below zero."""

    line_id: int
    net_quoted_minor: int
    tax_quoted_minor: int = 0
    retention_quoted_minor: int = 0
    change_id: int | None = None


@dataclass(frozen=True, slots=True)
class InvoiceDraft:
    """An invoice as it came; `bank` is the number to pay to, of which a fingerprint is kept."""

    vendor: str
    number: str
    currency: str
    invoiced_on: date
    lines: tuple[InvoicedLine, ...]
    kind: str = "invoice"
    rate: Decimal | None = None
    received_on: date | None = None
    due_on: date | None = None
    tax_percent: Decimal | None = None
    bank: str = ""
    note: str = ""
    credits_id: int | None = None
    attachment_ids: tuple[int, ...] = ()


def checked(project: Project, draft: InvoiceDraft, today: date) -> dict[int, LineItem]:
    if not draft.vendor.strip():
        raise Refused(_("Name the vendor."), field="vendor")
    if not draft.number.strip():
        raise Refused(_("Give the number that stands on the invoice."), field="number")
    if draft.currency not in money.CURRENCIES:
        raise Refused(
            _("%(code)s is no currency code; use one such as EUR.") % {"code": draft.currency[:12]}, field="currency"
        )
    if draft.kind not in Kind.values:
        raise Refused(_("Say whether it is an invoice or a credit note."), field="kind")
    _check_dates(draft, today)
    share_within_bounds(draft.tax_percent, field="tax_percent", message=_("A percentage lies between 0 and 100."))
    return _checked_lines(project, draft)


def _check_dates(draft: InvoiceDraft, today: date) -> None:
    date_within_bounds(draft.invoiced_on, field="invoiced_on", latest=today + AHEAD)
    date_within_bounds(draft.received_on, field="received_on", latest=today)
    date_within_bounds(draft.due_on, field="due_on")
    if draft.due_on and draft.due_on < draft.invoiced_on:
        raise Refused(_("It falls due before its own date; check the two dates."), field="due_on")


def _checked_lines(project: Project, draft: InvoiceDraft) -> dict[int, LineItem]:
    if not draft.lines:
        raise Refused(_("An invoice bills at least one line; choose a line and give its amount."), field="lines")
    if len(draft.lines) > MOST_LINES:
        raise Refused(
            _("At most %d lines stand on one invoice; enter the rest as another.") % MOST_LINES, field="lines"
        )
    asked = {row.line_id for row in draft.lines}
    lines = {line.pk: line for line in LineItem.objects.filter(project=project, removed_on=None, pk__in=asked)}
    if len(lines) != len(asked):
        raise Refused(_("A line does not belong to this project; choose one from the list."), field="lines")
    if len({(row.line_id, row.change_id) for row in draft.lines}) != len(draft.lines):
        raise Refused(
            _("A line stands twice; put its amounts together, or name the change that one is for."), field="lines"
        )
    _check_changes(project, draft)
    for row in draft.lines:
        _check_amounts(lines[row.line_id], row, draft)
    _check_sum(draft)
    return lines


def _check_changes(project: Project, draft: InvoiceDraft) -> None:
    named = {row.change_id for row in draft.lines if row.change_id is not None}
    lines = dict(Change.objects.filter(project=project, pk__in=named).values_list("pk", "line_id"))
    if any(row.change_id is not None and lines.get(row.change_id) != row.line_id for row in draft.lines):
        raise Refused(_("This change belongs to another line; choose one of the line that is billed."), field="change")


def _check_amounts(line: LineItem, row: InvoicedLine, draft: InvoiceDraft) -> None:
    if line.kind == LineItem.Kind.CONTINGENCY:
        raise Refused(_("Nothing is billed on a contingency; choose the line that the work belongs to."), field="line")
    for name in ("net", "tax", "retention"):
        amount_within_bounds(getattr(row, f"{name}_quoted_minor"), draft.currency, field=name, negative=True)
    net, held = row.net_quoted_minor, row.retention_quoted_minor
    if held and (held < 0) != (net < 0) or abs(held) > abs(net):
        raise Refused(_("The retention on %(line)s is more than its net amount.") % {"line": line}, field="retention")
    if not net and not row.tax_quoted_minor:
        raise Refused(_("Give the net amount billed on %(line)s.") % {"line": line}, field="net")


def _check_sum(draft: InvoiceDraft) -> None:
    """What is to be paid lies above zero, and what is credited below; the whole stays within what a column holds."""
    whole = sum(map(payable, draft.lines))
    amount_within_bounds(whole, draft.currency, field="net", negative=True)
    if draft.kind == Kind.INVOICE and whole <= 0:
        raise Refused(_("An invoice asks for money; enter what gives money back as a credit note."), field="kind")
    if draft.kind == Kind.CREDIT and (whole >= 0 or any(row.net_quoted_minor > 0 for row in draft.lines)):
        raise Refused(_("A credit note gives money back; its amounts lie below zero."), field="kind")


def payable(row: InvoicedLine) -> int:
    return row.net_quoted_minor - row.retention_quoted_minor + row.tax_quoted_minor


def must_be_new(project: Project, vendor: Vendor, number: str, *, but: Invoice | None = None) -> None:
    standing = Invoice.objects.filter(project=project, vendor=vendor, number_key=number_key(number))
    standing = standing.exclude(pk=but.pk) if but else standing
    earlier = standing.exclude(state=State.REFUSED).first()
    if earlier is not None:
        raise Refused(
            _("%(vendor)s has sent %(number)s already, dated %(date)s: it is entered and stands.")
            % {"vendor": vendor, "number": earlier.number, "date": display.day(earlier.invoiced_on, project.locale)},
            field="number",
        )


def credited(project: Project, vendor: Vendor, draft: InvoiceDraft) -> Invoice | None:
    if draft.credits_id is None:
        return None
    found = Invoice.objects.filter(project=project, vendor=vendor, kind=Kind.INVOICE, pk=draft.credits_id).first()
    if found is None or draft.kind != Kind.CREDIT:
        raise Refused(_("A credit note credits an invoice of the same vendor; choose one."), field="credits")
    if found.currency != draft.currency:
        raise Refused(
            _("%(number)s is in %(currency)s; so is what credits it.")
            % {"number": found.number, "currency": found.currency},
            field="currency",
        )
    return found


def due_on(vendor: Vendor, draft: InvoiceDraft) -> date | None:
    """The day that the terms of the quote agreed to give, where they give a number of days."""
    rows = AgreementLine.objects.filter(
        agreement__vendor=vendor, agreement__reversal=None, line_id__in=[row.line_id for row in draft.lines]
    ).order_by("-pk")
    terms = rows.values_list("agreement__quote__payment_terms", flat=True).first()
    days = _DAYS.search(terms or "")
    return draft.invoiced_on + timedelta(days=int(days[1])) if days else None
