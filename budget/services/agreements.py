"""Accepting a quote, whole or in part, and taking an acceptance back."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import (
    Agreement,
    AgreementGap,
    AgreementLine,
    AgreementReversal,
    Cause,
    LineItem,
    OwnForecast,
    Quote,
    QuoteLine,
)
from budget.selectors.packages import Package, item_key, packages
from budget.services import change_rules
from budget.services.bounds import amount_within_bounds, date_within_bounds, share_within_bounds
from budget.services.ledger import Deed, lock, reverse, settle
from budget.services.lines import enter_own_forecast
from projects import display, limits, trail
from projects.faults import Refused
from projects.models import Project, User
from units import money


@dataclass(frozen=True, slots=True)
class Terms:
    """What is agreed beyond the quote as it stands."""

    #: {line id: agreed amount in the quote's currency}; a line left out is agreed as quoted.
    amounts: Mapping[int, int] = field(default_factory=dict)
    #: The lines accepted; empty means every line of the quote.
    only: frozenset[int] = frozenset()
    #: {line id: what is still to be let on it besides this agreement} [project minor units].
    still_to_let: Mapping[int, int] = field(default_factory=dict)
    retention_percent: Decimal | None = None
    note: str = ""


@transaction.atomic
def accept_quote(
    quote: Quote,
    *,
    by: User,
    role: str,
    now: datetime,
    today: date,
    terms: Terms = Terms(),
    agreed_on: date | None = None,
) -> Agreement:
    """Accept a quote without a decision between options.

    Writes Agreement with its lines and open gaps, movements `quoted`, and a trail row. A second call is refused.
    Raises: Refused when the quote is not open, has run out, a line is let already, or the sum is above the role's limit.
    """
    project = lock(quote.project)
    quote = Quote.objects.select_related("vendor").select_for_update(of=("self",)).get(pk=quote.pk)
    on = date_within_bounds(agreed_on or today, field="agreed_on", earliest=quote.quoted_on, latest=today) or today
    agreement = enter_agreement(project, quote, terms, by=by, now=now, on=on, today=today)
    sum_minor = sum(line.amount_minor for line in agreement.lines.all())
    limits.must_allow(project, role, sum_minor)
    deed = Deed(by, now, today, Cause.QUOTED, _("let to %s") % quote.vendor, "agreement", agreement.pk)
    settle(project, lines_of(quote), deed)
    trail.note(
        project, by=by, at=now, verb="accepted", subject="quote", subject_id=quote.pk,
        summary=_("Accepted the quote of %s") % quote.vendor, details={"agreement": agreement.pk},
    )  # fmt: skip
    return agreement


def enter_agreement(
    project: Project, quote: Quote, terms: Terms, *, by: User | None, now: datetime, on: date, today: date
) -> Agreement:
    """Check and write an agreement's rows alone, lift own forecasts of its lines, mark the quote accepted.

    For services that settle and write the trail themselves.
    """
    if quote.state != Quote.State.OPEN:
        raise Refused(
            _("The quote of %(vendor)s is %(state)s; only an open quote can be accepted.")
            % {"vendor": quote.vendor, "state": quote.get_state_display()}
        )
    if quote.valid_until is not None and quote.expired(on):
        raise Refused(
            _("The quote of %(vendor)s ran out on %(date)s; have the vendor confirm it and renew it first.")
            % {"vendor": quote.vendor, "date": display.day(quote.valid_until, project.locale)}
        )
    share_within_bounds(
        terms.retention_percent, field="retention_percent", message=_("A percentage lies between 0 and 100.")
    )
    rows = _lines_to_let(quote, terms)
    agreement = Agreement.objects.create(
        project=project, vendor=quote.vendor, quote=quote, agreed_on=on, retention_percent=terms.retention_percent,
        note=terms.note[:300], recorded_at=now, recorded_by=by,
    )  # fmt: skip
    for package in packages(project, [row.line_id for row in rows]):
        _enter_line(project, agreement, package, terms)
        _lift_own_forecast(package.line, quote, by=by, now=now, on=today)
    quote.state = Quote.State.ACCEPTED
    quote.version += 1
    quote.save(update_fields=["state", "version"])
    return agreement


def _lines_to_let(quote: Quote, terms: Terms) -> list[QuoteLine]:
    rows = [row for row in quote.lines.select_related("line") if not terms.only or row.line_id in terms.only]
    if not rows:
        raise Refused(_("Choose at least one line of the quote."), field="lines")
    for row in rows:
        if row.line.closed_on is not None:
            raise Refused(_("%s is closed; open it again on its own page before anything further is let.") % row.line)
        standing = AgreementLine.objects.filter(line_id=row.line_id, agreement__reversal=None).order_by("pk").last()
        if standing is not None and not standing.still_to_let_minor:
            raise Refused(
                _("%(line)s is let to %(vendor)s already; take that acceptance back first.")
                % {"line": row.line, "vendor": standing.agreement.vendor}
            )
    return rows


def _enter_line(project: Project, agreement: Agreement, package: Package, terms: Terms) -> None:
    line, quote = package.line, agreement.quote
    agreed_quoted, agreed = _amounts(project, package, quote, terms)
    row = AgreementLine.objects.create(
        agreement=agreement,
        line=line,
        amount_minor=amount_within_bounds(agreed, project.currency, field="amount"),
        amount_quoted_minor=agreed_quoted,
        still_to_let_minor=amount_within_bounds(
            terms.still_to_let.get(line.pk, 0), project.currency, field="still_to_let"
        ),
    )
    AgreementGap.objects.bulk_create(
        AgreementGap(agreement_line=row, name=name, amount_minor=amount)
        for name, amount in open_gaps(package, quote.pk)
    )


def _amounts(project: Project, package: Package, quote: Quote, terms: Terms) -> tuple[int, int]:
    """The agreed amount in the quote's currency and in the project's."""
    line = package.line
    if line.pk in terms.amounts:
        agreed_quoted = amount_within_bounds(terms.amounts[line.pk], quote.currency, field="amount")
        agreed = money.convert(
            agreed_quoted, from_currency=quote.currency, to_currency=project.currency, rate=quote.rate
        )
        return agreed_quoted, agreed
    agreed = package.kept[quote.pk].net_minor
    given = sum(item.amount_quoted_minor or 0 for item in package.items[quote.pk].values())
    return given, agreed


def open_gaps(package: Package, quote_id: int) -> list[tuple[str, int]]:
    """What a quote leaves to be paid beside it on a line: its plugs and its extras, by name [project minor units]."""
    levelled = next(row for row in package.levelling.quotes if row.key == str(quote_id))
    names = {item_key(package.line.pk, item.pk): item.name for item in package.scope}
    plugs = [
        (names.get(key, package.line.description), figure.amount_minor)
        for key, figure in levelled.items.items()
        if figure.plug and figure.amount_minor
    ]
    return plugs + [(extra.name, extra.amount_minor) for extra in package.extras[quote_id] if extra.amount_minor]


def _lift_own_forecast(line: LineItem, quote: Quote, *, by: User | None, now: datetime, on: date) -> None:
    newest = OwnForecast.objects.filter(line=line).order_by("pk").last()
    if newest is not None and newest.amount_minor is not None:
        enter_own_forecast(line, None, reason=_("lifted: let to %s") % quote.vendor, by=by, now=now, on=on)


@transaction.atomic
def reverse_agreement(agreement: Agreement, *, reason: str, by: User, now: datetime, today: date) -> None:
    """Take an acceptance back: the quote is open again and the movements are reversed; nothing is deleted.

    Writes AgreementReversal, reversing movements, a trail row. A second call is refused, and so is an acceptance that
    a row of an app above has made: it is taken back there, with all else that it did.
    """
    project = lock(agreement.project)
    _must_stand_alone(agreement)
    if not reason.strip():
        raise Refused(_("Say why the acceptance is taken back."), field="reason")
    lines = enter_reversal(agreement, reason=reason, by=by, now=now, on=today)
    deed = Deed(by, now, today, Cause.QUOTED, reason)
    lines |= reverse(project, source="agreement", source_id=agreement.pk, deed=deed)
    settle(project, lines, deed)
    trail.note(
        project, by=by, at=now, verb="took back", subject="agreement", subject_id=agreement.pk,
        summary=_("Took back the acceptance of %(vendor)s: %(reason)s") % {"vendor": agreement.vendor, "reason": reason},
    )  # fmt: skip


def _must_stand_alone(agreement: Agreement) -> None:
    """It asks the tables themselves, for the apps above are not known here."""
    own = Agreement._meta.app_label
    above = [tie for tie in Agreement._meta.related_objects if tie.related_model._meta.app_label != own]
    if any(tie.related_model._default_manager.filter(**{tie.field.name: agreement}).exists() for tie in above):
        raise Refused(
            _("Decision %(code)s accepted this quote; reopen the decision, so that all it did is taken back together.")
            % {"code": agreement.note}
        )


def enter_reversal(agreement: Agreement, *, reason: str, by: User | None, now: datetime, on: date) -> set[int]:
    """Write the reversal's rows alone and open the quote again.

    Returns: the lines touched. Raises: Refused while changes or invoices rest on the agreement.
    """
    if AgreementReversal.objects.filter(agreement=agreement).exists():
        raise Refused(_("This acceptance was taken back already."))
    change_rules.must_bear_nothing(agreement)
    AgreementReversal.objects.create(
        agreement=agreement, reason=reason[:300], reversed_on=on, recorded_at=now, recorded_by=by
    )
    Quote.objects.filter(pk=agreement.quote_id).update(state=Quote.State.OPEN)
    return lines_of(agreement.quote)


def lines_of(quote: Quote) -> set[int]:
    """Every line a quote prices: accepting it for one of them closes it for the others, too, so all of them may move."""
    return set(quote.lines.values_list("line_id", flat=True))
