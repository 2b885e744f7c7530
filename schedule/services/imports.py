"""Bringing a plan in from sheets: shown first, then written whole or not at all, and taken back whole.

A sheet states what it states: a code that is not in the plan is a new activity, one that is there is changed where the sheet says
otherwise, and what the sheet does not name is left alone. A column that is not there leaves what stands. The cells are
read anew when they are brought in, so what is written is what the plan as it then stands makes of them.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused
from projects.models import Project, User
from schedule import regions
from schedule.calc import sheet
from schedule.calc.sheet import Fault, Line
from schedule.models import Activity, Link, Plan, WorkCalendar
from schedule.services import activities, calendars, drafting, effects, plan
from schedule.services.calendars import CalendarDraft, ClosureDraft
from schedule.services.drafting import ActivityDraft, LinkDraft
from schedule.services.effects import Effect

Sheets = Mapping[str, sheet.Rows]


@dataclass
class Reading:
    """What sheets would make of a plan: drafts of what is new, pairs of what stands and what would, and what is wrong."""

    new: list[ActivityDraft] = field(default_factory=list)
    changed: list[tuple[ActivityDraft, ActivityDraft]] = field(default_factory=list)
    alike: int = 0
    new_calendars: list[CalendarDraft] = field(default_factory=list)
    changed_calendars: list[tuple[CalendarDraft, CalendarDraft]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    @property
    def is_empty(self) -> bool:
        return not (self.new or self.changed or self.new_calendars or self.changed_calendars)


@dataclass(frozen=True, slots=True)
class Seen:
    """A reading, and what it would move; `refused` says why the plan as a whole would not take it."""

    reading: Reading
    effect: Effect | None = None
    refused: str = ""

    @property
    def is_ready(self) -> bool:
        return not self.reading.faults and not self.refused and not self.reading.is_empty


def look(project: Project, sheets: Sheets, *, today: date) -> Seen:
    """Tell what sheets would do to a plan. Writes nothing: they are brought in and taken back in one transaction."""
    found = reading(project, sheets)
    if found.faults or found.is_empty:
        return Seen(found)
    try:
        effect = effects.rehearsed(project, lambda: _write(project, found, today))
    except Refused as fault:
        return Seen(found, refused=fault.message)
    return Seen(found, effect)


@transaction.atomic
def bring_in(
    project: Project, sheets: Sheets, *, file_name: str, by: User | None, now: datetime, today: date
) -> Reading:
    """Write what sheets state into the plan, or nothing of it.

    Writes WorkCalendar, Closure, Activity, Link, kept dates and one trail row, which holds what stood before. Repeating it
    changes nothing more. Raises: Refused where a cell cannot be read or the plan would not stand.
    """
    held = plan.lock(project)
    found = reading(held, sheets)
    if found.faults:
        raise Refused(_("There is something left to mend; nothing was brought in."))
    if found.is_empty:
        raise Refused(_("The sheet says what the plan says already; nothing was brought in."))
    own = Plan.objects.filter(project=held).values_list("calendar__name", flat=True).first() or ""
    rows = _write(held, found, today)
    summary = _("Brought in %(file)s: %(new)d new activities, %(changed)d changed")
    trail.note(
        held, by=by, at=now, verb="brought in", subject="activity", subject_id=rows[0].pk if rows else None,
        summary=summary % {"file": file_name, "new": len(found.new), "changed": len(found.changed)},
        details=_details(found, own),
    )  # fmt: skip
    return found


def _write(project: Project, found: Reading, today: date) -> list[Activity]:
    held = plan.lock(project)
    plan.opened(held, today=today)
    for added in found.new_calendars:
        calendars.put_in(held, added, today=today)
    for calendar, anew in found.changed_calendars:
        calendars.write(held, WorkCalendar.objects.get(project=held, name=calendar.name), anew)
    made = activities.put_in(held, found.new)
    for _before, draft in found.changed:
        row = Activity.objects.select_related("calendar").get(project=held, code=draft.code)
        made.append(activities.write(held, row, draft))
    plan.settle(held, today=today)
    return made


def _details(found: Reading, own: str) -> dict[str, Any]:
    def pairs(changed: Any, told: Any) -> list[dict[str, Any]]:
        return [{"before": told(before), "after": told(after)} for before, after in changed]

    return {
        "added": [drafting.told(draft) for draft in found.new],
        "changed": pairs(found.changed, drafting.told),
        "calendars_added": [calendars.told(draft) for draft in found.new_calendars],
        "calendars_changed": pairs(found.changed_calendars, calendars.told),
        "own_calendar": own,
    }


def reading(project: Project, sheets: Sheets) -> Reading:
    """Read sheets against the plan as it stands. Queries: 4, and 1 for each calendar."""
    lines: dict[str, list[Line]] = {}
    found = Reading()
    for name, rows in sheets.items():
        lines[name], faults = sheet.read(name, rows)
        found.faults += faults
    if not lines:
        found.faults.append(Fault("", 0, "", "no sheet"))
    names = _read_calendars(project, lines, found)
    _read_activities(project, lines, found, names)
    return found


# --- calendars ----------------------------------------------------------------------------------------------------


def _read_calendars(project: Project, lines: Mapping[str, list[Line]], found: Reading) -> set[str]:
    """Read calendars and closures; gives the names that there are then."""
    standing = {row.name: calendars.draft_of(row) for row in WorkCalendar.objects.filter(project=project)}
    drafts: dict[str, CalendarDraft] = {}
    for line in lines.get(sheet.CALENDARS, ()):
        name = line.values.get("name", "")
        if name in drafts:
            found.faults.append(Fault(sheet.CALENDARS, line.row, "Calendar", "twice", name))
        elif name and "weekdays" in line.values:
            drafts[name] = _calendar(line, standing.get(name), found)
    if sheet.CLOSURES in lines:
        _read_closures(lines[sheet.CLOSURES], drafts, standing, found)
    for name, draft in drafts.items():
        if name not in standing:
            found.new_calendars.append(draft)
        elif calendars.told(draft) != calendars.told(standing[name]):
            found.changed_calendars.append((standing[name], draft))
    return {*standing, *drafts}


def _calendar(line: Line, standing: CalendarDraft | None, found: Reading) -> CalendarDraft:
    draft = standing or CalendarDraft(line.values["name"], line.values["weekdays"])
    given = {name: line.values[name] for name in ("weekdays", "note", "extra_days") if name in line.values}
    if "region" in line.values:
        code = regions.understood(line.values["region"])
        if code is None:
            about = line.values["region"][:60]
            found.faults.append(Fault(sheet.CALENDARS, line.row, "Public holidays of", "no region", about))
        given["region"] = code or ""
    return replace(draft, **given)


def _read_closures(
    lines: list[Line], drafts: dict[str, CalendarDraft], standing: Mapping[str, CalendarDraft], found: Reading
) -> None:
    """The closures of a calendar that is named in either sheet are those of the sheet, and no others."""
    closed: dict[str, list[ClosureDraft]] = defaultdict(list)
    for line in lines:
        name, first = line.values.get("name", ""), line.values.get("first_on")
        if name and name not in drafts and name not in standing:
            found.faults.append(Fault(sheet.CLOSURES, line.row, "Calendar", "no calendar", name[:60]))
        elif first is not None:
            last = line.values.get("last_on") or first
            if last < first:
                found.faults.append(Fault(sheet.CLOSURES, line.row, "Last day", "before first", str(last)))
            closed[name].append(ClosureDraft(first, last, line.values.get("reason", "")))
    for name in {*drafts, *closed}:
        draft = drafts.get(name) or standing[name]
        drafts[name] = replace(draft, closures=tuple(closed.get(name, ())))


# --- activities ---------------------------------------------------------------------------------------------------


def _read_activities(project: Project, lines: Mapping[str, list[Line]], found: Reading, names: set[str]) -> None:
    standing = drafts_of(project)
    stated = _stated(lines, found)
    links = _links(lines, found) if sheet.LINKS in lines else None
    known = {*standing, *stated}
    for code in dict.fromkeys([*stated, *(links or ())]):
        line = stated.get(code)
        draft = _draft(code, line, standing.get(code), found, names)
        if draft is None:
            continue
        if links is not None:
            _only_once(line, found)
            draft = replace(draft, after=tuple(one for _row, one in links.get(code, ())))
        _check_known(code, line, draft, links, known, found)
        if code not in standing:
            found.new.append(draft)
        elif not drafting.same(standing[code], draft):
            found.changed.append((standing[code], draft))
        else:
            found.alike += 1


def drafts_of(project: Project) -> dict[str, ActivityDraft]:
    """Every activity of the plan as a draft, by its code. Queries: 2."""
    links: dict[int, list[Link]] = defaultdict(list)
    rows = Link.objects.select_related("before").filter(waiting__project=project, before__removed_on=None)
    for link in rows:
        links[link.waiting_id].append(link)
    found = Activity.objects.select_related("calendar").filter(project=project, removed_on=None)
    return {row.code: drafting.as_draft(row, links[row.pk]) for row in found}


def _stated(lines: Mapping[str, list[Line]], found: Reading) -> dict[str, Line]:
    stated: dict[str, Line] = {}
    for line in lines.get(sheet.ACTIVITIES, ()):
        code = line.values.get("code", "")
        if code in stated:
            found.faults.append(Fault(sheet.ACTIVITIES, line.row, "Code", "twice", code))
        elif code:
            stated[code] = line
    return stated


def _links(lines: Mapping[str, list[Line]], found: Reading) -> dict[str, list[tuple[int, LinkDraft]]]:
    """{code: what it waits for, each with the row that says so}."""
    links: dict[str, list[tuple[int, LinkDraft]]] = defaultdict(list)
    for line in lines[sheet.LINKS]:
        value = line.values
        if value.get("code") and value.get("before"):
            how = (value.get("kind", "FS"), value.get("lag_days") or 0, value.get("lag_elapsed", False))
            links[value["code"]].append((line.row, LinkDraft(value["before"], *how)))
    return links


def _draft(
    code: str, line: Line | None, standing: ActivityDraft | None, found: Reading, names: set[str]
) -> ActivityDraft | None:
    """What a row makes of an activity; None where it says too little, which is then a fault."""
    values = {name: value for name, value in line.values.items() if name != "code"} if line else {}
    row = line.row if line else 0
    if standing is None and values.get("days") is None:
        place = (sheet.ACTIVITIES, row, "Days") if line else (sheet.LINKS, 0, "Activity")
        if not any((one.sheet, one.row, one.column) == place for one in found.faults):
            found.faults.append(Fault(*place, "no days", code))
        return None
    for name in ("days", "notice_days"):
        if name in values and values[name] is None:
            values[name] = getattr(standing, name) if standing and name == "days" else 0
    if not values.get("name", "?"):
        values["name"] = standing.name if standing else code
    if "kind" in values:
        values["kind"] = _kind(values["kind"], row, found)
    if "after" in values:
        values["after"] = tuple(LinkDraft(*one) for one in values["after"])
    if values.get("calendar") and values["calendar"] not in names:
        found.faults.append(Fault(sheet.ACTIVITIES, row, "Calendar", "no calendar", values["calendar"][:60]))
    return replace(standing or ActivityDraft(code, code, 0), **_as_it_stood(values, standing))


def _as_it_stood(values: dict[str, Any], standing: ActivityDraft | None) -> dict[str, Any]:
    """A text that differs in spaces and line ends alone has only been through a spreadsheet."""
    if standing is None:
        return values
    stood = {name: getattr(standing, name) for name, value in values.items() if isinstance(value, str)}
    return values | {name: was for name, was in stood.items() if was.split() == values[name].split()}


def _kind(given: str, row: int, found: Reading) -> str:
    folded = given.casefold()
    for kind in Activity.Kind:
        if folded in {kind.value, str(kind.label).casefold()}:
            return kind.value
    if folded:
        found.faults.append(Fault(sheet.ACTIVITIES, row, "Kind", "no kind", given[:60]))
    return Activity.Kind.WORK.value


def _only_once(line: Line | None, found: Reading) -> None:
    """Links are told by one place: a sheet of their own, or a column."""
    if line is not None and line.values.get("after") and not any(one.kind == "links twice" for one in found.faults):
        found.faults.append(Fault(sheet.ACTIVITIES, 0, "Waits for", "links twice"))


def _check_known(
    code: str, line: Line | None, draft: ActivityDraft, links: Any, known: set[str], found: Reading
) -> None:
    """Each activity that is waited for is in the plan or in the sheet."""
    if links is not None:
        told = [(sheet.LINKS, row, one) for row, one in links.get(code, ())]
    else:
        told = [(sheet.ACTIVITIES, line.row, one) for one in draft.after] if line and "after" in line.values else []
    for name, row, one in told:
        if one.before not in known:
            found.faults.append(Fault(name, row, "Waits for", "no activity", one.before[:60]))
