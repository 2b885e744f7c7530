"""Writing how two plans differ to rows, and writing back what stood there. `services.altering` is the door."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from projects.faults import Refused
from projects.models import Project
from schedule.models import Activity, Closure, Link, WorkCalendar

#: Columns that the first part of split work has from the whole.
ALIKE = (
    "kind",
    "trade",
    "area",
    "covers",
    "weather",
    "notice_days",
    "attended_by",
)
WHY_LENGTH, NAME_LENGTH = 200, 160


@dataclass(frozen=True, slots=True)
class Called:
    """What an added activity is called, and the code of the one that it is like."""

    name: str
    like: str = ""


def write(
    project: Project, found: dict[str, Any], reason: str, called: Mapping[str, Called], today: date
) -> None:  # fmt: skip
    """Write a difference to the rows of a project; the reasons of days that it replaces are noted in it as `whys`."""
    calendars = _calendars(project)
    _write_calendars(calendars, found, reason)
    rows = {row.code: row for row in Activity.objects.filter(project=project)}
    for code, told in found.get("changed", {}).items():
        if "not_before" in told:
            found.setdefault("whys", {})[code] = rows[code].not_before_why
        _set(rows[code], {name: new for name, (_old, new) in told.items()}, calendars, reason)
    for code, told in found.get("added", {}).items():
        rows[code] = _add(project, rows, code, told, called.get(code, Called(code)), calendars, reason)
    for code in found.get("removed", ()):
        rows[code].removed_on = today
        rows[code].version += 1
        rows[code].save(update_fields=["removed_on", "version"])
    for waiting, before, kind, _lag, _elapsed in found.get("links_gone", ()):
        Link.objects.filter(waiting=rows[waiting], before=rows[before], kind=kind).delete()
    _link(rows, found.get("links_added", ()))


def write_back(project: Project, found: Mapping[str, Any], today: date) -> list[str]:
    """Write back what stood before a difference, where it still stands as the difference left it.

    Returns: what was left alone, a sentence each.
    """
    left: list[str] = []
    calendars = _calendars(project)
    rows = {row.code: row for row in Activity.objects.filter(project=project)}
    kept = _take_added(rows, found, today, left)
    for code in found.get("removed", ()):
        _bring_back(rows.get(code))
    for code, told in found.get("changed", {}).items():
        why = found.get("whys", {}).get(code)
        _set_back(rows.get(code), Altered(code, told, why), calendars, left)
    _unlink(rows, found, kept, left)
    gone = [row for row in found.get("links_gone", ()) if _may_link(rows, row)]
    _link(rows, gone)
    _calendars_back(calendars, found, left)
    return left


def _calendars(project: Project) -> dict[str, WorkCalendar]:
    return {row.name: row for row in WorkCalendar.objects.filter(project=project)}


def _write_calendars(calendars: Mapping[str, WorkCalendar], found: Mapping[str, Any], reason: str) -> None:
    for name, (_old, new) in found.get("weekdays", {}).items():
        _calendar(calendars, name).weekdays = new
    for name, day in found.get("extra_days", ()):
        row = _calendar(calendars, name)
        row.extra_days = sorted({*row.extra_days, day})
    touched = {*found.get("weekdays", {}), *(name for name, _day in found.get("extra_days", ()))}
    _save_calendars(calendars, touched)
    Closure.objects.bulk_create(
        Closure(calendar=_calendar(calendars, name), first_on=first, last_on=last, reason=reason[:WHY_LENGTH])
        for name, first, last in found.get("closures", ())
    )


def _save_calendars(calendars: Mapping[str, WorkCalendar], names: set[str]) -> None:
    for name in names:
        calendars[name].version += 1
        calendars[name].save(update_fields=["weekdays", "extra_days", "version"])


def _calendar(calendars: Mapping[str, WorkCalendar], name: str) -> WorkCalendar:
    if name not in calendars:
        raise Refused(_("The project has no calendar “%s”; add it first.") % name)
    return calendars[name]


def _set(row: Activity, told: Mapping[str, Any], calendars: Mapping[str, WorkCalendar], why: str | None) -> None:
    """Write columns of an activity; `why` is the reason of a day it cannot begin before."""
    for name, value in told.items():
        if name == "calendar":
            row.calendar = _calendar(calendars, value) if value else None
        elif name == "not_before":
            row.not_before_on = date.fromisoformat(value) if value else None
            row.not_before_why = (why or "")[:WHY_LENGTH] if value else ""
        else:
            setattr(row, name, value)
    row.version += 1
    row.save()


def _add(
    project: Project, rows: Mapping[str, Activity], code: str, told: Mapping[str, Any], called: Called,
    calendars: Mapping[str, WorkCalendar], why: str,
) -> Activity:  # fmt: skip
    """Add an activity, or bring one back that was taken out under the same code."""
    known = rows.get(code)
    row = known or Activity(project=project, code=code, position=len(rows))
    like = rows.get(called.like)
    row.removed_on = None
    row.name = (_("%s, first part") % like.name if like else called.name)[:NAME_LENGTH]
    for name in ALIKE if like else ():
        setattr(row, name, getattr(like, name))
    row.position = like.position if like else row.position
    if known:
        Link.objects.filter(waiting=known).delete()
        Link.objects.filter(before=known).delete()
    _set(row, told, calendars, why)
    return row


def _link(rows: Mapping[str, Activity], links: Any) -> None:
    Link.objects.bulk_create(
        Link(waiting=rows[waiting], before=rows[before], kind=kind, lag_days=lag, lag_elapsed=elapsed)
        for waiting, before, kind, lag, elapsed in links
    )


def _take_added(rows: Mapping[str, Activity], found: Mapping[str, Any], today: date, left: list[str]) -> set[str]:
    """Take added activities out; those that have begun stay, and are named. Returns: the codes that stay."""
    kept = set()
    for code in found.get("added", {}):
        row = rows.get(code)
        if row is None or row.removed_on:
            continue
        if row.started_on:
            kept.add(code)
            left.append(_("%s has begun and stays in the plan.") % row)
            continue
        row.removed_on = today
        row.version += 1
        row.save(update_fields=["removed_on", "version"])
    return kept


def _bring_back(row: Activity | None) -> None:
    if row is not None and row.removed_on:
        row.removed_on = None
        row.version += 1
        row.save(update_fields=["removed_on", "version"])


@dataclass(frozen=True, slots=True)
class Altered:
    """What was changed of an activity: {column: [old, new]}, and why it could not begin before some day until then."""

    code: str
    told: Mapping[str, Any]
    why: str | None


def _set_back(
    row: Activity | None, altered: Altered, calendars: Mapping[str, WorkCalendar], left: list[str]
) -> None:  # fmt: skip
    if row is None or row.removed_on:
        left.append(_("%s is not in the plan any more.") % altered.code)
    elif row.finished_on:
        left.append(_("%s is done; its days are left as they are.") % row)
    else:
        now = _columns(row)
        back = {name: old for name, (old, new) in altered.told.items() if now[name] == new}
        _set(row, back, calendars, altered.why)
        for name, (old, new) in altered.told.items():
            if now[name] not in (old, new):
                left.append(
                    _("%(activity)s: %(what)s was changed since and is left.") % {"activity": row, "what": _word(name)}
                )


def _columns(row: Activity) -> dict[str, Any]:
    return {
        "days": row.days,
        "calendar": row.calendar.name if row.calendar else "",
        "elapsed": row.elapsed,
        "not_before": str(row.not_before_on) if row.not_before_on else None,
    }


def _word(name: str) -> str:
    return {
        "days": _("the number of days"),
        "calendar": _("the calendar"),
        "elapsed": _("whether it goes on every day"),
        "not_before": _("the day it cannot begin before"),
    }[name]


def _unlink(rows: Mapping[str, Activity], found: Mapping[str, Any], kept: set[str], left: list[str]) -> None:
    """Take links out that were put in and still stand so; those of added work that stays remain with it."""
    for waiting, before, kind, lag, elapsed in found.get("links_added", ()):
        if waiting in kept or before in kept or waiting not in rows or before not in rows:
            continue
        same = Link.objects.filter(waiting=rows[waiting], before=rows[before], kind=kind)
        if not same.filter(lag_days=lag, lag_elapsed=elapsed).delete()[0] and same.exists():
            words = _("%(waiting)s waits for %(before)s with another lag since, which is left.")
            left.append(words % {"waiting": waiting, "before": before})


def _may_link(rows: Mapping[str, Activity], link: Any) -> bool:
    waiting, before, kind, _lag, _elapsed = link
    both = all(code in rows and rows[code].removed_on is None for code in (waiting, before))
    return both and not Link.objects.filter(waiting=rows[waiting], before=rows[before], kind=kind).exists()


def _calendars_back(calendars: Mapping[str, WorkCalendar], found: Mapping[str, Any], left: list[str]) -> None:
    touched = set()
    for name, (old, new) in found.get("weekdays", {}).items():
        if name in calendars and calendars[name].weekdays == new:
            calendars[name].weekdays = old
            touched.add(name)
        elif name not in calendars or calendars[name].weekdays != old:
            left.append(_("The weekdays of %s were changed since and are left.") % name)
    for name, day in found.get("extra_days", ()):
        if name in calendars:
            calendars[name].extra_days = [one for one in calendars[name].extra_days if one != day]
            touched.add(name)
    _save_calendars(calendars, touched)
    for name, first, last in found.get("closures", ()):
        row = Closure.objects.filter(calendar=calendars.get(name), first_on=first, last_on=last).order_by("pk").last()
        if row is None:
            left.append(
                _("The closure of %(name)s from %(first)s was lifted already.") % {"name": name, "first": first}
            )
        else:
            row.delete()
