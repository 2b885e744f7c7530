"""Questions that are kept: what would be otherwise, asked anew each day, and put into the plan when it comes true."""

from datetime import date, datetime

from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext as _

from projects import trail
from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from schedule.calc import alter_json
from schedule.calc.alter import Alteration
from schedule.models import Question
from schedule.services import altering, plan
from units.reading import Unreadable

TITLE_LENGTH, NOTE_LENGTH = 200, 300


@transaction.atomic
def keep(
    project: Project, alteration: Alteration, *, title: str, note: str = "", cost_minor: int = 0, by: User | None, now: datetime,
    today: date,
) -> Question:  # fmt: skip
    """Keep a question, to be asked again. Nothing of the plan changes.

    Args:
        cost_minor: what it would cost beside the days [minor units]; below zero saves.
    Writes Question and a trail row. Not safe to repeat: each call is a further one.
    Raises: Refused, without a title, and where the plan has no answer to it.
    """
    title = title.strip()
    if not title:
        raise Refused(_("Give the question a title, such as “Inspector misses a visit”."), field="title")
    held = plan.lock(project)
    altering.answerable(held, alteration, today=today)
    last = Question.objects.filter(project=held).aggregate(last=Max("position"))["last"]
    row = Question.objects.create(
        project=held, title=title[:TITLE_LENGTH], changes=alter_json.write(alteration), cost_minor=cost_minor,
        note=note.strip()[:NOTE_LENGTH], asked_at=now, asked_by=by, position=0 if last is None else last + 1,
    )  # fmt: skip
    _noted(row, "kept", _("Kept the question %s"), by, now)
    return row


@transaction.atomic
def remove(question: Question, *, by: User | None, now: datetime, today: date) -> None:
    """Take a question off the list. Safe to repeat. Writes Question.removed_on and a trail row."""
    row = _locked(question)
    if row.removed_on is None:
        row.removed_on = today
        row.save(update_fields=["removed_on"])
        _noted(row, "removed", _("Took the question %s off the list"), by, now)


@transaction.atomic
def bring_back(question: Question, *, by: User | None, now: datetime) -> None:
    """Put a question back on the list. Safe to repeat."""
    row = _locked(question)
    if row.removed_on is not None:
        row.removed_on = None
        row.save(update_fields=["removed_on"])
        _noted(row, "brought back", _("Put the question %s back on the list"), by, now)


@transaction.atomic
def put_in(question: Question, *, reason: str, by: User | None, now: datetime, today: date) -> None:
    """Put what a question asks about into the plan, for it has come true or is wanted.

    Writes what `altering.put_in` writes, and Question.kept_on. Raises: Refused, for one that is in already, without a reason,
    and where the plan cannot take it.
    """
    row = _locked(question)
    if row.kept_on is not None:
        raise Refused(_("This is in the plan already; take it out first to put it in anew."))
    if not reason.strip():
        raise Refused(_("Say why the plan changes; it stays in the trail."), field="reason")
    altering.put_in(
        row.project, alteration_of(row), reason=f"{row.title}: {reason.strip()}", by=by, now=now, today=today,
        names=alter_json.names(row.changes), subject="question", subject_id=row.pk,
    )  # fmt: skip
    row.kept_on = today
    row.save(update_fields=["kept_on"])


@transaction.atomic
def take_out(question: Question, *, by: User | None, now: datetime, today: date) -> tuple[str, ...]:
    """Take what a question put into the plan out again.

    Returns: what was left alone because somebody has changed it since, a sentence each.
    Raises: Refused, where it is not in the plan.
    """
    row = _locked(question)
    entry = (
        TrailEntry.objects.filter(project=row.project, subject="question", subject_id=row.pk, verb=altering.PUT_IN)
        .order_by("-pk")
        .first()
    )
    if row.kept_on is None or entry is None:
        raise Refused(_("This is not in the plan."))
    left = altering.take_out(
        row.project, entry.details["before"], reason=row.title, by=by, now=now, today=today, subject="question", subject_id=row.pk
    )  # fmt: skip
    row.kept_on = None
    row.save(update_fields=["kept_on"])
    return left


def alteration_of(question: Question) -> Alteration:
    """What a question asks about. Raises: Refused, where what is kept cannot be read."""
    try:
        return alter_json.read(question.changes)
    except Unreadable as fault:
        raise Refused(
            _("The question %(title)s cannot be read: %(fault)s") % {"title": question, "fault": fault}
        ) from fault


def _locked(question: Question) -> Question:
    plan.lock(question.project)
    return Question.objects.select_related("project").get(pk=question.pk)


def _noted(row: Question, verb: str, words: str, by: User | None, now: datetime) -> None:
    trail.note(
        row.project, by=by, at=now, verb=verb, subject="question", subject_id=row.pk, summary=words % row.title,
        details={"changes": row.changes, "cost_minor": row.cost_minor},
    )  # fmt: skip
