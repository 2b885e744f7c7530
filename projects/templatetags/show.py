"""Filters that write figures and dates: {% load show %}{{ line.likely|money:door.project }}.

The project (or the door) is the argument, because its currency and locale decide how a figure is written. Dates and
plain numbers need no argument: they follow the locale that was activated when the project was opened.
"""

from datetime import date
from decimal import Decimal
from typing import Any

from django import template
from django.utils.translation import get_language

from projects import display
from projects.models import Role

register = template.Library()
NOTHING = "\u2013"


def priced(holder: Any) -> display.Priced:
    """The project behind a project, a door, or anything else that has one."""
    return getattr(holder, "project", holder)


def tongue() -> str:
    return get_language() or "en-gb"


@register.filter
def money(minor: int | None, holder: Any) -> str:
    """£11,858.00: always with cents, for columns. Nothing is written as a dash."""
    return NOTHING if minor is None else display.money(minor, priced(holder))


@register.filter
def money_brief(minor: int | None, holder: Any) -> str:
    """£11,858: cents only where there are some, for sentences and headline figures."""
    return NOTHING if minor is None else display.money(minor, priced(holder), brief=True)


@register.filter
def size(minor: int | None, holder: Any) -> str:
    """As money_brief, without its sign: for "£1,900 over budget", where the word says which way."""
    return NOTHING if minor is None else display.money(abs(minor), priced(holder), brief=True)


@register.filter
def signed(minor: int | None, holder: Any) -> str:
    """+£1,900.00 or −£12,500.00, for columns."""
    return NOTHING if minor is None else display.money(minor, priced(holder), sign=True)


@register.filter
def signed_brief(minor: int | None, holder: Any) -> str:
    """+£1,900 or −£12,500, for sentences."""
    return NOTHING if minor is None else display.money(minor, priced(holder), brief=True, sign=True)


@register.filter
def sense(minor: int | None) -> str:
    """The class of a signed difference: over, saved or level."""
    return display.sense(minor or 0)


@register.filter
def against_budget(minor: int, holder: Any) -> str:
    """£1,900 over budget."""
    return display.difference(minor, priced(holder), "budget")


@register.filter
def against_first_budget(minor: int, holder: Any) -> str:
    """£11,858 under the first budget."""
    return display.difference(minor, priced(holder), "first_budget")


@register.filter
def against_original(minor: int, holder: Any) -> str:
    """£12,500 saved against the original quote."""
    return display.difference(minor, priced(holder), "original")


@register.filter
def against_originals(minor: int, holder: Any) -> str:
    """£12,500 saved against the original quotes."""
    return display.difference(minor, priced(holder), "originals")


@register.filter
def day(on: date | None) -> str:
    """Fri 28 May 2027."""
    return NOTHING if on is None else display.day(on, tongue())


@register.filter
def day_short(on: date | None) -> str:
    """28 May."""
    return NOTHING if on is None else display.day(on, tongue(), short=True)


@register.filter
def days(number: int) -> str:
    """17 days."""
    return display.days(number)


@register.filter
def working_days(number: int) -> str:
    """12 working days."""
    return display.working_days(number)


@register.filter
def days_left(number: int) -> str:
    """3 days left, today, 2 days ago."""
    return display.days_left(number)


@register.filter
def percent(fraction: Decimal | None) -> str:
    """12.5%, of a fraction."""
    return NOTHING if fraction is None else display.percent(fraction, tongue())


@register.filter
def number(value: Decimal | int | None) -> str:
    """1,234.5: a plain number."""
    return NOTHING if value is None else display.number(value, tongue())


@register.filter
def role_name(role: str) -> str:
    """The word for a role: lead, owner, bookkeeper, viewer."""
    return str(Role(role).label)


@register.filter
def currency_symbol(holder: Any) -> str:
    """The sign of the project's currency, to stand before an entry field."""
    return display.symbol(priced(holder))
