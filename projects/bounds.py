"""What an entered figure or date may be; outside of it there is a slip of the hand, and it is said so."""

from datetime import date
from decimal import Decimal

from django.db import models
from django.utils.translation import gettext as _

from projects.faults import Refused
from projects.fields import as_plain_text
from units.amounts import LARGEST_MINOR

EARLIEST = date(1990, 1, 1)
LATEST = date(2150, 12, 31)


def amount_within_bounds(minor: int, currency: str, *, field: str, negative: bool = False) -> int:
    """Let an amount pass, or refuse it. Raises: Refused."""
    if minor < 0 and not negative:
        raise Refused(_("An amount below zero does not belong here; leave out the minus."), field=field)
    if abs(minor) > LARGEST_MINOR:
        raise Refused(_("This amount is larger than any build; check the number of digits."), field=field)
    return minor


def date_within_bounds(on: date | None, *, field: str, earliest: date = EARLIEST, latest: date = LATEST) -> date | None:
    """Let a date pass, or refuse it. Raises: Refused."""
    if on is not None and not earliest <= on <= latest:
        raise Refused(
            _("%(date)s is out of range; give a date from %(first)s to %(last)s.")
            % {"date": on.isoformat(), "first": earliest.isoformat(), "last": latest.isoformat()},
            field=field,
        )
    return on


def share_within_bounds(share: Decimal | None, *, field: str, message: str, most: int = 100) -> Decimal | None:
    """Let a percentage or a chance pass, or refuse it with a message. Raises: Refused."""
    if share is not None and not (share.is_finite() and 0 <= share <= most):
        raise Refused(message, field=field)
    return share


def columns_within_bounds(row: models.Model) -> None:
    """Refuse a row with a text or an exact number too long for its column; not every database says so. Raises: Refused."""
    for field in row._meta.concrete_fields:
        value = getattr(row, field.attname)
        if isinstance(value, str) and field.max_length is not None and len(value) > field.max_length:
            raise Refused(_("At most %d letters are kept here; shorten it.") % field.max_length, field=field.name)
        if isinstance(value, Decimal) and not _fits(value, field.max_length or 0):
            raise Refused(_("This number is out of range; check its digits."), field=field.name)


def _fits(number: Decimal, length: int) -> bool:
    """The size is asked before the number is written out: 1E+999999999 would fill the memory."""
    return number.is_finite() and abs(number.adjusted()) < length and len(as_plain_text(number)) <= length
