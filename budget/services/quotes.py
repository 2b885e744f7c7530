"""Logging a quote and saying what stands about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from budget.calc import levelling
from budget.models import (
    Cause,
    ImportBatch,
    LineItem,
    Quote,
    QuoteAttachment,
    QuoteExtra,
    QuoteItem,
    QuoteLine,
    QuoteRenewal,
    ScopeItem,
    Vendor,
)
from budget.selectors import vendors
from budget.services import levels
from budget.services.bounds import (
    amount_within_bounds,
    columns_within_bounds,
    date_within_bounds,
    share_within_bounds,
)
from budget.services.ledger import Deed, lock, settle
from projects import display, trail
from projects.faults import Refused
from projects.models import Attachment, ExchangeRate, Project, User
from units import money

Standing = QuoteItem.Standing


@dataclass(frozen=True, slots=True)
class ScopeDraft:
    """What a quote says about one entry of a scope list; a new name puts the entry on the list."""

    name: str
    standing: str
    amount_quoted_minor: int | None = None


@dataclass(frozen=True, slots=True)
class ExtraDraft:
    kind: str
    name: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class QuotedLine:
    """A quote on one line: its price for the line as a whole [quote currency], and what it says of the scope."""

    line_id: int
    amount_quoted_minor: int | None
    scope: tuple[ScopeDraft, ...] = ()
    extras: tuple[ExtraDraft, ...] = ()


@dataclass(frozen=True, slots=True)
class QuoteDraft:
    vendor: str
    currency: str
    quoted_on: date
    lines: tuple[QuotedLine, ...]
    rate: Decimal | None = None
    basis: str = Quote.Basis.FIRM
    valid_until: date | None = None
    lead_days: int | None = None
    reference: str = ""
    discount_quoted_minor: int = 0
    discount_percent: Decimal | None = None
    freight_quoted_minor: int = 0
    tax_percent: Decimal | None = None
    tax_inside_percent: Decimal | None = None
    deposit_percent: Decimal | None = None
    payment_terms: str = ""
    delivery_terms: str = ""
    method: str = ""
    note: str = ""
    attachments: tuple[int, ...] = ()
    replaces_id: int | None = None


@transaction.atomic
def log_quote(
    project: Project, draft: QuoteDraft, *, by: User | None, now: datetime, today: date, again: bool = True
) -> Quote:
    """Write a quote as given, level the lines it prices, and let their likely finals follow.

    Args:
        again: whether a quote that looks logged already is a further one; else it is refused at `again`.
    Writes Quote with its lines, items and extras, perhaps Vendor and ScopeItem rows, movements with the cause `quoted`,
    and a trail row. Not safe to repeat: each call is a further quote.
    Raises: Refused, naming the field.
    """
    project = lock(project)
    if not again and (twin := vendors.twin_of(project, draft)):
        raise Refused(
            _("The quote of %(vendor)s with this date and these amounts is logged already.") % {"vendor": twin.vendor},
            field="again",
        )
    quote = enter_quote(project, draft, by=by, now=now, today=today)
    deed = Deed(by, now, today, Cause.QUOTED, str(quote.vendor), "quote", quote.pk)
    lines = {row.line_id for row in draft.lines} | _retire_replaced(project, draft, quote)
    levels.relevel(project, lines, deed)
    settle(project, lines, deed)
    named = {"vendor": quote.vendor, "date": display.day(quote.quoted_on, project.locale)}
    trail.note(
        project, by=by, at=now, verb="logged", subject="quote", subject_id=quote.pk,
        summary=_("Logged the quote of %(vendor)s dated %(date)s") % named,
    )  # fmt: skip
    return quote


def enter_quote(
    project: Project,
    draft: QuoteDraft,
    *,
    by: User | None,
    now: datetime,
    today: date,
    batch: ImportBatch | None = None,
) -> Quote:
    """Check a draft and write its rows alone; for services that write many and settle once."""
    lines = _checked(project, draft, today)
    quote = Quote(
        project=project,
        vendor=vendor_called(project, draft.vendor),
        reference=draft.reference.strip(),
        currency=draft.currency,
        rate=_rate(project, draft),
        basis=draft.basis,
        quoted_on=draft.quoted_on,
        valid_until=draft.valid_until,
        lead_days=draft.lead_days,
        discount_quoted_minor=draft.discount_quoted_minor,
        discount_percent=draft.discount_percent,
        freight_quoted_minor=draft.freight_quoted_minor,
        tax_percent=draft.tax_percent,
        tax_inside_percent=draft.tax_inside_percent,
        deposit_percent=draft.deposit_percent,
        payment_terms=draft.payment_terms.strip(),
        delivery_terms=draft.delivery_terms.strip(),
        method=draft.method.strip(),
        note=draft.note.strip(),
        replaces_id=draft.replaces_id,
        import_batch=batch,
        logged_at=now,
        logged_by=by,
    )
    columns_within_bounds(quote)
    quote.save()
    for row in draft.lines:
        _enter_line(quote, lines[row.line_id], row)
    _attach(project, quote, draft.attachments)
    return quote


def _checked(project: Project, draft: QuoteDraft, today: date) -> dict[int, LineItem]:
    if not draft.vendor.strip():
        raise Refused(_("Name the vendor."), field="vendor")
    if draft.currency not in money.CURRENCIES:
        raise Refused(
            _("%(code)s is no currency code; use one such as EUR.") % {"code": draft.currency[:12]}, field="currency"
        )
    date_within_bounds(draft.quoted_on, field="quoted_on", latest=today)
    date_within_bounds(draft.valid_until, field="valid_until")
    if draft.valid_until and draft.valid_until < draft.quoted_on:
        raise Refused(_("The quote runs out before its own date; check the two dates."), field="valid_until")
    for name in ("discount_quoted_minor", "freight_quoted_minor"):
        amount_within_bounds(getattr(draft, name), draft.currency, field=name.removesuffix("_quoted_minor"))
    for name in ("discount_percent", "tax_percent", "tax_inside_percent", "deposit_percent"):
        share_within_bounds(getattr(draft, name), field=name, message=_("A percentage lies between 0 and 100."))
    _check_replaced(project, draft)
    lines = _checked_lines(project, draft)
    _check_discount(draft)
    return lines


def _check_replaced(project: Project, draft: QuoteDraft) -> None:
    if draft.replaces_id is None:
        return
    if not Quote.objects.filter(project=project, pk=draft.replaces_id, state=Quote.State.OPEN).exists():
        raise Refused(_("Only an open quote can be replaced; this one is settled."), field="replaces")


def _check_discount(draft: QuoteDraft) -> None:
    """What is taken off is at most what the priced items come to, whichever way it was given."""
    amounts = (amount for row in draft.lines for amount in _amounts(row) if amount is not None)
    if levelling.is_over_discounted(
        tuple(amounts), discount_minor=draft.discount_quoted_minor, discount_percent=draft.discount_percent
    ):
        raise Refused(_("The discount is more than the priced items come to; check it."), field="discount")


def _amounts(row: QuotedLine) -> list[int | None]:
    return [row.amount_quoted_minor, *(entry.amount_quoted_minor for entry in row.scope)]


def _checked_lines(project: Project, draft: QuoteDraft) -> dict[int, LineItem]:
    if not draft.lines:
        raise Refused(_("A quote prices at least one line; choose a line and give its amount."), field="lines")
    lines = {
        line.pk: line
        for line in LineItem.objects.filter(
            project=project, removed_on=None, pk__in=[row.line_id for row in draft.lines]
        )
    }
    if len(lines) != len(draft.lines):
        raise Refused(_("Each line can stand once in a quote and has to belong to this project."), field="lines")
    for row in draft.lines:
        _check_line(lines[row.line_id], row, draft.currency)
    return lines


def _check_line(line: LineItem, row: QuotedLine, currency: str) -> None:
    amounts = _amounts(row)
    if all(amount is None for amount in amounts):
        raise Refused(_("Give the amount quoted for %(line)s.") % {"line": line}, field="amount")
    for amount in amounts:
        if amount is not None:
            amount_within_bounds(amount, currency, field="amount")
    for entry in row.scope:
        if (entry.standing == Standing.PRICED) != (entry.amount_quoted_minor is not None):
            raise Refused(
                _("%(item)s: a priced item bears an amount, any other bears none.") % {"item": entry.name},
                field="scope",
            )
    for extra in row.extras:
        amount_within_bounds(
            extra.amount_minor, line.project.currency, field="extras", negative=extra.kind == QuoteExtra.Kind.CREDIT
        )


def vendor_called(project: Project, name: str) -> Vendor:
    """Find a vendor by name, whatever its case and spacing, or write a new one."""
    name = " ".join(name.split())
    if max(len(name), len(name.casefold())) > 160:  # some letters are two once they are small
        raise Refused(_("The vendor's name is longer than 160 letters; shorten it."), field="vendor")
    vendor, _made = Vendor.objects.get_or_create(project=project, key=name.casefold(), defaults={"name": name})
    return vendor


def _rate(project: Project, draft: QuoteDraft) -> Decimal:
    if draft.currency == project.currency:
        return Decimal(1)
    if draft.rate is not None:
        if not draft.rate.is_finite() or not 0 < draft.rate < 1_000_000:
            raise Refused(_("The exchange rate lies above 0 and below a million."), field="rate")
        return draft.rate
    known = (
        ExchangeRate.objects.filter(purpose="budget", project=project, currency=draft.currency)
        .order_by("-rated_on", "-pk")
        .first()
    )
    if known is None:
        raise Refused(
            _("Give the rate: how many %(own)s one %(other)s is worth.")
            % {"own": project.currency, "other": draft.currency},
            field="rate",
        )
    return known.rate


def _enter_line(quote: Quote, line: LineItem, row: QuotedLine) -> None:
    QuoteLine.objects.create(quote=quote, line=line)
    items = []
    if row.amount_quoted_minor is not None:
        items.append(
            QuoteItem(quote=quote, line=line, standing=Standing.PRICED, amount_quoted_minor=row.amount_quoted_minor)
        )
    for entry in row.scope:
        items.append(
            QuoteItem(
                quote=quote, line=line, scope_item=_scope_entry(line, entry.name),
                standing=entry.standing, amount_quoted_minor=entry.amount_quoted_minor,
            )
        )  # fmt: skip
    if len({item.scope_item_id for item in items}) != len(items):
        raise Refused(
            _("%(line)s: a piece of the work stands once in a quote; name it once.") % {"line": line}, field="scope"
        )
    QuoteItem.objects.bulk_create(items)
    QuoteExtra.objects.bulk_create(
        QuoteExtra(quote=quote, line=line, kind=e.kind, name=e.name[:160], amount_minor=e.amount_minor)
        for e in row.extras
    )


def _scope_entry(line: LineItem, name: str) -> ScopeItem:
    found = ScopeItem.objects.filter(line=line, name__iexact=name.strip()).first()
    if found is None:
        return ScopeItem.objects.create(
            line=line, name=name.strip()[:160], position=ScopeItem.objects.filter(line=line).count()
        )
    if found.removed_at is not None:
        found.removed_at = None
        found.save(update_fields=["removed_at"])
    return found


def _attach(project: Project, quote: Quote, ids: Sequence[int]) -> None:
    found = Attachment.objects.filter(project=project, pk__in=ids)
    QuoteAttachment.objects.bulk_create(QuoteAttachment(quote=quote, attachment=row) for row in found)


def _retire_replaced(project: Project, draft: QuoteDraft, quote: Quote) -> set[int]:
    if draft.replaces_id is None:
        return set()
    old = Quote.objects.get(pk=draft.replaces_id)
    _to_state(old, Quote.State.REPLACED)
    preferred = set(old.lines.filter(preferred=True).values_list("line_id", flat=True))
    QuoteLine.objects.filter(quote=quote, line_id__in=preferred).update(preferred=True)
    old.lines.update(preferred=False)
    return set(old.lines.values_list("line_id", flat=True))


def _to_state(quote: Quote, state: str) -> None:
    quote.state = state
    quote.version += 1
    quote.save(update_fields=["state", "version"])


@transaction.atomic
def renew_quote(
    quote: Quote, *, valid_until: date, note: str, by: User | None, now: datetime, today: date
) -> QuoteRenewal:
    """Write that the vendor holds the same price for longer; the likely finals of its lines follow.

    Writes QuoteRenewal, `Quote.valid_until`, movements `quoted` and a trail row. What the quote first said stays readable
    in the renewal.
    """
    project = lock(quote.project)
    quote = Quote.objects.select_related("vendor").get(pk=quote.pk)
    if quote.state != Quote.State.OPEN:
        raise Refused(
            _("Only an open quote can be renewed; this one is %(state)s.") % {"state": quote.get_state_display()}
        )
    date_within_bounds(valid_until, field="valid_until")
    if quote.valid_until is None or valid_until <= quote.valid_until or valid_until < today:
        raise Refused(_("Give a later date than before, and not one that is past."), field="valid_until")
    renewal = QuoteRenewal.objects.create(
        quote=quote, valid_until=valid_until, was_until=quote.valid_until, confirmed_on=today, note=note.strip()[:200],
        entered_at=now, entered_by=by,
    )  # fmt: skip
    quote.valid_until = valid_until
    quote.version += 1
    quote.save(update_fields=["valid_until", "version"])
    deed = Deed(by, now, today, Cause.QUOTED, _("%s holds the price for longer") % quote.vendor, "quote", quote.pk)
    settle(project, set(quote.lines.values_list("line_id", flat=True)), deed)
    trail.note(
        project, by=by, at=now, verb="renewed", subject="quote", subject_id=quote.pk,
        summary=_("%(vendor)s holds the price until %(date)s") % {"vendor": quote.vendor, "date": valid_until},
    )  # fmt: skip
    return renewal


@transaction.atomic
def withdraw_quote(quote: Quote, *, reason: str, by: User, now: datetime, today: date) -> None:
    """Take an open quote out of the reckoning; it stays readable. Writes movements `quoted` and a trail row."""
    project = lock(quote.project)
    quote = Quote.objects.select_for_update().get(pk=quote.pk)
    if quote.state != Quote.State.OPEN:
        raise Refused(
            _("Only an open quote can be withdrawn; this one is %(state)s.") % {"state": quote.get_state_display()}
        )
    if not reason.strip():
        raise Refused(_("Say why the quote is withdrawn."), field="reason")
    take_out(project, [quote], Deed(by, now, today, Cause.QUOTED, reason, "quote", quote.pk))
    trail.note(
        project, by=by, at=now, verb="withdrew", subject="quote", subject_id=quote.pk,
        summary=_("Withdrew the quote of %(vendor)s: %(reason)s") % {"vendor": quote.vendor, "reason": reason},
    )  # fmt: skip


def take_out(project: Project, quotes: Sequence[Quote], deed: Deed) -> None:
    """Withdraw quotes and let the lines follow; for services that write the trail themselves."""
    lines = set(QuoteLine.objects.filter(quote__in=quotes).values_list("line_id", flat=True))
    QuoteLine.objects.filter(quote__in=quotes).update(preferred=False)
    for quote in quotes:
        _to_state(quote, Quote.State.WITHDRAWN)
    levels.relevel(project, lines, deed)
    settle(project, lines, deed)


@transaction.atomic
def prefer(kept: QuoteLine, *, preferred: bool, by: User | None, now: datetime, today: date) -> None:
    """Mark the quote a line is likely to go to; the line's likely final follows it. One per line.

    Writes movements `quoted` and a trail row. Safe to repeat.
    """
    project = lock(kept.line.project)
    kept = QuoteLine.objects.select_related("quote__vendor", "line").get(pk=kept.pk)
    if kept.quote.state != Quote.State.OPEN:
        raise Refused(
            _("Only an open quote can be preferred; this one is %(state)s.") % {"state": kept.quote.get_state_display()}
        )
    if preferred:
        QuoteLine.objects.filter(line=kept.line, preferred=True).update(preferred=False)
    QuoteLine.objects.filter(pk=kept.pk).update(preferred=preferred)
    note = _("%s is preferred") if preferred else _("%s is no longer preferred")
    settle(
        project, [kept.line_id], Deed(by, now, today, Cause.QUOTED, note % kept.quote.vendor, "quote", kept.quote_id)
    )
    trail.note(
        project, by=by, at=now, verb="preferred", subject="quote", subject_id=kept.quote_id,
        summary=(note % kept.quote.vendor) + f" · {kept.line}",
    )  # fmt: skip
