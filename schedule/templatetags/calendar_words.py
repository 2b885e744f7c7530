"""Calendars in words: {% load calendars %}."""

from django import template

from schedule import wording_calendars as telling
from schedule.calc.calendars import Calendar
from schedule.calc.rests import Closed

register = template.Library()


@register.filter
def rules(calendar: Calendar, locale: str) -> str:
    """Monday to Friday, without the public holidays of Scotland."""
    words = telling.rules(calendar, locale)
    return words[:1].upper() + words[1:]


@register.filter
def closure(closed: Closed, locale: str) -> str:
    """Mon 21 Dec 2026 to Sun 3 Jan 2027: new year."""
    return telling.closure(closed, locale)


@register.filter
def users(count: int) -> str:
    """3 activities name it."""
    return telling.users(count)
