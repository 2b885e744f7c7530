"""What waiting costs, and what an option does to the plan, as the pages of a decision say it."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import template

from decisions import wording_plan, wording_waiting
from decisions.calc.waiting import Point
from projects.access import Door

register = template.Library()


@register.filter
def waiting_sentence(points: Iterable[Point], door: Door) -> str:
    """From when on waiting costs what."""
    return wording_waiting.sentence(points, door.project)


@register.filter
def plan_sentence(plan: Mapping[str, Any], door: Door) -> str:
    """What becomes of the opening and of the float."""
    return wording_plan.sentence(plan, door.project)


register.filter("waiting_float", wording_waiting.float_words)
register.filter("waiting_moved", wording_waiting.moved_words)
