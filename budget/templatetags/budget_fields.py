"""What belongs beside an entry field of Money, read off the field itself: {% load budget_fields %}."""

from types import SimpleNamespace
from typing import Any

from django import forms, template
from django.forms import BoundField
from django.utils.translation import get_language

from projects import display
from projects.forms import DateField, MoneyField, NumberField, PercentField

register = template.Library()


@register.filter
def sign_before(bound: BoundField) -> str:
    """The currency's sign before an amount."""
    field = bound.field
    if isinstance(field, MoneyField):
        return display.symbol(SimpleNamespace(currency=field.currency, locale=field.locale))
    return ""


@register.filter
def sign_after(bound: BoundField) -> str:
    """The percent sign after a percentage."""
    return "%" if isinstance(bound.field, PercentField) else ""


@register.filter
def room(bound: BoundField) -> str:
    """How much width an entry needs."""
    narrow = isinstance(bound.field, MoneyField | NumberField | DateField | forms.IntegerField)
    return "mid" if narrow or 0 < (getattr(bound.field, "max_length", None) or 0) <= 20 else ""


@register.filter
def theirs(bound: BoundField) -> Any:
    """What somebody else saved meanwhile, or None."""
    return getattr(bound.form, "theirs", {}).get(bound.name)


@register.filter
def money_in(minor: int | None, currency: str) -> str:
    """An amount in the currency of a quote, which need not be the project's: $118,000.00."""
    if minor is None:
        return "\u2013"
    return display.money(minor, SimpleNamespace(currency=currency, locale=get_language() or "en-gb"))
