"""Activities in words: {% load sequence_words %}{{ row|float_words }}."""

from typing import Any

from django import template
from django.utils.translation import gettext as _

from projects import display
from projects.templatetags.show import tongue
from schedule import wording, wording_activity
from schedule.calc.gates import NO, OVERRULED, YES
from schedule.calc.listing import Group, Row
from schedule.calc.rests import Rest
from schedule.models import Link
from schedule.selectors.holds import Covering

register = template.Library()


@register.filter
def float_words(row: Row) -> str:
    """critical, or 6 working days; nothing once it is done."""
    return wording.float_of(row)


@register.filter
def float_in_words(row: Row) -> str:
    """critical, or 6 working days of float."""
    return wording.float_long(row)


@register.filter
def too_late(row: Row) -> str:
    """3 working days too late for the target, or nothing."""
    return wording.too_late(row)


@register.filter
def state_words(row: Any) -> str:
    """done, under way, not started."""
    return wording.state(row.state)


@register.filter
def against_target(days: int) -> str:
    """7 days after the target."""
    return wording.against_target(days)


@register.filter
def against_plan(days: int) -> str:
    """14 days later than planned."""
    return wording.against_plan(days)


@register.filter
def group_name(group: Group) -> str:
    return wording.group(group, tongue())


@register.filter
def group_counts(group: Group) -> str:
    return wording.counts(group)


@register.filter
def span_short(row: Any) -> str:
    """3 Feb – 5 Feb, or the one day."""
    first, last = display.day(row.start_on, tongue(), short=True), display.day(row.finish_on, tongue(), short=True)
    return first if row.start_on == row.finish_on else f"{first} – {last}"


@register.filter
def rest_words(rest: Rest) -> str:
    """5 Apr – 9 Apr: inspector away."""
    first, last = display.day(rest.first, tongue(), short=True), display.day(rest.last, tongue(), short=True)
    days = first if rest.first == rest.last else f"{first} – {last}"
    return f"{days}: {rest.why}" if rest.why else days


@register.filter
def cover_words(answer: Covering | None) -> str:
    """The answer to "may we cover it?" in a few words."""
    if answer is None:
        return ""
    return {
        YES: _("yes"),
        NO: _("not yet: %s") % (answer.counted or ", ".join(hold.title for hold in answer.stopping)),
        OVERRULED: _("overruled"),
    }.get(answer.verdict, _("no hold point stands before it"))


@register.filter
def link_before(link: Link) -> str:
    """How an activity waits for the one before."""
    return wording_activity.link(link, waits=True)


@register.filter
def link_after(link: Link) -> str:
    """How the one after waits for this activity."""
    return wording_activity.link(link, waits=False)
