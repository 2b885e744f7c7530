"""What an entered figure or date may be; outside of it there is a slip of the hand, and it is said so."""

from datetime import date

from django.utils.translation import gettext as _

from projects.faults import Refused
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
