"""Exchange rates: written once, the newest of a currency stands."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.utils.translation import gettext as _

from projects import signals, trail
from projects.bounds import date_within_bounds
from projects.calc.rates import is_unusual
from projects.faults import Refused
from projects.fields import as_plain_text
from projects.models import ExchangeRate, Project, User
from projects.services.locks import lock
from units.money import CURRENCIES

LARGEST_RATE = Decimal(10**9)
MOST_PLACES = 12


@dataclass(frozen=True, slots=True)
class RateSet:
    """A rate as written, and whether it lies oddly far from the one before."""

    rate: ExchangeRate
    unusual: bool


@transaction.atomic
def set_rate(
    project: Project,
    *,
    currency: str,
    rate: Decimal,
    rated_on: date,
    by: User,
    now: datetime,
    today: date,
    purpose: str = ExchangeRate.Purpose.BUDGET,
) -> RateSet:
    """Write what one unit of another currency is worth in the project's; quotes already logged keep their own rate.

    Args:
        rate: units of the project's currency for one unit of `currency` [-], above zero.
        purpose: what it is for: quotes and agreements, or what is not yet billed.
    Writes ExchangeRate and a trail row, and tells the apps above. Not safe to repeat: each call is a further row.
    Raises: Refused, naming the field.
    """
    held = lock(project)
    _check(held, currency, rate, rated_on, today)
    before = _before(held, currency, purpose)
    row = ExchangeRate.objects.create(
        project=held, currency=currency, purpose=purpose, rate=rate, rated_on=rated_on, entered_at=now, entered_by=by
    )
    trail.note(
        held, by=by, at=now, verb="set", subject="rate", subject_id=row.pk,
        summary=_summary(purpose) % {"other": currency, "rate": as_plain_text(rate), "own": held.currency},
    )  # fmt: skip
    signals.rate_set.send(sender=ExchangeRate, rate=row, by=by, now=now, today=today)
    return RateSet(row, is_unusual(rate, before))


def _before(project: Project, currency: str, purpose: str) -> Decimal | None:
    """The rate that stood: of the same purpose, or, for the first of today, the one the quotes were reckoned at."""
    rows = ExchangeRate.objects.filter(project=project, currency=currency).order_by("-rated_on", "-pk")
    found = rows.filter(purpose=purpose).first() or rows.first()
    return found.rate if found else None


def _summary(purpose: str) -> str:
    if purpose == ExchangeRate.Purpose.TODAY:
        return _("Set today\u2019s rate: 1 %(other)s = %(rate)s %(own)s")
    return _("Set the rate: 1 %(other)s = %(rate)s %(own)s")


def _check(project: Project, currency: str, rate: Decimal, rated_on: date, today: date) -> None:
    if currency not in CURRENCIES:
        raise Refused(_("This is no currency code; give one like EUR."), field="currency")
    if currency == project.currency:
        raise Refused(_("%s is the project's own currency and needs no rate.") % currency, field="currency")
    if not rate.is_finite() or not 0 < rate <= LARGEST_RATE:
        raise Refused(_("A rate is a number above zero."), field="rate")
    if len(as_plain_text(rate).partition(".")[2]) > MOST_PLACES:
        raise Refused(_("At most %s decimals are kept here.") % MOST_PLACES, field="rate")
    date_within_bounds(rated_on, field="rated_on")
    if rated_on > today:
        raise Refused(_("This date lies ahead; give the day on which the rate was read."), field="rated_on")
