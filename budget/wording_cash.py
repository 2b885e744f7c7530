"""What the page of cash says in sentences."""

from datetime import date

from babel.dates import format_skeleton
from django.utils.translation import gettext as _

from budget.selectors.cash import FundsFacts, Outlook
from projects import display
from projects.models import Project


def opening(seen: Outlook, project: Project) -> str:
    """What is approved and unpaid, what falls due, and how long the money in hand lasts."""
    if not (seen.outgoing or seen.funds.to_complete):
        return _("There is nothing to pay yet.")
    return _("%(approved)s is approved and unpaid; %(due)s falls due in eight weeks; %(lasts)s.") % {
        "approved": display.money(seen.approved_unpaid, project, brief=True),
        "due": display.money(seen.due_in_weeks, project, brief=True),
        "lasts": lasts(seen, project),
    }


def lasts(seen: Outlook, project: Project) -> str:
    """How far the money in hand goes, as a part of a sentence."""
    if not seen.funds.rows:
        return _("no money is promised yet")
    if seen.short_from is None:
        return _("the money in hand covers all that is still to be paid")
    if seen.funds.funds.in_hand_minor <= 0:
        return _("no money is in hand")
    return _("the money in hand lasts into %s") % month(seen.short_from.first, project.locale)


def month(first: date, locale: str) -> str:
    """A month in full: February 2027."""
    return format_skeleton("yMMMM", first, locale=display.locale_of(locale))


def room(told: FundsFacts, project: Project) -> str:
    """Whether what is promised is enough, with the open risks and at the worst of the open prices."""
    room_minor, after = told.funds.room_minor, told.room_after_risk
    if room_minor < 0:
        return _("%s more is needed than anybody has promised.") % display.money(-room_minor, project, brief=True)
    if after < 0:
        return _("It is enough for the likely final, but not for the open risks: they are %s short.") % display.money(
            -after, project, brief=True
        )
    if told.room_at_worst < 0:
        return _(
            "It is enough for the likely final and the open risks, but not if every open price ends at its highest."
        )
    return _(
        "It is enough, also when the open risks cost what they do on average and every open price ends at its highest."
    )


def spread(seen: Outlook, project: Project) -> str:
    """How what has no day is laid out over the months."""
    if seen.rest_dated == seen.rest and seen.dated_lines:
        return _("%s is not billed yet and has no day; it is spread over the dates of its work in the plan.") % (
            display.money(seen.rest, project, brief=True)
        )
    if project.opens_on is None:
        words = _("it is spread evenly until %s, for the project has no opening date")
    else:
        words = _("it is spread evenly until the opening, %s")
    evenly = words % display.day(seen.spread_until, project.locale)
    told = {
        "rest": display.money(seen.rest, project, brief=True),
        "dated": display.money(seen.rest_dated, project, brief=True),
        "other": display.money(seen.rest - seen.rest_dated, project, brief=True),
        "evenly": evenly,
    }
    if not seen.dated_lines:
        return _("%(rest)s is not billed yet and has no day; %(evenly)s.") % told
    return (
        _(
            "%(rest)s is not billed yet and has no day: %(dated)s is spread over the dates of its work in the plan; "
            "%(other)s is on lines that no activity pays for, and %(evenly)s."
        )
        % told
    )
