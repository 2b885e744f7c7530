"""What a deed on the plan did to its dates, in one or two sentences."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from projects import display
from projects.models import Project
from schedule.services.effects import Effect

#: So many activities that moved are named.
NAMED = 6


def moved(effect: Effect, project: Project) -> str:
    """What moved: the opening with its days and their cost, or that it stays, and which activities have other dates."""
    return " ".join(filter(None, (_finish(effect, project), _others(effect))))


def _finish(effect: Effect, project: Project) -> str:
    if effect.finish_after is None:
        return ""
    after = display.day(effect.finish_after, project.locale)
    what = {"what": _("The opening") if effect.target_on else _("The finish"), "after": after}
    if effect.finish_before is None:
        return _("%(what)s is expected on %(after)s.") % what
    if not effect.days:
        return _("%(what)s stays on %(after)s.") % what
    what |= {"before": display.day(effect.finish_before, project.locale), "by": _by(effect, project)}
    return _("%(what)s moves from %(before)s to %(after)s (%(by)s).") % what


def _by(effect: Effect, project: Project) -> str:
    """+7 days, +£6,300."""
    days = effect.days or 0
    sign = "+" if days > 0 else display.MINUS
    words = sign + ngettext("%(n)d day", "%(n)d days", abs(days)) % {"n": abs(days)}
    cost = effect.cost_minor
    return f"{words}, {display.money(cost, project, brief=True, sign=True)}" if cost else words


def _others(effect: Effect) -> str:
    count = len(effect.moved)
    if not count:
        return ""
    named = ", ".join(effect.moved[:NAMED])
    named = _("%s and others") % named if count > NAMED else named
    words = ngettext(
        "%(n)d activity has other dates: %(codes)s.", "%(n)d activities have other dates: %(codes)s.", count
    )
    return words % {"n": count, "codes": named}


def would_move(effect: Effect, project: Project) -> str:
    """The same before it is done: "If you save this: …"."""
    return _("If you save this: %s") % (moved(effect, project) or _("no date moves."))
