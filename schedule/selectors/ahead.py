"""The coming weeks: which work falls into them, and what still stands between each piece of it and its start.

Most of what stands in the way is known already: earlier work, decisions, inspections, deliveries and open hold points are derived
from the plan. What people have added beside that stands in rows of its own, and can be cleared there.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import cast

from django.http import Http404
from django.utils.translation import gettext as _

from projects.models import Project
from schedule.calc import ahead as calc
from schedule.calc.ahead import Call, Week
from schedule.models import Activity, Link, Need
from schedule.selectors import holds, network
from schedule.selectors.deliveries import HOLDING_START

#: How far the look-ahead reaches. Source: the six-week look-ahead of common practice.
WEEKS = 6
#: Far enough for everything that a build has left [weeks].
WHOLE_BUILD = 260
#: What is derived from earlier work, by its kind; anything else is "earlier work".
DERIVED = {
    Activity.Kind.DECISION: Need.Kind.DECISION,
    Activity.Kind.INSPECTION: Need.Kind.INSPECTION,
    Activity.Kind.DELIVERY: Need.Kind.MATERIAL,
    Activity.Kind.FABRICATION: Need.Kind.MATERIAL,
}

#: Nobody is called to the site for these.
WITHOUT_CALL = {Activity.Kind.DECISION, Activity.Kind.MILESTONE}


@dataclass(frozen=True, slots=True)
class Open:
    """What still stands between work and its start: its kind in words, what it is, who brings it, when it is expected or due.

    Of an entered need `need_id` is set; of a derived one, the activity, delivery or hold point it comes from.
    """

    kind: str
    label: str
    what: str
    who: str
    by_on: date | None
    overdue: bool
    need_id: int | None = None
    activity_id: int | None = None
    delivery_id: int | None = None
    hold_id: int | None = None


@dataclass(frozen=True, slots=True)
class Work:
    """An activity of the coming weeks."""

    pk: int
    code: str
    name: str
    kind: str
    trade: str
    area: str
    start_on: date
    finish_on: date
    begun: bool
    critical: bool
    float_days: int
    covers: bool
    attended_by: str
    notice_days: int
    open: tuple[Open, ...]
    cleared: int

    def __str__(self) -> str:
        return f"{self.code} {self.name}"

    @property
    def ready(self) -> bool:
        """Nothing stands in its way."""
        return not self.open

    @property
    def entered(self) -> tuple[Open, ...]:
        return tuple(one for one in self.open if one.need_id)

    @property
    def overdue(self) -> bool:
        return any(one.overdue for one in self.open)


@dataclass(frozen=True, slots=True)
class WeekAhead:
    """A week with what starts in it and what goes on from before."""

    week: Week
    starts: tuple[Work, ...]
    goes_on: tuple[Work, ...]

    @property
    def works(self) -> tuple[Work, ...]:
        return self.starts + self.goes_on


@dataclass(frozen=True, slots=True)
class CallToMake:
    """Somebody to call this week about work that begins."""

    work: Work
    call: Call


@dataclass(frozen=True, slots=True)
class Neighbour:
    """Work before or after."""

    pk: int
    code: str
    name: str
    trade: str
    start_on: date | None
    finish_on: date | None
    done: bool

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


def weeks(project: Project, today: date, weeks: int = WEEKS, *, trade: str = "") -> tuple[WeekAhead, ...]:
    """The coming weeks from this week's Monday; what is done is left out. Queries: 9, whatever the size.

    Args:
        trade: only the work of this trade, by its name; "" for all.
    """
    span = calc.weeks(today, weeks)
    works = _works(project, today, span, trade)
    return tuple(_week(week, works, first=week == span[0]) for week in span)


def works_of(ahead: Iterable[WeekAhead]) -> tuple[Work, ...]:
    """The work of several weeks, each piece once, by its start. Queries: 0."""
    found = {work.pk: work for week in ahead for work in week.works}
    return tuple(sorted(found.values(), key=lambda work: (work.start_on, work.code)))


def calls(project: Project, works: Iterable[Work], today: date) -> tuple[CallToMake, ...]:
    """Whom to call this week: two weeks, one week and the day before a trade begins. Queries: 3."""
    own = _own_calendar(project)
    week = calc.weeks(today, 1)[0]
    found = [
        CallToMake(work, call)
        for work in works
        if work.trade and not work.begun and work.kind not in WITHOUT_CALL
        for call in calc.due_calls(work.start_on, own, week, today)
    ]
    return tuple(sorted(found, key=lambda one: (one.call.call_on, one.work.start_on, one.work.code)))


def trades(project: Project) -> tuple[str, ...]:
    """The trades that have work left, in the order of the alphabet. Queries: 1."""
    rows = Activity.objects.filter(project=project, removed_on=None, finished_on=None).exclude(trade="")
    return tuple(sorted(set(rows.values_list("trade", flat=True)), key=str.casefold))


def overdue(project: Project, today: date) -> tuple[Need, ...]:
    """Entered needs whose day has passed and that are not there, of work that has not begun, the oldest first. Queries: 1."""
    rows = Need.objects.filter(
        project=project, removed_on=None, cleared_on=None, by_on__lt=today, activity__removed_on=None,
        activity__finished_on=None,
    )  # fmt: skip
    return tuple(rows.select_related("activity"))


def neighbours(
    project: Project, works: Sequence[Work]
) -> dict[int, tuple[tuple[Neighbour, ...], tuple[Neighbour, ...]]]:
    """What comes right before and right after each piece of work. Queries: 2."""
    pks = [work.pk for work in works]
    before: dict[int, tuple[Neighbour, ...]] = defaultdict(tuple)
    after: dict[int, tuple[Neighbour, ...]] = defaultdict(tuple)
    for link in Link.objects.filter(waiting__in=pks, before__removed_on=None).select_related("before"):
        before[link.waiting_id] += (_neighbour(link.before),)
    for link in Link.objects.filter(before__in=pks, waiting__removed_on=None).select_related("waiting"):
        after[link.before_id] += (_neighbour(link.waiting),)
    return {pk: (before[pk], after[pk]) for pk in pks}


def need_in(project: Project, need_id: int) -> Need:
    """A need of this project, one that was taken off, too. Queries: 1. Raises: Http404."""
    row = Need.objects.select_related("activity", "project").filter(project=project, pk=need_id).first()
    if row is None:
        raise Http404
    return row


def to_choose(project: Project) -> list[Activity]:
    """Activities that are not done, by their start. Queries: 1."""
    rows = Activity.objects.filter(project=project, removed_on=None, finished_on=None)
    return list(rows.order_by("early_start_on", "position"))


# --- reading --------------------------------------------------------------------------------------------------


def _own_calendar(project: Project) -> calc.Calendar:
    plan = network.plan_of(project)
    found = network.calendars_of(project)
    return found.get((plan.calendar_id if plan else None) or 0, network.WEEKDAYS)


def _works(project: Project, today: date, span: Sequence[Week], trade: str) -> list[Work]:
    rows = Activity.objects.filter(
        project=project, removed_on=None, finished_on=None, early_start_on__lte=span[-1].last_on,
        early_finish_on__gte=span[0].first_on,
    )  # fmt: skip
    if trade:
        rows = rows.filter(trade=trade)
    found = {row.pk: row for row in rows.order_by("early_start_on", "position", "pk")}
    entered, cleared = _entered(found, today)
    derived = _derived(found)
    stopped = holds.open_before(project, found, today=today) if found else {}
    return [
        _work(row, (*entered[pk], *derived[pk], *_held(row, stopped.get(pk, ()))), cleared[pk])
        for pk, row in found.items()
    ]


def _week(week: Week, works: Sequence[Work], *, first: bool) -> WeekAhead:
    touching = [work for work in works if week.touches(work.start_on, work.finish_on)]
    starts = [work for work in touching if week.holds(work.start_on) and not work.begun]
    going = [work for work in touching if work not in starts]
    return WeekAhead(week, tuple(starts), tuple(going))


def _work(row: Activity, open_: tuple[Open, ...], cleared: int) -> Work:
    start_on = cast(date, row.started_on or row.early_start_on)  # only rows with dates were asked for
    finish_on = cast(date, row.early_finish_on)
    return Work(
        pk=row.pk, code=row.code, name=row.name, kind=str(row.kind), trade=row.trade, area=row.area,
        start_on=start_on, finish_on=finish_on, begun=row.started_on is not None,
        critical=row.critical, float_days=row.float_days, covers=row.covers, attended_by=row.attended_by,
        notice_days=row.notice_days, open=open_, cleared=cleared,
    )  # fmt: skip


def _entered(rows: Mapping[int, Activity], today: date) -> tuple[dict[int, list[Open]], dict[int, int]]:
    """Needs that people have added, and how many of them are there."""
    found: dict[int, list[Open]] = defaultdict(list)
    cleared: dict[int, int] = defaultdict(int)
    for need in Need.objects.filter(activity__in=rows, removed_on=None):
        if need.cleared_on:
            cleared[need.activity_id] += 1
            continue
        found[need.activity_id].append(
            Open(str(need.kind), need.get_kind_display(), need.what, need.who, need.by_on, need.by_on < today, need.pk)
        )
    return found, cleared


def _derived(rows: Mapping[int, Activity]) -> dict[int, list[Open]]:
    """Earlier work that is not far enough for the start of what waits; work that has begun waits for nothing."""
    waiting = [pk for pk, row in rows.items() if row.started_on is None]
    links = Link.objects.filter(
        waiting__in=waiting, kind__in=HOLDING_START, before__removed_on=None, before__finished_on=None
    )
    found: dict[int, list[Open]] = defaultdict(list)
    for link in links.select_related("before", "before__delivery").order_by("pk"):
        if link.kind == Link.Kind.SS and link.before.started_on:
            continue
        found[link.waiting_id].append(_earlier(link))
    return found


def _earlier(link: Link) -> Open:
    before = link.before
    delivery = getattr(before, "delivery", None)
    thing = delivery if delivery is not None and delivery.removed_on is None else None
    kind = Need.Kind.MATERIAL if thing else DERIVED.get(Activity.Kind(before.kind), Need.Kind.WORK)
    on = before.early_start_on if link.kind == Link.Kind.SS else before.early_finish_on
    return Open(
        str(kind), str(kind.label), thing.item if thing else str(before), _who(before), on, False,
        activity_id=before.pk, delivery_id=thing.pk if thing else None,
    )  # fmt: skip


def _who(row: Activity) -> str:
    if row.kind == Activity.Kind.INSPECTION and row.attended_by:
        return row.attended_by
    return row.trade


def _held(row: Activity, stopping: Iterable[holds.Hold]) -> list[Open]:
    """Open hold points that stop an activity; they have to be released the day before."""
    if row.started_on or row.early_start_on is None:
        return []
    by_on = row.early_start_on - timedelta(days=1)
    return [
        Open(
            "hold", _("hold point"), f"{hold.gate.code} {hold.gate.title}",
            ", ".join(one.role for one in hold.signers if not one.counts), by_on, False, hold_id=hold.pk,
        )
        for hold in stopping
    ]  # fmt: skip


def _neighbour(row: Activity) -> Neighbour:
    return Neighbour(
        row.pk, row.code, row.name, row.trade, row.started_on or row.early_start_on, row.finished_on or row.early_finish_on,
        row.finished_on is not None,
    )  # fmt: skip
