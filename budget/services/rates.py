"""Exchange rates: today's, which what is let abroad and not yet billed follows, and which one an amount is taken at (ADR 0121)."""

from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from budget.models import AgreementLine, Cause, Movement
from budget.selectors.billing import rates_of_today
from budget.services.ledger import Deed, lock, settle
from projects.faults import Refused
from projects.fields import as_plain_text
from projects.models import ExchangeRate, Project, User
from projects.services import rates
from projects.services.rates import RateSet


@transaction.atomic
def set_today(
    project: Project, *, currency: str, rate: Decimal, rated_on: date, by: User, now: datetime, today: date
) -> RateSet:
    """Write today's rate of a currency.

    Args:
        rate: units of the project's currency for one unit of `currency` [-], above zero.
    Writes ExchangeRate, a trail row, and a movement `currency` on each line let in that currency that moves. A further
    rate of the same day takes the place of the one before, so a slip is mended by entering the right one.
    Raises: Refused, naming the field.
    """
    purpose = ExchangeRate.Purpose.TODAY
    return rates.set_rate(
        project, currency=currency, rate=rate, rated_on=rated_on, by=by, now=now, today=today, purpose=purpose
    )


def follow(rate: ExchangeRate, *, by: User | None, now: datetime, today: date) -> list[Movement]:
    """Settle every line let in a currency whose rate of today was written; called inside that transaction.

    Returns: the movements written. A budget rate moves nothing: agreements keep the rate of their quote.
    """
    if rate.purpose != ExchangeRate.Purpose.TODAY:
        return []
    project = lock(rate.project)
    let = AgreementLine.objects.filter(
        agreement__project=project, agreement__reversal=None, agreement__quote__currency=rate.currency
    )
    note = _("1 %(other)s = %(rate)s %(own)s") % {
        "other": rate.currency, "rate": as_plain_text(rate.rate), "own": project.currency
    }  # fmt: skip
    deed = Deed(by, now, today, Cause.CURRENCY, note, "rate", rate.pk)
    return settle(project, set(let.values_list("line_id", flat=True)), deed)


def rate_of(project: Project, currency: str, given: Decimal | None, *, otherwise: Decimal | None = None) -> Decimal:
    """Find the rate of a currency: as given, else today's, else the one in question, else the budget's.

    Args:
        given: project units for one unit of the currency, or None.
        otherwise: the rate to fall back on before the budget's, such as that of the invoice to be paid.
    Raises: Refused at `rate`.
    """
    if currency == project.currency:
        return Decimal(1)
    if given is not None:
        if not given.is_finite() or not 0 < given < 1_000_000:
            raise Refused(_("The exchange rate lies above 0 and below a million."), field="rate")
        return given
    known = rates_of_today(project).get(currency) or otherwise or _budget_rate(project, currency)
    if known is None:
        raise Refused(
            _("Give the rate: how many %(own)s one %(other)s is worth.") % {"own": project.currency, "other": currency},
            field="rate",
        )
    return known


def _budget_rate(project: Project, currency: str) -> Decimal | None:
    rows = ExchangeRate.objects.filter(project=project, currency=currency, purpose=ExchangeRate.Purpose.BUDGET)
    newest = rows.order_by("rated_on", "pk").last()
    return newest.rate if newest else None
