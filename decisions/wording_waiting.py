"""What waiting with a decision costs, in sentences."""

from collections.abc import Iterable

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from decisions.calc.waiting import Point
from projects import display
from projects.models import Project


def sentence(points: Iterable[Point], project: Project) -> str:
    """Say from when on waiting costs what: prices, float, the opening, in the order they come."""
    rows = list(points)
    if not any(point.harms for point in rows):
        return _("Within eight weeks waiting costs nothing that the quotes and the plan can tell.")
    found = sorted(
        filter(None, (_prices(rows, project), _float(rows, project), _opening(rows, project), _rests(rows, project)))
    )
    return " ".join(words for _on, words in found)


def _prices(rows: list[Point], project: Project) -> tuple[str, str] | None:
    point = next((row for row in rows if row.expired), None)
    if point is None:
        return None
    first = min(point.expired, key=lambda price: price.until)
    told = {
        "on": display.day(first.until, project.locale),
        "vendor": first.vendor,
        "option": first.option,
        "amount": display.money(first.amount_minor, project, brief=True),
    }
    words = _("After %(on)s the %(amount)s of %(vendor)s for %(option)s have to be asked for anew.") % told
    return first.until.isoformat(), words


def _float(rows: list[Point], project: Project) -> tuple[str, str] | None:
    point = next((row for row in rows if row.float_used), None)
    if point is None or point.moved_days:
        return None
    told = {"on": display.day(point.on, project.locale), "used": point.float_used, "left": point.float_days}
    return point.on.isoformat(), _("An answer on %(on)s uses %(used)d of %(left)d working days of float.") % told


def _opening(rows: list[Point], project: Project) -> tuple[str, str] | None:
    point = next((row for row in rows if row.moved_days > 0), None)
    if point is None:
        return None
    days = ngettext("%d day", "%d days", point.moved_days) % point.moved_days
    told = {"on": display.day(point.on, project.locale), "days": days}
    if not point.days_minor:
        return point.on.isoformat(), _("An answer on %(on)s moves the opening by %(days)s.") % told
    told["cost"] = display.money(point.days_minor, project, brief=True)
    return point.on.isoformat(), _("An answer on %(on)s moves the opening by %(days)s: %(cost)s.") % told


def _rests(rows: list[Point], project: Project) -> tuple[str, str] | None:
    point = next((row for row in rows if row.crossed), None)
    if point is None:
        return None
    rest = point.crossed[0]
    told = {
        "first": display.day(rest.first, project.locale),
        "last": display.day(rest.last, project.locale),
        "why": rest.reason,
    }
    return rest.first.isoformat(), _("After %(first)s it waits out %(why)s, to %(last)s.") % told


def float_words(point: Point) -> str:
    """Say how much float an answer on a day uses; once the opening moves, of some work all of it is gone."""
    if not point.float_used:
        return _("none")
    if point.moved_days > 0:
        return _("all")
    told = {"used": point.float_used, "left": point.float_days}
    if point.float_used == point.float_days:
        return _("all %(left)d working days") % told
    return _("%(used)d of %(left)d working days") % told


def moved_words(point: Point) -> str:
    """Say how an answer on a day moves the opening."""
    if not point.moved_days:
        return _("unmoved")
    return ngettext("%d day later", "%d days later", point.moved_days) % point.moved_days
