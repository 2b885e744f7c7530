"""What is wrong with a sheet that holds a plan, each with its place and the mend."""

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from schedule.calc import sheet
from schedule.calc.sheet import Fault
from schedule.models import Activity
from schedule.services.drafting import ActivityDraft, told
from schedule.services.imports import Reading

#: So many codes are named of what is new or changed.
NAMED = 12


def fault(found: Fault) -> str:
    """One fault in a sentence, without its place."""
    kinds = {
        "headings": _("No row of headings was found; it needs: %(about)s."),
        "too many": _("There are more than %(about)s rows; split the sheet."),
        "no sheet": _(
            "No sheet holds a plan; the first row names the columns, at least: Code, or Activity and Waits for."
        ),
        "whole number": _("“%(about)s” is no whole number."),
        "yes or no": _("“%(about)s” is neither yes nor no."),
        "date": _("“%(about)s” is no date that can be read in one way only; write it like 2027-05-28."),
        "waits": _("“%(about)s” cannot be read; write it like: A12; A13 (SS, 3 days); A24 (FS, 3 calendar days)."),
        "link kind": _("“%(about)s” is no link; write FS, SS, FF or SF."),
        "weekdays": _("“%(about)s” names no weekdays; write them like: Monday to Friday."),
        "empty": _("Nothing stands here; it is needed."),
        "twice": _("“%(about)s” stands twice; take one row out."),
        "no region": _("No public holidays are known for “%(about)s”; write a country or its code, such as GB-SCT."),
        "no calendar": _("There is no calendar “%(about)s”; add it to the plan, or to the sheet Calendars."),
        "before first": _("The last day %(about)s is before the first; turn them round."),
        "no days": _("%(about)s is not in the plan yet; say how many days it takes, 0 for a milestone."),
        "no kind": _("“%(about)s” is no kind of activity; write one of: %(kinds)s."),
        "no activity": _("“%(about)s” is neither in the plan nor in the sheet."),
        "links twice": _("The links stand in a sheet of their own and in a column as well; keep one of the two."),
    }
    return kinds[found.kind] % {"about": found.about, "kinds": ", ".join(map(str, Activity.Kind.labels))}


def place(found: Fault) -> str:
    """Where a fault is: "Activities, row 12, Days"."""
    row = _("row %d") % found.row if found.row else ""
    return ", ".join(filter(None, (found.sheet, row, found.column)))


def counted(reading: Reading) -> str:
    """What would come in: "3 new activities, 2 changed, 86 as they stand; 1 new calendar"."""
    parts = [
        ngettext("%(n)d new activity", "%(n)d new activities", len(reading.new)) % {"n": len(reading.new)},
        _("%d changed") % len(reading.changed),
        ngettext("%(n)d as it stands", "%(n)d as they stand", reading.alike) % {"n": reading.alike},
    ]
    calendars = len(reading.new_calendars) + len(reading.changed_calendars)
    if calendars:
        words = ngettext("%(n)d calendar new or changed", "%(n)d calendars new or changed", calendars)
        parts.append(words % {"n": calendars})
    return ", ".join(parts)


def differences(before: ActivityDraft, after: ActivityDraft) -> str:
    """What a sheet changes of an activity: "Days 3 → 8; Waits for A01 → A01; A02"."""
    first, second = told(before), told(after)
    headings = {column.name: column.heading for column in sheet.COLUMNS[sheet.ACTIVITIES]}
    changed = [name for name in first if _shown(name, first[name]) != _shown(name, second[name])]
    return "; ".join(
        f"{headings[name]}: {_shown(name, first[name])} → {_shown(name, second[name])}" for name in changed
    )


def _shown(name: str, value: object) -> str:
    if name == "after":
        return sheet.written(tuple(one) for one in value) or "–"  # type: ignore[attr-defined]  # links as the trail keeps them
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return "–" if value in (None, "") else str(value)
