"""The week's promises: made, kept or missed with one cause, and the week closed with its count."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db import transaction
from django.utils.translation import gettext as _

from projects import display, trail
from projects.faults import Refused
from projects.models import Project, User
from schedule.models import Activity, Miss, Promise, PromiseWeek
from schedule.services import plan
from units.days import monday

#: More promises in one week are a slip of the pen.
MOST = 500


@dataclass(frozen=True, slots=True)
class PromiseDraft:
    """Work promised for a week: an activity, or anything in words."""

    week_on: date
    what: str = ""
    who: str = ""
    activity_id: int | None = None


@transaction.atomic
def promise(project: Project, draft: PromiseDraft, *, by: User | None, now: datetime, today: date) -> Promise:
    """Write down what somebody promises to finish in a week.

    Writes Promise and a trail row. Raises: Refused where the week is closed, or nothing is said.
    """
    held = plan.lock(project)
    week_on = monday(draft.week_on)
    _open(held, week_on)
    activity = _activity(held, draft.activity_id)
    what = draft.what.strip() or (activity.name if activity else "")
    if not what:
        raise Refused(_("Choose an activity, or say in words what is promised."), field="what")
    who = draft.who.strip() or (activity.trade if activity else "")
    made = Promise.objects.create(
        project=held, week_on=week_on, activity=activity, what=what[:200], who=who, promised_at=now
    )
    _noted(made, "promised", _("Promised for the week of %(week)s: %(what)s"), by, now)
    return made


@transaction.atomic
def mark(
    promise: Promise, *, kept: bool | None, cause: str = "", by: User | None, now: datetime, today: date
) -> Promise:
    """Say whether a promise was kept, with one cause where it was not; None takes that back.

    Writes Promise and a trail row. Safe to repeat. Raises: Refused without a cause of a miss, and where the week is closed.
    """
    held = _held(promise)
    if kept is False and cause not in Miss.values:
        raise Refused(_("Choose the one thing that stood in the way."), field="cause")
    held.kept, held.cause = kept, cause if kept is False else ""
    held.save(update_fields=["kept", "cause"])
    words = {True: _("Kept: %(what)s"), False: _("Not kept: %(what)s (%(cause)s)"), None: _("Open again: %(what)s")}
    _noted(held, "marked", words[kept], by, now)
    return held


@transaction.atomic
def remove(promise: Promise, *, by: User | None, now: datetime, today: date) -> None:
    """Take a promise off that was never made. Writes Promise and a trail row. Raises: Refused where the week is closed."""
    held = _held(promise)
    held.removed_on = today
    held.save(update_fields=["removed_on"])
    _noted(held, "removed", _("Not promised: %(what)s"), by, now)


@transaction.atomic
def put_back(promise: Promise, *, by: User | None, now: datetime, today: date) -> None:
    """Put a promise that was taken off back on. Safe to repeat. Raises: Refused where the week is closed."""
    project = plan.lock(promise.project)
    held = Promise.objects.get(pk=promise.pk)
    _open(project, held.week_on)
    if held.removed_on is not None:
        held.removed_on = None
        held.save(update_fields=["removed_on"])
        _noted(held, "restored", _("Promised for the week of %(week)s: %(what)s"), by, now)


@transaction.atomic
def close(project: Project, week_on: date, *, by: User | None, now: datetime, today: date) -> PromiseWeek:
    """Close a week: count its promises once and for all.

    Writes PromiseWeek and a trail row. Raises: Refused where it is closed, has not begun, has no promises, or one of them is
    neither kept nor missed.
    """
    held = plan.lock(project)
    week_on = monday(week_on)
    _open(held, week_on)
    found = list(Promise.objects.filter(project=held, week_on=week_on, removed_on=None))
    if not found:
        raise Refused(_("Nothing was promised for this week."))
    unmarked = [row.what for row in found if row.kept is None]
    if unmarked:
        raise Refused(_("Say first whether it was kept: %s.") % ", ".join(unmarked[:4]))
    causes = [str(row.cause) for row in found if row.kept is False]
    return _counted(held, week_on, len(found), causes, by=by, now=now, today=today)


@transaction.atomic
def count_week(
    project: Project, week_on: date, promised: int, kept: int, causes: Sequence[str], *, by: User | None, now: datetime,
    today: date,
) -> PromiseWeek:  # fmt: skip
    """Enter a week that was counted on paper.

    Args:
        promised, kept: how many; causes: one for each that was not kept.
    Writes PromiseWeek and a trail row. Raises: Refused where the numbers do not agree, or promises were entered for the week.
    """
    held = plan.lock(project)
    week_on = monday(week_on)
    _open(held, week_on)
    if Promise.objects.filter(project=held, week_on=week_on, removed_on=None).exists():
        raise Refused(_("Promises are written down for this week; mark those and close it."), field="week_on")
    if not 1 <= promised <= MOST:
        raise Refused(_("Give between 1 and %d promises.") % MOST, field="promised")
    if not 0 <= kept <= promised:
        raise Refused(_("No more can be kept than were promised."), field="kept")
    if len(causes) != promised - kept:
        raise Refused(
            _("%(missed)d were not kept, and %(causes)d causes are named; name one for each.")
            % {"missed": promised - kept, "causes": len(causes)}, field="causes",
        )  # fmt: skip
    if not set(causes) <= set(Miss.values):
        raise Refused(_("Choose the causes from the list."), field="causes")
    return _counted(held, week_on, promised, [str(cause) for cause in causes], by=by, now=now, today=today)


def _counted(
    project: Project, week_on: date, promised: int, causes: list[str], *, by: User | None, now: datetime, today: date
) -> PromiseWeek:
    if week_on > today:
        raise Refused(_("This week has not begun; it is closed when it is over."), field="week_on")
    row = PromiseWeek.objects.create(
        project=project, week_on=week_on, promised=promised, kept=promised - len(causes), causes=causes, closed_at=now,
        closed_by=by,
    )  # fmt: skip
    words = _("Closed the week of %(week)s: %(kept)d of %(promised)d promises kept")
    told = {"week": week_on, "kept": row.kept, "promised": row.promised}
    trail.note(
        project, by=by, at=now, verb="closed", subject="promise", subject_id=None, summary=words % told,
        details={"week": str(week_on), "causes": causes},
    )  # fmt: skip
    return row


def _open(project: Project, week_on: date) -> None:
    if PromiseWeek.objects.filter(project=project, week_on=week_on).exists():
        last = week_on + timedelta(days=6)
        raise Refused(
            _("The week of %(first)s to %(last)s is closed; its count stays.")
            % {"first": display.day(week_on, project.locale), "last": display.day(last, project.locale)},
            field="week_on",
        )


def _held(promise: Promise) -> Promise:
    project = plan.lock(promise.project)
    held = Promise.objects.filter(pk=promise.pk, removed_on=None).first()
    if held is None:
        raise Refused(_("This promise was taken off the list meanwhile."))
    _open(project, held.week_on)
    return held


def _activity(project: Project, activity_id: int | None) -> Activity | None:
    if activity_id is None:
        return None
    found = Activity.objects.filter(project=project, pk=activity_id, removed_on=None).first()
    if found is None:
        raise Refused(_("This activity is not in the plan any more; choose another."), field="activity")
    return found


def _noted(row: Promise, verb: str, words: str, by: User | None, now: datetime) -> None:
    told = {"week": row.week_on, "what": row.what, "cause": row.get_cause_display()}
    trail.note(
        row.project, by=by, at=now, verb=verb, subject="promise", subject_id=row.pk, summary=words % told,
        details={"cause": str(row.cause)} if row.cause else None,
    )  # fmt: skip
