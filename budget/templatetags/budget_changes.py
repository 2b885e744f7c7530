"""Words about changes: {% load budget_changes %}."""

from collections.abc import Sequence

from django import template

from budget import wording_of_changes as telling

register = template.Library()


@register.filter
def somebody(names: Sequence[str]) -> str:
    """Who may answer: one of several people, or "" for nobody."""
    return telling.somebody(names) if names else ""


@register.filter
def signed_days(number: int) -> str:
    """2 days longer, 1 day shorter."""
    return telling.days(number)
