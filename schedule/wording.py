"""Dates and floats in words."""

from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project
from schedule.calc.listing import DONE, NOT_STARTED, UNDER_WAY, Group, Row
from schedule.selectors.overview import Overview

#: A mark that is no letter, so that a picture in black and white tells them apart as well.
TICK = "\u2713"


def state(name: str) -> str:
    """done, under way or not started, for the reader."""
    return {DONE: _("done"), UNDER_WAY: _("under way"), NOT_STARTED: _("not started")}[name]


def slack(days: int, *, elapsed: bool = False) -> str:
    """A float as a length: working days of its own calendar, or days where the work goes on every day."""
    return display.days(days) if elapsed else display.working_days(days)


def float_of(row: Row) -> str:
    """How far an activity may slip before the finish moves: "critical", "6 working days"; of one that is done, nothing."""
    if not row.is_left:
        return ""
    return _("critical") if row.critical else slack(row.float_days, elapsed=row.elapsed)


def too_late(row: Row) -> str:
    """How far an activity is behind what the target asks: "3 working days too late for the target"; else nothing."""
    if not row.is_left or row.target_float_days is None or row.target_float_days >= 0:
        return ""
    return _("%s too late for the target") % slack(-row.target_float_days, elapsed=row.elapsed)


def float_long(row: Row) -> str:
    """The float in a few words of its own: "critical", "6 working days of float"."""
    words = float_of(row)
    return words if row.is_critical or not words else _("%s of float") % words


def against_target(days: int) -> str:
    """How a finish stands against the target: "7 days after the target"."""
    if days == 0:
        return _("on the target")
    if days > 0:
        return ngettext("%(n)d day after the target", "%(n)d days after the target", days) % {"n": days}
    return ngettext("%(n)d day before the target", "%(n)d days before the target", -days) % {"n": -days}


def against_plan(days: int) -> str:
    """How a finish stands against the frozen plan: "14 days later than planned"."""
    if days == 0:
        return _("as planned")
    if days > 0:
        return ngettext("%(n)d day later than planned", "%(n)d days later than planned", days) % {"n": days}
    return ngettext("%(n)d day earlier than planned", "%(n)d days earlier than planned", -days) % {"n": -days}


def sentence(seen: Overview, project: Project) -> str:
    """What the page answers: when it opens, against what, what holds it, and what the days cost."""
    if seen.finish_on is None:
        return _("Nothing is planned yet.")
    when = _("You open on %s") if seen.target_on else _("The work is finished on %s")
    told = [when % display.day(seen.finish_on, project.locale)]
    if seen.days_late is not None:
        told[0] = f"{told[0]}, {against_target(seen.days_late)}"
    told += [_held_by(seen)]
    if seen.cost_minor:
        told.append(_("the days cost %s") % display.money(seen.cost_minor, project, brief=True))
    return "; ".join(told) + "."


def _held_by(seen: Overview) -> str:
    if not seen.left:
        return _("everything is done")
    words = ngettext(
        "%(critical)d of the %(left)d activity left is critical",
        "%(critical)d of the %(left)d activities left are critical",
        seen.left,
    )
    return words % {"critical": seen.critical, "left": seen.left}


def group(found: Group, locale: str) -> str:
    """The heading of a group."""
    if isinstance(found.first, str):
        return found.first or _("No trade")
    if found.kind == "month":
        return month(found.first, locale)
    if found.kind == "week":
        return _("Week of %s") % display.day(found.first, locale)
    return _("Under way") if found.kind == "now" else _("Done")


def month(first: date, locale: str) -> str:
    """A month with its year: "March 2027"."""
    return _in_calendar(first, locale, "yMMMM")


def month_short(first: date, locale: str) -> str:
    """A month with its year, short: "Mar 2027"."""
    return _in_calendar(first, locale, "yMMM")


def _in_calendar(day: date, locale: str, skeleton: str) -> str:
    from babel.dates import format_skeleton

    return str(format_skeleton(skeleton, day, locale=display.locale_of(locale)))


def counts(found: Group) -> str:
    """How many activities stand under a heading, and how many of them are done or critical."""
    words = [ngettext("%(n)d activity", "%(n)d activities", found.count) % {"n": found.count}]
    if found.done and found.kind != "done":
        words.append(_("%d done") % found.done)
    if found.critical:
        words.append(_("%d critical") % found.critical)
    return ", ".join(words)
