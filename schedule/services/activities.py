"""Activities and their links: adding, changing and taking away; every deed moves the dates that rest on it."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused, Stale
from projects.models import Project, User
from schedule.models import Activity, Link, WorkCalendar
from schedule.services import plan

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


@transaction.atomic
def add(project: Project, draft: ActivityDraft, *, by: User | None, now: datetime, today: date) -> Activity:
    """Add one activity with its links. Writes what `add_many` writes. Raises: Refused."""
    return add_many(project, [draft], by=by, now=now, today=today)[0]


@transaction.atomic
def add_many(
    project: Project, drafts: Sequence[ActivityDraft], *, by: User | None, now: datetime, today: date
) -> list[Activity]:
    """Add activities that may wait for each other, in the order given.

    Writes Activity, Link, kept dates and one trail row. Not safe to repeat: codes are then taken.
    Raises: Refused, naming the activity; nothing is written then.
    """
    held = plan.lock(project)
    calendars = _calendars(held)
    taken = set(Activity.objects.filter(project=held).values_list("code", flat=True))
    first = len(taken)
    rows = []
    for place, draft in enumerate(drafts):
        _check(draft, calendars)
        if draft.code.strip() in taken:
            raise Refused(_("There is an activity %s already; give another code.") % draft.code.strip(), field="code")
        taken.add(draft.code.strip())
        row = Activity(project=held, position=first + place)
        _fill(row, draft, calendars)
        rows.append(row)
    Activity.objects.bulk_create(rows)
    _link(held, {row.pk: draft.after for row, draft in zip(rows, drafts, strict=True)})
    plan.settle(held, today=today)
    words = _("Added %(count)d activities") if len(rows) > 1 else _("Added the activity %(first)s")
    _noted(
        held,
        rows[0] if rows else None,
        "added",
        words % {"count": len(rows), "first": rows[0] if rows else ""},
        by,
        now,
    )
    return list(Activity.objects.filter(pk__in=[row.pk for row in rows]))


@transaction.atomic
def change(
    activity: Activity, draft: ActivityDraft, *, reason: str = "", by: User | None, now: datetime, today: date,
    version: int | None = None,
) -> Activity:  # fmt: skip
    """Write an activity and its links anew, and move every date that rests on it.

    Writes Activity, Link, kept dates and a trail row with what stood before and the reason. Raises: Refused; Stale.
    """
    held = plan.lock(activity.project)
    row = in_project(held, activity.pk)
    if version is not None and row.version != version:
        raise Stale(_("Somebody has changed this activity since you opened it; look at it again."))
    calendars = _calendars(held)
    _check(draft, calendars)
    if Activity.objects.filter(project=held, code=draft.code.strip()).exclude(pk=row.pk).exists():
        raise Refused(_("There is an activity %s already; give another code.") % draft.code.strip(), field="code")
    before = told(row)
    _fill(row, draft, calendars)
    row.version += 1
    row.save()
    row.waits_for.all().delete()
    _link(held, {row.pk: draft.after})
    plan.settle(held, today=today)
    row = in_project(held, row.pk)
    _noted(
        held, row, "changed", _("Changed the activity %s") % row + (f": {reason}" if reason else ""), by, now,
        {"before": before, "after": told(row), "reason": reason},
    )  # fmt: skip
    return row


@transaction.atomic
def remove(activity: Activity, *, reason: str, by: User | None, now: datetime, today: date) -> None:
    """Take an activity out of the plan; what followed it waits for what it waited for.

    Writes Activity.removed_on, Link, kept dates and a trail row. Raises: Refused where it has begun.
    """
    held = plan.lock(activity.project)
    row = in_project(held, activity.pk)
    if row.started_on:
        raise Refused(_("%s has begun; what was done stays in the plan.") % row)
    before = told(row)
    _bridge(row)
    row.removed_on = today
    row.version += 1
    row.save(update_fields=["removed_on", "version"])
    plan.settle(held, today=today)
    words = _("Took %(activity)s out of the plan: %(reason)s") % {"activity": row, "reason": reason}
    _noted(held, row, "removed", words, by, now, {"before": before, "reason": reason})


def in_project(project: Project, activity_id: int) -> Activity:
    """An activity of this project that is still in the plan. Raises: Refused."""
    row = Activity.objects.filter(project=project, pk=activity_id, removed_on=None).first()
    if row is None:
        raise Refused(_("This activity is not in the plan any more."))
    return row


def draft_of(activity: Activity) -> ActivityDraft:
    """An activity as it stands, as a draft to change parts of."""
    links = activity.waits_for.select_related("before").filter(before__removed_on=None)
    return ActivityDraft(
        calendar=activity.calendar.name if activity.calendar else "",
        after=tuple(LinkDraft(link.before.code, link.kind, link.lag_days, link.lag_elapsed) for link in links),
        **{name: getattr(activity, name) for name in PLAIN},
    )


def told(activity: Activity) -> dict[str, Any]:
    """An activity as it stands, as plain values for the trail."""
    draft = draft_of(activity)
    plain = {name: getattr(draft, name) for name in PLAIN}
    plain["not_before_on"] = str(draft.not_before_on) if draft.not_before_on else None
    after = [[link.before, str(link.kind), link.lag_days, link.lag_elapsed] for link in draft.after]
    return plain | {"kind": str(draft.kind), "calendar": draft.calendar, "after": after}


def _calendars(project: Project) -> dict[str, WorkCalendar]:
    return {row.name: row for row in WorkCalendar.objects.filter(project=project)}


def _check(draft: ActivityDraft, calendars: Mapping[str, WorkCalendar]) -> None:
    code = draft.code.strip()
    if not code:
        raise Refused(_("Give the activity a short code, such as A12."), field="code")
    if not draft.name.strip():
        raise Refused(_("Say what is done in activity %s.") % code, field="name")
    if not 0 <= draft.days <= MOST_DAYS:
        raise Refused(
            _("%(code)s: give between 0 and %(most)d days.") % {"code": code, "most": MOST_DAYS}, field="days"
        )
    if draft.calendar and draft.calendar not in calendars:
        raise Refused(
            _("%(code)s: there is no calendar “%(name)s”; add it first.") % {"code": code, "name": draft.calendar},
            field="calendar",
        )
    if draft.kind not in Activity.Kind.values:
        raise Refused(
            _("%(code)s: “%(kind)s” is no kind of activity.") % {"code": code, "kind": draft.kind}, field="kind"
        )


def _fill(row: Activity, draft: ActivityDraft, calendars: Mapping[str, WorkCalendar]) -> None:
    for name in PLAIN:
        value = getattr(draft, name)
        setattr(row, name, value.strip() if isinstance(value, str) else value)
    row.calendar = calendars[draft.calendar] if draft.calendar else None


def _link(project: Project, wanted: Mapping[int, Iterable[LinkDraft]]) -> None:
    """Write links by the codes of what comes before; a circle is found when the plan is settled."""
    known = dict(Activity.objects.filter(project=project, removed_on=None).values_list("code", "pk"))
    codes = {pk: code for code, pk in known.items()}
    rows = []
    for waiting, links in wanted.items():
        seen: set[tuple[str, str]] = set()
        for link in links:
            _check_link(link, waiting, known, codes, seen)
            seen.add((link.before, link.kind))
            rows.append(
                Link(
                    waiting_id=waiting, before_id=known[link.before], kind=link.kind, lag_days=link.lag_days, lag_elapsed=link.lag_elapsed
                )
            )  # fmt: skip
    Link.objects.bulk_create(rows)


def _check_link(
    link: LinkDraft, waiting: int, known: Mapping[str, int], codes: Mapping[int, str], seen: set[tuple[str, str]]
) -> None:
    here = {"code": codes[waiting], "before": link.before}
    if link.before not in known:
        raise Refused(_("%(code)s waits for %(before)s, which is not in the plan.") % here, field="after")
    if known[link.before] == waiting:
        raise Refused(_("%(code)s cannot wait for itself.") % here, field="after")
    if (link.before, link.kind) in seen:
        raise Refused(
            _("%(code)s waits for %(before)s twice in the same way; take one link out.") % here, field="after"
        )
    if link.kind not in Link.Kind.values:
        raise Refused(_("%(code)s: a link is FS, SS, FF or SF.") % here, field="after")
    if abs(link.lag_days) > MOST_DAYS:
        raise Refused(_("%(code)s: the lag after %(before)s is too long.") % here, field="after")


def _bridge(row: Activity) -> None:
    """What followed a removed activity waits for what that waited for (ADR 0402)."""
    before = list(row.waits_for.filter(before__removed_on=None))
    for leaving in row.leads_to.all():
        for coming in before:
            Link.objects.get_or_create(
                waiting_id=leaving.waiting_id, before_id=coming.before_id, kind=Link.Kind.FS,
                defaults={"lag_days": leaving.lag_days, "lag_elapsed": leaving.lag_elapsed},
            )  # fmt: skip


def _noted(
    project: Project, row: Activity | None, verb: str, summary: str, by: User | None, now: datetime,
    details: dict[str, Any] | None = None,
) -> None:  # fmt: skip
    trail.note(
        project, by=by, at=now, verb=verb, subject="activity", subject_id=row.pk if row else None, summary=summary, details=details
    )  # fmt: skip
