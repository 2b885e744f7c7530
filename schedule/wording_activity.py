"""One activity in sentences: when it is done, why then, and how far it may slip."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project
from schedule import wording
from schedule.calc import why as reasons
from schedule.models import Activity, Link
from schedule.selectors.activity import Page, Planned


def sentence(page: Page, project: Project) -> str:
    """When it is done, or was, and what hangs on it."""
    row, locale = page.activity, project.locale
    if row.removed_on:
        return _("%s is not in the plan any more.") % row
    if row.early_start_on is None or row.early_finish_on is None:
        return str(row)
    told = {
        "activity": row,
        "start": display.day(row.early_start_on, locale),
        "finish": display.day(row.early_finish_on, locale),
        "float": _float(row),
    }
    if row.finished_on:
        return _("%(activity)s was done on %(finish)s.") % told
    if row.started_on:
        return (
            _("%(activity)s is under way since %(start)s and is done on %(finish)s, as known today: %(float)s.") % told
        )
    if row.days == 0:
        return _("%(activity)s falls on %(finish)s: %(float)s.") % told
    if row.early_start_on == row.early_finish_on:
        return _("%(activity)s is planned for %(start)s: %(float)s.") % told
    return _("%(activity)s starts on %(start)s and is done on %(finish)s: %(float)s.") % told


def _float(row: Activity) -> str:
    return _("critical") if row.critical else _("%s of float") % wording.slack(row.float_days, elapsed=row.elapsed)


def may_slip(page: Page, project: Project) -> str:
    """What the float means: how far it may slip before other work moves, and before the finish does."""
    row, locale = page.activity, project.locale
    if row.finished_on or row.late_finish_on is None or page.free_until is None or row.early_finish_on is None:
        return ""
    what = _("the opening") if project.opens_on else _("the finish")
    if row.critical:
        return _("Every working day it slips moves %s.") % what
    told = {
        "free": display.day(page.free_until, locale),
        "late": display.day(row.late_finish_on, locale),
        "what": what,
    }
    if page.free_until >= row.late_finish_on:
        return _("It can finish up to %(late)s before anything else moves, %(what)s among it.") % told
    if row.free_days <= 0:
        return _("If it slips, what waits for it moves at once; %(what)s moves when it finishes after %(late)s.") % told
    return _("It can finish up to %(free)s before anything else moves; up to %(late)s before %(what)s moves.") % told


def for_target(row: Activity, project: Project) -> str:
    """When it would have to be finished to open on the target, where it is planned for later than that."""
    if row.finished_on or not row.target_float_days or row.target_float_days > 0 or row.target_finish_on is None:
        return ""
    told = {
        "day": display.day(row.target_finish_on, project.locale),
        "days": wording.slack(-row.target_float_days, elapsed=row.elapsed),
    }
    return _("To open on the target it would have to be finished by %(day)s, %(days)s earlier.") % told


def why(page: Page, project: Project) -> str:
    """Why it starts when it does."""
    row, found = page.activity, page.why
    if found is None or row.early_start_on is None:
        return ""
    start = display.day(row.early_start_on, project.locale)
    return " ".join(filter(None, (_held(page, start, project), _rested(page, project))))


def _held(page: Page, start: str, project: Project) -> str:
    row, found = page.activity, page.why
    if found is None or found.kind == reasons.BEGUN:
        return _("It began on %s; nothing moves that any more.") % start
    if found.kind == reasons.LINK:
        held = ", ".join(str(driver) for driver in page.drivers)
        return _("It starts on %(start)s because it waits for %(held)s.") % {"start": start, "held": held}
    if found.kind == reasons.NOT_BEFORE and row.not_before_on:
        day = display.day(row.not_before_on, project.locale)
        because = f": {row.not_before_why}" if row.not_before_why else ""
        return _("It may not begin before %(day)s%(because)s.") % {"day": day, "because": because}
    if found.kind == reasons.TODAY:
        return _("Nothing holds it back; as it has not begun, it starts on %s at the earliest.") % start
    return _("Nothing comes before it: it starts when the plan begins.")


def _rested(page: Page, project: Project) -> str:
    rest = page.why.rest if page.why else None
    if rest is None:
        return ""
    told = {
        "first": display.day(rest.first, project.locale, short=True),
        "last": display.day(rest.last, project.locale, short=True),
        "why": rest.why or _("days off"),
    }
    return _("The days before, %(first)s to %(last)s, are not worked: %(why)s.") % told


def link(found: Link, *, waits: bool) -> str:
    """What a link says, from the side of the one that waits or of the one before."""
    words = {
        "FS": (_("when it is finished"), _("starts when this is finished")),
        "SS": (_("when it has started"), _("starts when this has started")),
        "FF": (_("this ends after it ends"), _("ends after this ends")),
        "SF": (_("this ends after it starts"), _("ends after this starts")),
    }
    told = words[found.kind][0 if waits else 1]
    if not found.lag_days:
        return told
    size = display.days(abs(found.lag_days)) if found.lag_elapsed else display.working_days(abs(found.lag_days))
    return f"{told}, {(_('%s later') if found.lag_days > 0 else _('%s earlier')) % size}"


def planned(found: Planned, row: Activity) -> str:
    """How it stands against the frozen plan, in days of the calendar."""
    words = wording.against_plan(found.days_later)
    if found.days == row.days:
        return words
    now = wording.slack(row.days, elapsed=row.elapsed)
    takes = ngettext("%(now)s in place of %(then)d day", "%(now)s in place of %(then)d", found.days)
    return f"{words}; {takes % {'now': now, 'then': found.days}}"


def reported(row: Activity) -> str:
    """What was reported, as one sentence."""
    if row.finished_on:
        return _("%s is done.") % row
    return _("%s is under way.") % row if row.started_on else _("%s has not started.") % row
