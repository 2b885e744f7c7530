"""An activity as somebody wants it: the draft, what it may hold, and how it is written into its rows.

A draft knows other activities by their codes and calendars by their names, as people do, so that a sheet, a form and
an option of a decision say the same thing. `told` writes a draft as plain values for the trail, `from_told` reads it
back for an undo.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from projects.bounds import EARLIEST, LATEST
from projects.faults import Refused
from projects.models import Project
from schedule.models import Activity, Link, WorkCalendar

MOST_DAYS = 3_650


@dataclass(frozen=True, slots=True)
class LinkDraft:
    """Waits for another activity, known by its code."""

    before: str
    kind: str = Link.Kind.FS
    lag_days: int = 0
    lag_elapsed: bool = False


@dataclass(frozen=True, slots=True)
class ActivityDraft:
    """A piece of work: `days` of its own calendar, or every day where `elapsed`; zero days for a milestone."""

    code: str
    name: str
    days: int
    kind: str = Activity.Kind.WORK
    trade: str = ""
    area: str = ""
    #: The calendar by its name; empty for the project's own.
    calendar: str = ""
    elapsed: bool = False
    not_before_on: date | None = None
    not_before_why: str = ""
    covers: bool = False
    weather: bool = False
    notice_days: int = 0
    attended_by: str = ""
    note: str = ""
    after: tuple[LinkDraft, ...] = ()


#: Columns of an activity that a draft has under the same name.
PLAIN = (
    "code", "name", "days", "kind", "trade", "area", "elapsed", "not_before_on", "not_before_why", "covers", "weather",
    "notice_days", "attended_by", "note",
)  # fmt: skip
#: What moves dates; a change of it asks for a reason.
MOVES = ("days", "elapsed", "calendar", "not_before_on", "after")
#: Columns of text, with the most letters they hold.
LENGTHS = {
    field.name: field.max_length
    for field in Activity._meta.concrete_fields
    if field.name in PLAIN and field.max_length and not field.choices
}


def draft_of(activity: Activity) -> ActivityDraft:
    """An activity as it stands, as a draft to change parts of. Queries: 1, and 1 for a calendar that was not read yet."""
    links = activity.waits_for.select_related("before").filter(before__removed_on=None)
    return as_draft(activity, links)


def as_draft(activity: Activity, links: Iterable[Link]) -> ActivityDraft:
    """An activity and its links, read already, as a draft. Links to activities that were taken out do not belong to it."""
    return ActivityDraft(
        calendar=activity.calendar.name if activity.calendar else "",
        after=tuple(LinkDraft(link.before.code, link.kind, link.lag_days, link.lag_elapsed) for link in links),
        **{name: getattr(activity, name) for name in PLAIN},
    )


def told(draft: ActivityDraft) -> dict[str, Any]:
    """A draft as plain values for the trail."""
    plain = {name: getattr(draft, name) for name in PLAIN}
    plain["not_before_on"] = str(draft.not_before_on) if draft.not_before_on else None
    after = [[link.before, str(link.kind), link.lag_days, link.lag_elapsed] for link in draft.after]
    return plain | {"kind": str(draft.kind), "calendar": draft.calendar, "after": after}


def from_told(plain: Mapping[str, Any]) -> ActivityDraft:
    """Read back what `told` wrote."""
    known = {name: plain[name] for name in (*PLAIN, "calendar")}
    known["not_before_on"] = date.fromisoformat(plain["not_before_on"]) if plain["not_before_on"] else None
    return ActivityDraft(**known, after=tuple(LinkDraft(*link) for link in plain["after"]))


def same(one: ActivityDraft, other: ActivityDraft) -> bool:
    """Tell whether two drafts say the same; the order of links says nothing, and days of no kind make no lag."""
    return _sorted(told(one)) == _sorted(told(other))


def _sorted(plain: dict[str, Any]) -> dict[str, Any]:
    return plain | {
        "after": sorted([before, kind, lag, bool(lag) and elapsed] for before, kind, lag, elapsed in plain["after"])
    }


def moves_dates(one: ActivityDraft, other: ActivityDraft) -> bool:
    """Tell whether two drafts of an activity differ in what its dates follow from."""
    first, second = _sorted(told(one)), _sorted(told(other))
    return any(first[name] != second[name] for name in MOVES)


def check(draft: ActivityDraft, calendars: Mapping[str, WorkCalendar]) -> None:
    """Refuse a draft that cannot stand, at its field. Links are looked at when they are written."""
    code = draft.code.strip()
    if not code:
        raise Refused(_("Give the activity a short code, such as A12."), field="code")
    if any(sign in code for sign in ";,()") or not code.isprintable():
        raise Refused(_("“%s” is no code: leave out commas, semicolons and brackets.") % code, field="code")
    if not draft.name.strip():
        raise Refused(_("Say what is done in activity %s.") % code, field="name")
    _check_texts(draft, code)
    _check_days(draft, code)
    if draft.calendar and draft.calendar not in calendars:
        words = _("%(code)s: there is no calendar “%(name)s”; add it first.")
        raise Refused(words % {"code": code, "name": draft.calendar}, field="calendar")
    if draft.kind not in Activity.Kind.values:
        words = _("%(code)s: “%(kind)s” is no kind of activity.")
        raise Refused(words % {"code": code, "kind": draft.kind}, field="kind")


def _check_texts(draft: ActivityDraft, code: str) -> None:
    for name, most in LENGTHS.items():
        if len(getattr(draft, name)) > most:
            words = _("%(code)s: this is longer than %(most)d letters; shorten it.")
            raise Refused(words % {"code": code[:20], "most": most}, field=name)


def _check_days(draft: ActivityDraft, code: str) -> None:
    if not 0 <= draft.days <= MOST_DAYS:
        words = _("%(code)s: give between 0 and %(most)d days.")
        raise Refused(words % {"code": code, "most": MOST_DAYS}, field="days")
    if not 0 <= draft.notice_days <= MOST_DAYS:
        words = _("%(code)s: give between 0 and %(most)d days of notice.")
        raise Refused(words % {"code": code, "most": MOST_DAYS}, field="notice_days")
    if draft.kind == Activity.Kind.MILESTONE and draft.days:
        words = _("%(code)s: a milestone takes no days; give 0, or choose another kind.")
        raise Refused(words % {"code": code}, field="days")
    if draft.not_before_on is not None and not EARLIEST <= draft.not_before_on <= LATEST:
        words = _("%(code)s: this day is out of range; check the year.")
        raise Refused(words % {"code": code}, field="not_before_on")


def fill(row: Activity, draft: ActivityDraft, calendars: Mapping[str, WorkCalendar]) -> None:
    """Put a draft that was checked into its row; nothing is saved."""
    for name in PLAIN:
        value = getattr(draft, name)
        setattr(row, name, value.strip() if isinstance(value, str) else value)
    row.calendar = calendars[draft.calendar] if draft.calendar else None


def link(project: Project, wanted: Mapping[int, Iterable[LinkDraft]]) -> None:
    """Write the links of activities {primary key: what each waits for}; a circle is found when the plan is settled.

    Writes Link. Raises: Refused, at "after".
    """
    known = dict(Activity.objects.filter(project=project, removed_on=None).values_list("code", "pk"))
    codes = {pk: code for code, pk in known.items()}
    rows = []
    for waiting, links in wanted.items():
        seen: set[tuple[str, str]] = set()
        for one in links:
            _check_link(one, waiting, known, codes, seen)
            seen.add((one.before, one.kind))
            told = {"kind": one.kind, "lag_days": one.lag_days, "lag_elapsed": one.lag_elapsed}
            rows.append(Link(waiting_id=waiting, before_id=known[one.before], **told))
    Link.objects.bulk_create(rows)


def _check_link(
    one: LinkDraft, waiting: int, known: Mapping[str, int], codes: Mapping[int, str], seen: set[tuple[str, str]]
) -> None:
    here = {"code": codes[waiting], "before": one.before}
    if one.before not in known:
        raise Refused(_("%(code)s waits for %(before)s, which is not in the plan.") % here, field="after")
    if known[one.before] == waiting:
        raise Refused(_("%(code)s cannot wait for itself.") % here, field="after")
    if (one.before, one.kind) in seen:
        words = _("%(code)s waits for %(before)s twice in the same way; take one link out.")
        raise Refused(words % here, field="after")
    if one.kind not in Link.Kind.values:
        raise Refused(_("%(code)s: a link is FS, SS, FF or SF.") % here, field="after")
    if abs(one.lag_days) > MOST_DAYS:
        raise Refused(_("%(code)s: the lag after %(before)s is too long.") % here, field="after")
