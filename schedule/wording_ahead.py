"""The look-ahead and the week's promises in words."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project
from schedule.calc.promises import Early, Share
from schedule.selectors.ahead import CallToMake, WeekAhead, Work
from schedule.selectors.promises import Figures, WeekOfPromises


def _day(on: date, project: Project) -> str:
    return display.day(on, project.locale)


def sentence(works: Sequence[Work], weeks: Sequence[WeekAhead], project: Project) -> str:
    """The one sentence of the look-ahead: what begins, how much of it is ready, what is overdue."""
    begins = [work for work in works if not work.begun]
    if not works:
        return _("Nothing is planned for the coming six weeks.")
    ready = sum(1 for work in begins if work.ready)
    told = ngettext(
        "%(n)d activity begins by %(last)s, ready: %(ready)d.",
        "%(n)d activities begin by %(last)s, %(ready)d of them ready.",
        len(begins),
    ) % {"n": len(begins), "last": _day(weeks[-1].week.last_on, project), "ready": ready}
    late = sum(1 for work in works for one in work.open if one.overdue)
    if not late:
        return told
    return told + " " + ngettext("%(n)d need is overdue.", "%(n)d needs are overdue.", late) % {"n": late}


def week(ahead: WeekAhead, place: int, project: Project) -> str:
    """The heading of a week."""
    first, last = ahead.week.first_on, ahead.week.last_on
    days = f"{display.day(first, project.locale, short=True)} \u2013 {display.day(last, project.locale, short=True)}"
    return [_("This week, %s"), _("Next week, %s")][place] % days if place < 2 else days


def call(one: CallToMake) -> str:
    """Why somebody is called: "begins in two weeks"."""
    return {14: _("begins in two weeks"), 7: _("begins in a week"), 1: _("begins the next day")}[one.call.days_before]


def trade(name: str, works: Sequence[Work], project: Project) -> str:
    """The one sentence of a trade's page: its window."""
    if not works:
        return _("%s has no work left in the plan.") % name
    first, last = min(work.start_on for work in works), max(work.finish_on for work in works)
    words = {"trade": name, "first": _day(first, project), "last": _day(last, project)}
    return _("%(trade)s: on site between %(first)s and %(last)s.") % words


# --- promises -------------------------------------------------------------------------------------------------


def percent(share: Decimal | None, project: Project) -> str:
    return display.percent(share, project.locale) if share is not None else "\u2013"


def of(share: Share, project: Project) -> str:
    """A share as a count and a percentage: "12 of 15 (80%)"."""
    if share.of_one is None:
        return _("none yet")
    words = {"part": share.part, "whole": share.whole, "percent": percent(share.of_one, project)}
    return _("%(part)d of %(whole)d (%(percent)s)") % words


def week_of_promises(seen: WeekOfPromises, project: Project) -> str:
    """The one sentence of a week of promises."""
    words = {"first": display.day(seen.first_on, project.locale), "n": len(seen.rows)}
    if seen.counted:
        kept = Share(seen.counted.kept, seen.counted.promised)
        counts = {"kept": kept.part, "n": kept.whole, "percent": percent(kept.of_one, project)}
        return _("Week of %(first)s: %(kept)d of %(n)d promises kept, %(percent)s.") % (words | counts)
    if not seen.rows:
        return _("Nothing is promised for the week of %(first)s yet.") % words
    told = ngettext(
        "%(n)d promise for the week of %(first)s", "%(n)d promises for the week of %(first)s", len(seen.rows)
    ) % words  # fmt: skip
    if seen.begun:
        return _("%(told)s: %(kept)d kept, %(open)d not yet told.") % {
            "told": told, "kept": seen.kept, "open": seen.unmarked,
        }  # fmt: skip
    return f"{told}."


def missing(work: Work) -> str:
    """What still stands in the way of work that is to be promised: the first things by name, the others counted."""
    names = [one.what for one in work.open]
    told = "; ".join(names[:3])
    more = len(names) - 3
    return told if more <= 0 else told + ngettext("; %(n)d more", "; %(n)d more", more) % {"n": more}


def how_early(early: Early, project: Project) -> str:
    """How long before the start needs were raised."""
    if early.middle is None:
        return _("none yet")
    told = _("half of them at least %s before the work begins") % display.days(early.middle)
    late = _("%(share)s less than a week before") % {"share": of(early.late, project)}
    return f"{told}; {late}"


def figures(seen: Figures, project: Project) -> list[tuple[str, str]]:
    """The figures of the last weeks, each with its name."""
    since = display.day(seen.since, project.locale)
    told = [
        (_("Promises kept"), of(seen.kept, project)),
        (_("There on its day, of what was needed since %s") % since, of(seen.ready, project)),
        (_("Raised, since then"), how_early(seen.early, project)),
    ]
    return told
