"""What-ifs in words: {% load whatif_words %}{{ move.code|named:ground }}."""

from django import template

from projects.access import Door
from schedule import wording_whatif as wording
from schedule.calc.whatif import Answer, Call, Move
from schedule.selectors.questions import Ground, Kept

register = template.Library()


@register.filter
def named(code: str, ground: Ground) -> str:
    """A29 Pre-pour inspection, bay 2."""
    return ground.label(code)


@register.filter
def moved_by(days: int) -> str:
    """7 days later, 2 days earlier, same day."""
    return wording.moved_by(days)


@register.filter
def float_change(move: Move) -> str:
    """9 → 2."""
    return wording.float_change(move)


@register.filter
def doer(code: str, ground: Ground) -> str:
    """The trade that does an activity, or "" where none is named."""
    known = ground.told.get(code)
    return known.trade if known else ""


@register.filter
def against_the_target(answer: Answer) -> str:
    """Against the target: 7 days late as things stand, 14 days late with this."""
    return wording.target(answer)


@register.simple_tag
def call_words(call: Call, ground: Ground, door: Door) -> str:
    """Pre-pour inspection moves from Tue 2 Feb 2027 to Thu 4 Feb 2027."""
    return wording.call(call, ground, door.project.locale)


@register.simple_tag
def answer_in_short(answer: Answer, door: Door) -> str:
    """+7 days, Fri 4 Jun 2027."""
    return wording.short(answer, door.project)


@register.simple_tag
def what_happens(kept: Kept, ground: Ground, door: Door) -> list[str]:
    """The steps of a kept question, a sentence each."""
    return wording.happens(kept, ground, door.project.locale)
