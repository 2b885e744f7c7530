"""What a what-if stands on, what it comes to, and the questions that are kept."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from typing import Any

from django.http import Http404

from projects.faults import Refused
from projects.models import Project
from schedule.calc import alter_json, steps, whatif
from schedule.calc import network as engine
from schedule.calc.alter import Alteration
from schedule.calc.steps import Step
from schedule.calc.whatif import Answer, Call, Meanwhile, Move, Told
from schedule.models import Activity, Question, WorkCalendar
from schedule.selectors.network import WEEKDAYS, Read
from schedule.selectors.standing import refusing, standing
from units.reading import Unreadable


@dataclass(frozen=True, slots=True)
class Booked:
    """A hold point, the activity it is looked at in, and the visit that is booked."""

    key: int
    code: str
    title: str
    activity: str
    booked_for: date | None


@dataclass(frozen=True)
class Ground:
    """The plan as it stands, with what is known of its activities; everything is by their codes."""

    read: Read
    told: Mapping[str, Told]
    #: Activities that are not done, in the order of the plan; those that are made or carried.
    open: tuple[str, ...]
    carried: frozenset[str]
    #: {code: what comes with it}
    deliveries: Mapping[str, str]
    holds: tuple[Booked, ...]
    target: date | None
    cost_of_day_minor: int
    today: date

    @cached_property
    def solution(self) -> engine.Solution:
        """The plan worked out, once. Raises: Refused."""
        with refusing(self.read.names):
            return engine.solve_network(self.read.network)

    @property
    def calendars(self) -> tuple[str, ...]:
        """The calendars that have a row of their own."""
        return tuple(name for name in self.read.network.calendars if name != WEEKDAYS.name)

    def label(self, code: str) -> str:
        """An activity in words: its code and its name."""
        return f"{code} {self.read.names.get(code, '')}".strip()


@dataclass(frozen=True)
class Asked:
    """A question with all that its answer brings."""

    answer: Answer
    waits: tuple[Move, ...]
    meanwhile: tuple[Meanwhile, ...]
    calls: tuple[Call, ...]
    holds: tuple[Booked, ...]
    deliveries: tuple[tuple[Move, str], ...]
    later_covers: tuple[Move, ...]
    told: Mapping[str, Told] = field(repr=False)


@dataclass(frozen=True)
class Kept:
    """A kept question with today's answer, or why it has none; one that is in the plan is not asked."""

    question: Question
    steps: tuple[Step, ...]
    added: tuple[str, ...]
    answer: Answer | None
    fault: str


KNOWN = ("code", "name", "kind", "trade", "area", "covers", "attended_by", "notice_days")
MADE = frozenset({Activity.Kind.DELIVERY, Activity.Kind.FABRICATION})


def ground(project: Project, *, today: date) -> Ground | None:
    """Read what a what-if stands on; None where nothing is planned. Queries: 6."""
    read = standing(project, today=today)
    if read is None or not read.rows:
        return None
    rows = list(_rows(project))
    done = {row["code"] for row in rows if row["finished_on"]}
    codes = tuple(dict.fromkeys(row["code"] for row in rows))
    return Ground(
        read=read,
        told={row["code"]: Told(**{name: row[name] for name in KNOWN if name != "code"}) for row in rows},
        open=tuple(code for code in codes if code not in done),
        carried=frozenset(row["code"] for row in rows if row["kind"] in MADE),
        deliveries={
            row["code"]: row["delivery__item"]
            for row in rows
            if row["delivery__item"] and row["delivery__removed_on"] is None
        },
        holds=_holds(rows),
        target=project.opens_on,
        cost_of_day_minor=project.cost_of_day_minor or 0,
        today=today,
    )


def _rows(project: Project):  # type: ignore[no-untyped-def]  # a queryset of plain rows, one for each hold point
    found = Activity.objects.filter(project=project, removed_on=None).order_by("position", "pk", "hold_points__pk")
    return found.values(
        *KNOWN, "finished_on", "delivery__item", "delivery__removed_on",
        *(f"hold_points__{name}" for name in ("pk", "code", "title", "booked_for", "removed_on")),
    )  # fmt: skip


def _holds(rows: Sequence[Mapping[str, Any]]) -> tuple[Booked, ...]:
    return tuple(
        Booked(
            row["hold_points__pk"], row["hold_points__code"], row["hold_points__title"], row["code"], row["hold_points__booked_for"]
        )
        for row in rows
        if row["hold_points__pk"] and row["hold_points__removed_on"] is None
    )  # fmt: skip


def answered(ground: Ground, alteration: Alteration, *, cost_minor: int = 0) -> Answer:
    """Work out what an alteration comes to. Queries: 0. Raises: Refused, where the plan has no answer."""
    with refusing(ground.read.names):
        return whatif.answer(
            ground.read.network,
            alteration,
            target=ground.target,
            cost_of_day_minor=ground.cost_of_day_minor,
            cost_minor=cost_minor,
            before=ground.solution,
        )


def put_together(ground: Ground, asked: Sequence[Step], added: Alteration) -> Alteration:
    """Make one alteration of steps, with the activities that a kept question adds. Raises: Refused."""
    with refusing(ground.read.names):
        return steps.together(asked, ground.read.network, add=added.add)


def asked(ground: Ground, alteration: Alteration, *, cost_minor: int = 0) -> Asked:
    """An answer with what waits, what can be done meanwhile, whom to call and what is booked. Queries: 0. Raises: Refused."""
    found = answered(ground, alteration, cost_minor=cost_minor)
    moved = {move.code: move for move in found.moved if move.moves}
    waits = whatif.waits(found)
    return Asked(
        answer=found,
        waits=waits,
        meanwhile=whatif.meanwhile(found, ground.told, today=ground.today),
        calls=whatif.calls(found, ground.told, today=ground.today),
        holds=tuple(hold for hold in ground.holds if hold.activity in moved),
        deliveries=tuple((moved[code], item) for code, item in ground.deliveries.items() if code in moved),
        later_covers=tuple(move for move in waits if move.code in ground.told and ground.told[move.code].covers),
        told=ground.told,
    )


def kept(project: Project, ground: Ground | None) -> tuple[Kept, ...]:
    """The kept questions with today's answers, one run of the network each. Queries: 1."""
    rows = Question.objects.filter(project=project, removed_on=None)
    return tuple(kept_one(row, ground) for row in rows)


def kept_one(row: Question, ground: Ground | None) -> Kept:
    """One question with today's answer; what cannot be read or worked out any more says so instead of an answer."""
    if ground is None:
        return Kept(row, (), (), None, "")
    try:
        changes = alter_json.read(row.changes)
        told = steps.apart(changes, ground.read.network)
        added = tuple(alter_json.names(row.changes).get(one.id, one.id) for one in changes.add)
        found = None if row.kept_on else answered(ground, changes, cost_minor=row.cost_minor)
    except Refused as fault:
        return Kept(row, told, added, None, fault.message)
    except Unreadable as fault:
        return Kept(row, (), (), None, str(fault))
    return Kept(row, told, added, found, "")


def question_in(project: Project, question_id: int) -> Question:
    """A question of this project. Queries: 1. Raises: Http404."""
    row = Question.objects.select_related("project").filter(project=project, pk=question_id).first()
    if row is None:
        raise Http404
    return row


def calendar_named(project: Project, calendar_id: int) -> str:
    """The name of a calendar of this project, or "". Queries: 1."""
    return WorkCalendar.objects.filter(project=project, pk=calendar_id).values_list("name", flat=True).first() or ""


def code_of(ground: Ground, activity_id: int) -> str:
    """The code of an activity by its number, or "". Queries: 0."""
    return next((code for code, pk in ground.read.rows.items() if pk == activity_id), "")
