"""What waiting costs, as the pages of a decision say it."""

from collections.abc import Iterable

from django import template

from decisions import wording_waiting
from decisions.calc.waiting import Point
from projects.access import Door

register = template.Library()


@register.filter
def waiting_sentence(points: Iterable[Point], door: Door) -> str:
    """From when on waiting costs what."""
    return wording_waiting.sentence(points, door.project)


register.filter("waiting_float", wording_waiting.float_words)
register.filter("waiting_moved", wording_waiting.moved_words)
