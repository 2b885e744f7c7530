"""The week's promises with what still stands in their way, and what became of those of the last weeks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from django.http import Http404

from projects.models import Project
from schedule.calc import promises as calc
from schedule.calc.ahead import Week
from schedule.calc.promises import Early, Raised, Share
from schedule.models import Miss, Need, Promise, PromiseWeek
from schedule.selectors import ahead
from schedule.selectors.ahead import Work
from units.days import monday

#: How many weeks are shown.
WEEKS = 8


@dataclass(frozen=True, slots=True)
class Promised:
    """A promise; `work` is its activity while that is in the week and not done."""

    pk: int
    what: str
    who: str
    activity: str
    kept: bool | None
    cause: str
    work: Work | None


@dataclass(frozen=True, slots=True)
class WeekOfPromises:
    """A week's list; `counted` once it is closed; `to_promise` the work of the week that nobody has promised yet."""

    first_on: date
    last_on: date
    rows: tuple[Promised, ...]
    counted: PromiseWeek | None
    to_promise: tuple[Work, ...]
    begun: bool

    @property
    def previous_on(self) -> date:
        return self.first_on - timedelta(days=7)

    @property
    def next_on(self) -> date:
        return self.first_on + timedelta(days=7)

    @property
    def unmarked(self) -> int:
        return sum(1 for row in self.rows if row.kept is None)

    @property
    def kept(self) -> int:
        return sum(1 for row in self.rows if row.kept)


@dataclass(frozen=True, slots=True)
class Counted:
    """A closed week."""

    first_on: date
    promised: int
    kept: int
    share: Decimal | None
    causes: tuple[tuple[str, int], ...]

    @property
    def missed(self) -> int:
        return self.promised - self.kept


@dataclass(frozen=True, slots=True)
class Figures:
    """What became of the promises of the last closed weeks, and of what was needed in the last eight weeks."""

    weeks: tuple[Counted, ...]
    kept: Share
    causes: tuple[tuple[str, int], ...]
    ready: Share
    early: Early
    since: date


def week(project: Project, day: date, today: date) -> WeekOfPromises:
    """The promises of the week of a day, and the work that could be promised. Queries: 11."""
    first_on = monday(day)
    rows = Promise.objects.filter(project=project, week_on=first_on, removed_on=None).select_related("activity")
    found = list(rows)
    works = ahead.works_of(ahead.weeks(project, first_on, 1))
    by_pk = {work.pk: work for work in works}
    taken = {row.activity_id for row in found}
    return WeekOfPromises(
        first_on=first_on,
        last_on=first_on + timedelta(days=6),
        rows=tuple(_promised(row, by_pk.get(row.activity_id or 0)) for row in found),
        counted=PromiseWeek.objects.filter(project=project, week_on=first_on).first(),
        to_promise=tuple(work for work in works if work.pk not in taken and _of_week(work, Week(first_on))),
        begun=first_on <= today,
    )


def figures(project: Project, today: date) -> Figures:
    """Figures of the last eight closed weeks and of the needs of the last eight weeks. Queries: 2."""
    counted = list(PromiseWeek.objects.filter(project=project, week_on__lte=today).order_by("-week_on")[:WEEKS])
    weeks = tuple(_counted(row) for row in reversed(counted))
    since = calc.last_weeks(today, WEEKS)[0]
    needs = _needs(project)
    causes = [cause for row in counted for cause in row.causes]
    return Figures(
        weeks=weeks,
        kept=Share(sum(one.kept for one in weeks), sum(one.promised for one in weeks)),
        causes=_named(causes),
        ready=calc.made_ready(needs, since, today - timedelta(days=1)),  # today is not over
        early=calc.how_early(need for need in needs if need.raised_on >= since),
        since=since,
    )


def promise_in(project: Project, promise_id: int) -> Promise:
    """A promise of this project, one that was taken off, too. Queries: 1. Raises: Http404."""
    row = Promise.objects.select_related("project").filter(project=project, pk=promise_id).first()
    if row is None:
        raise Http404
    return row


def _of_week(work: Work, week: Week) -> bool:
    """Work is promised for the week it begins or ends in; what goes through it from end to end is not."""
    return week.holds(work.start_on) or week.holds(work.finish_on)


def _promised(row: Promise, work: Work | None) -> Promised:
    activity = str(row.activity) if row.activity else ""
    return Promised(row.pk, row.what, row.who, activity, row.kept, row.get_cause_display(), work)


def _counted(row: PromiseWeek) -> Counted:
    return Counted(row.week_on, row.promised, row.kept, calc.share(row.kept, row.promised), _named(row.causes))


def _named(causes: Sequence[str]) -> tuple[tuple[str, int], ...]:
    return tuple((str(Miss(cause).label), number) for cause, number in calc.counted(causes))


def _needs(project: Project) -> list[Raised]:
    rows = Need.objects.filter(project=project, removed_on=None, activity__removed_on=None)
    columns = ("by_on", "raised_on", "activity__started_on", "activity__early_start_on", "cleared_on")
    return [
        Raised(by_on, raised_on, started or planned, cleared)
        for by_on, raised_on, started, planned, cleared in rows.values_list(*columns)
    ]
