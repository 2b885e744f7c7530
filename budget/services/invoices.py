"""Entering invoices and credit notes, and what is decided about them.

An invoice is entered as it came. It is judged at once and the verdict is kept in its first step; one that must be asked
about does not count as invoiced until somebody approves it with a reason. Every later deed is a further step.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from budget.calc import verdicts as rules
from budget.calc.numbering import number_key
from budget.calc.verdicts import Judgement
from budget.models import (
    Cause,
    ImportBatch,
    Invoice,
    InvoiceAttachment,
    InvoiceLine,
    InvoiceStep,
    LineItem,
)
from budget.selectors import verdicts
from budget.selectors.vendors import Step, moved_by
from budget.services import banks, invoice_rules
from budget.services.bounds import amount_within_bounds, columns_within_bounds, date_within_bounds
from budget.services.invoice_rules import AHEAD, InvoicedLine, InvoiceDraft
from budget.services.ledger import Deed, lock, settle
from budget.services.quotes import vendor_called
from budget.services.rates import rate_of
from projects import display, limits, trail
from projects.faults import Refused, Stale
from projects.models import Attachment, Project, Role, User
from units import money

Kind, State, Verb = Invoice.Kind, Invoice.State, InvoiceStep.Verb


# --- entering ---------------------------------------------------------------------------------------------------


@transaction.atomic
def enter_invoice(project: Project, draft: InvoiceDraft, *, by: User | None, now: datetime, today: date) -> Invoice:
    """Enter an invoice or credit note, judge it, and let the likely finals of its lines follow.

    Writes Invoice with its lines and attachments, an InvoiceStep with the verdict, perhaps Vendor and VendorBank rows,
    movements `invoiced` and a trail row. A second call is refused: a vendor's number stands once.
    Raises: Refused, naming the field.
    """
    project = lock(project)
    invoice = write_invoice(project, draft, by=by, now=now, today=today)
    settle(project, {row.line_id for row in draft.lines}, _deed(invoice, by, now, today))
    words = (
        _("Entered credit note %(number)s of %(vendor)s")
        if _is_credit(invoice)
        else _("Entered %(number)s of %(vendor)s")
    )
    _note(project, invoice, "entered", words, by=by, at=now)
    return invoice


def write_invoice(
    project: Project,
    draft: InvoiceDraft,
    *,
    by: User | None,
    now: datetime,
    today: date,
    batch: ImportBatch | None = None,
) -> Invoice:
    """Check a draft, write its rows and its verdict alone; for services that write many and settle once."""
    lines = invoice_rules.checked(project, draft, today)
    vendor = vendor_called(project, draft.vendor)
    number = draft.number.strip()
    invoice_rules.must_be_new(project, vendor, number)
    invoice = Invoice(
        project=project,
        vendor=vendor,
        number=number,
        number_key=number_key(number),
        kind=draft.kind,
        credits=invoice_rules.credited(project, vendor, draft),
        currency=draft.currency,
        rate=rate_of(project, draft.currency, draft.rate),
        invoiced_on=draft.invoiced_on,
        received_on=draft.received_on or today,
        due_on=draft.due_on or invoice_rules.due_on(vendor, draft),
        tax_percent=draft.tax_percent,
        note=draft.note.strip(),
        payable_quoted_minor=sum(map(invoice_rules.payable, draft.lines)),
        import_batch=batch,
        entered_at=now,
        entered_by=by,
    )
    if draft.bank.strip():
        kept = banks.note_bank(vendor, draft.bank, by=by, now=now, today=today)
        invoice.bank_print, invoice.bank_shown = kept.bank_print, kept.bank_shown
    columns_within_bounds(invoice)
    invoice.save()
    InvoiceLine.objects.bulk_create(_line(project, invoice, lines, row) for row in draft.lines)
    found = Attachment.objects.filter(project=project, pk__in=draft.attachment_ids)
    InvoiceAttachment.objects.bulk_create(InvoiceAttachment(invoice=invoice, attachment=row) for row in found)
    _judge_first(project, invoice, by=by, now=now, today=today)
    return invoice


def _line(project: Project, invoice: Invoice, lines: Mapping[int, LineItem], row: InvoicedLine) -> InvoiceLine:
    def own(minor: int, field: str) -> int:
        found = money.convert(minor, from_currency=invoice.currency, to_currency=project.currency, rate=invoice.rate)
        return amount_within_bounds(found, project.currency, field=field, negative=True)

    cost = row.net_quoted_minor + (0 if project.tax_recovered else row.tax_quoted_minor)
    return InvoiceLine(
        invoice=invoice, line=lines[row.line_id], change_id=row.change_id, net_quoted_minor=row.net_quoted_minor,
        tax_quoted_minor=row.tax_quoted_minor, retention_quoted_minor=row.retention_quoted_minor,
        net_minor=own(row.net_quoted_minor, "net"), cost_minor=own(cost, "net"),
        retention_minor=own(row.retention_quoted_minor, "retention"),
    )  # fmt: skip


def _judge_first(project: Project, invoice: Invoice, *, by: User | None, now: datetime, today: date) -> None:
    found = verdicts.first_judgement(project, invoice, today=today)
    if found.verdict == "query":
        invoice.state = State.QUERIED
        invoice.save(update_fields=["state"])
    _step(invoice, Verb.ENTERED, found, "", by=by, now=now, on=today)


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What entering an invoice would do: its verdict, what would be paid [its minor units], the likely finals it moves."""

    invoice: Invoice
    judgement: Judgement
    moved: tuple[Step, ...]


def rehearse(project: Project, draft: InvoiceDraft, *, by: User, now: datetime, today: date) -> Rehearsal:
    """Enter an invoice and take everything back at once, to show its verdict beforehand.

    Writes nothing that stays. Raises: what `enter_invoice` raises.
    """
    with transaction.atomic():
        invoice = enter_invoice(project, draft, by=by, now=now, today=today)
        found = verdicts.first_judgement(project, invoice, today=today)
        shown = Rehearsal(invoice, found, tuple(moved_by(project, "invoice", invoice.pk)))
        transaction.set_rollback(True)
    return shown


@transaction.atomic
def take_back_entry(invoice: Invoice, *, by: User, now: datetime, today: date) -> Invoice:
    """Refuse an invoice that was entered by a slip, as long as nobody has done anything about it.

    Writes what `refuse` writes.
    """
    _project, held = _held(invoice)  # held before it is looked at: an approval may be on its way
    if held.steps.count() > 1 or held.entered_by_id != by.pk:
        raise Refused(_("Somebody has worked on it meanwhile; refuse it with a reason instead."))
    return refuse(held, _("entered by mistake"), by=by, now=now, today=today)


# --- what is decided about it -----------------------------------------------------------------------------------


@transaction.atomic
def approve(
    invoice: Invoice,
    *,
    by: User,
    role: str,
    now: datetime,
    today: date,
    note: str = "",
    on: date | None = None,
    version: int | None = None,
) -> Invoice:
    """Approve an invoice for payment; it counts as invoiced from then on, and what did not fit stays flagged.

    Args:
        note: the reason, asked for where the verdict is to query it.
        version: what the page showed, or None not to ask.
    Writes the state, an InvoiceStep with the verdict of the day, movements `invoiced` and a trail row. A second call is
    refused. Raises: Refused, also where what passes the agreement is above the role's limit; Stale.
    """
    project, invoice = _held(invoice, version)
    _must_be(invoice, State.WAITING, State.QUERIED, deed=_("approved"))
    if role not in (Role.LEAD, Role.OWNER):
        raise Refused(_("A lead or an owner approves invoices."))
    day = date_within_bounds(on, field="on", earliest=invoice.invoiced_on - AHEAD, latest=today) or today
    found = verdicts.judgement(project, invoice, today=today)
    if found.verdict == "query" and not note.strip():
        raise Refused(_("Say why it is approved all the same; the reason stays with the invoice."), field="note")
    _must_cover(project, role, excess_minor(project, invoice, found))
    invoice.flagged = bool(found.reasons)
    _to_state(invoice, State.APPROVED)
    _step(invoice, Verb.APPROVED, found, note, by=by, now=now, on=day)
    settle(project, lines_of(invoice), _deed(invoice, by, now, today))
    _note(project, invoice, "approved", _("Approved %(number)s of %(vendor)s"), by=by, at=now, note=note)
    return invoice


def _must_cover(project: Project, role: str, excess: int) -> None:
    if not limits.allows(project, role, excess):
        raise Refused(
            _(
                "It bills %(amount)s beyond what was agreed, above what your role may commit; ask an owner to approve it."
            )
            % {"amount": display.money(excess, project, brief=True)}
        )


def excess_minor(project: Project, invoice: Invoice, found: Judgement) -> int:
    """What an invoice bills beyond what was agreed, line by line the most that any reason says [project minor units]."""
    beyond: dict[Any, int] = {}
    for reason in found.reasons:
        told = reason.figures
        if reason.code in (rules.OVER_AGREEMENT, rules.NO_CHANGE, rules.OVER_CHANGE):
            amount = told["by_minor"]
        elif reason.code in (rules.NO_AGREEMENT, rules.CLOSED_LINE):
            amount = told["net_minor"]
        else:
            continue
        place = (told["line"], told["net_minor"])
        beyond[place] = max(beyond.get(place, 0), int(amount or 0))
    return money.convert(
        sum(beyond.values()), from_currency=invoice.currency, to_currency=project.currency, rate=invoice.rate
    )


@transaction.atomic
def query(
    invoice: Invoice, note: str, *, by: User | None, now: datetime, today: date, version: int | None = None
) -> Invoice:
    """Put an invoice aside until its vendor has answered; it no longer counts as invoiced.

    Args:
        version: what was read when it was asked whether `by` may, or None not to ask; so with its neighbours.
    Writes the state, an InvoiceStep, movements `invoiced` and a trail row. Refused once anything was paid.
    Raises: Refused, Stale.
    """
    states = (State.WAITING, State.APPROVED)
    summary = _("Queried %(number)s of %(vendor)s")
    _project, held = _held(invoice, version)
    return _put_aside(held, Verb.QUERIED, State.QUERIED, states, note, summary, by=by, now=now, today=today)


@transaction.atomic
def refuse(
    invoice: Invoice, note: str, *, by: User | None, now: datetime, today: date, version: int | None = None
) -> Invoice:
    """Refuse an invoice for good; it counts nowhere, stays readable, and its number is free again.

    Writes the state, an InvoiceStep, movements `invoiced` and a trail row. Refused once anything was paid.
    """
    states = (State.WAITING, State.QUERIED, State.APPROVED)
    summary = _("Refused %(number)s of %(vendor)s")
    _project, held = _held(invoice, version)
    return _put_aside(held, Verb.REFUSED, State.REFUSED, states, note, summary, by=by, now=now, today=today)


@transaction.atomic
def take_up(
    invoice: Invoice, reason: str, *, by: User | None, now: datetime, today: date, version: int | None = None
) -> Invoice:
    """Take a queried, refused or approved invoice up again: it waits, and counts as invoiced.

    Writes the state, an InvoiceStep, movements `invoiced` and a trail row. Refused once anything was paid.
    """
    project, held = _held(invoice, version)
    invoice_rules.must_be_new(project, held.vendor, held.number, but=held)
    states = (State.QUERIED, State.REFUSED, State.APPROVED)
    summary = _("Took up %(number)s of %(vendor)s again")
    return _put_aside(held, Verb.REOPENED, State.WAITING, states, reason, summary, by=by, now=now, today=today)


def _put_aside(
    invoice: Invoice,
    verb: str,
    state: str,
    states: Sequence[str],
    note: str,
    summary: str,
    *,
    by: User | None,
    now: datetime,
    today: date,
) -> Invoice:
    project = invoice.project  # locked, as the invoice is
    _must_be(invoice, *states, deed=Verb(verb).label)
    if not note.strip():
        raise Refused(_("Say why; the reason stays with the invoice."), field="note")
    if invoice.payments.exists():
        raise Refused(_("Something was paid on it; ask for a credit note, or take the payment back first."))
    found = verdicts.judgement(project, invoice, today=today)
    invoice.flagged = False
    _to_state(invoice, state)
    _step(invoice, verb, found, note, by=by, now=now, on=today)
    settle(project, lines_of(invoice), _deed(invoice, by, now, today))
    _note(project, invoice, Verb(verb).value, summary, by=by, at=now, note=note)
    return invoice


def write_refusal(invoice: Invoice, deed: Deed) -> None:
    """Refuse an invoice that nobody has touched, alone; for services that take many back and settle once."""
    _to_state(invoice, State.REFUSED)
    _step(invoice, Verb.REFUSED, Judgement("query", (), 0), deed.note, by=deed.by, now=deed.at, on=deed.on)


@transaction.atomic
def explain(
    invoice: Invoice, reason: str, *, by: User, now: datetime, today: date, version: int | None = None
) -> Invoice:
    """Say why what did not fit is settled, so that it is not shown as open any more.

    What is billed beyond an agreement is explained by a change or a credit alone. Writes an InvoiceStep and a trail row.
    """
    project, invoice = _held(invoice, version)
    _must_be(invoice, State.APPROVED, deed=_("explained"))
    if not reason.strip():
        raise Refused(_("Say how it was settled; the reason stays with the invoice."), field="reason")
    found = verdicts.judgement(project, invoice, today=today)
    if any(row.code in BEYOND for row in found.reasons):
        raise Refused(_("It bills more than was agreed: only an agreed change or a credit note explains that."))
    invoice.flagged = False
    invoice.version += 1
    invoice.save(update_fields=["flagged", "version"])
    _step(invoice, Verb.EXPLAINED, found, reason, by=by, now=now, on=today)
    _note(
        project,
        invoice,
        "explained",
        _("Settled what did not fit in %(number)s of %(vendor)s"),
        by=by,
        at=now,
        note=reason,
    )
    return invoice


#: What only a change or a credit explains.
BEYOND = (rules.OVER_AGREEMENT, rules.NO_CHANGE, rules.OVER_CHANGE, rules.NO_AGREEMENT)


# --- the parts --------------------------------------------------------------------------------------------------


def lines_of(invoice: Invoice) -> set[int]:
    """The lines an invoice bills."""
    return set(invoice.lines.values_list("line_id", flat=True))


def _is_credit(invoice: Invoice) -> bool:
    return invoice.kind == Kind.CREDIT


def _held(invoice: Invoice, version: int | None = None) -> tuple[Project, Invoice]:
    """The project and the invoice, locked and fresh."""
    project = lock(invoice.project)
    held = Invoice.objects.select_related("vendor").select_for_update(of=("self",)).get(pk=invoice.pk)
    held.project = project
    if version is not None and version != held.version:
        raise Stale(
            _("Somebody has worked on this invoice meanwhile; look at it again."), theirs={"version": held.version}
        )
    return project, held


def _must_be(invoice: Invoice, *states: str, deed: object) -> None:
    if invoice.state not in states:
        raise Refused(
            _("This invoice is %(state)s and cannot be %(deed)s.")
            % {"state": invoice.get_state_display(), "deed": deed}
        )


def _to_state(invoice: Invoice, state: str) -> None:
    invoice.state = state
    invoice.version += 1
    invoice.save(update_fields=["state", "version", "flagged"])


def _deed(invoice: Invoice, by: User | None, now: datetime, today: date) -> Deed:
    return Deed(by, now, today, Cause.INVOICED, str(invoice), "invoice", invoice.pk)


def _step(
    invoice: Invoice, verb: str, found: Judgement, note: str, *, by: User | None, now: datetime, on: date
) -> None:
    step = InvoiceStep(
        invoice=invoice, verb=verb, judgement=frozen(found), note=note.strip(), taken_on=on, taken_at=now, taken_by=by,
        taken_by_name=by.called if by else "",
    )  # fmt: skip
    columns_within_bounds(step)
    step.save()


def frozen(found: Judgement) -> dict[str, Any]:
    """A judgement as it is kept in a step."""
    reasons = [{"code": row.code, "severity": row.severity, "figures": row.figures} for row in found.reasons]
    return {"verdict": found.verdict, "pay_minor": found.pay_minor, "reasons": reasons}


def _note(
    project: Project, invoice: Invoice, verb: str, words: str, *, by: User | None, at: datetime, note: str = ""
) -> None:
    summary = words % {"number": invoice.number, "vendor": invoice.vendor}
    trail.note(
        project, by=by, at=at, verb=verb, subject="invoice", subject_id=invoice.pk,
        summary=f"{summary}: {note.strip()}" if note.strip() else summary,
    )  # fmt: skip
