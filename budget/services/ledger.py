"""The one door through which a likely final changes.

Whatever a service does to quotes, agreements or estimates, it ends with `settle`: the likely final of the lines it
touched is worked out anew by `calc.forecast`, and the difference to what stood before is written as a movement with
its cause. So `budget + movements = likely final` holds for every line at all times, to the cent, by construction;
`unreconciled` proves it from the rows.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from django.db import transaction
from django.db.models import F, Q, Sum

from budget.calc import forecast
from budget.models import Cause, Change, LineItem, Movement, Quote, QuoteLine
from budget.selectors import billing, facts
from projects import bulk
from projects.models import Project, User


@dataclass(frozen=True, slots=True)
class Deed:
    """Who does what to the ledger, when, and because of which row."""

    by: User | None
    at: datetime
    on: date
    cause: str
    note: str = ""
    source: str = ""
    source_id: int | None = None


def lock(project: Project) -> Project:
    """Hold the project's row until the transaction ends, so that two writers of its money queue up."""
    return Project.objects.select_for_update().get(pk=project.pk)


#: What is kept beside the sources of a line, in the order `_kept` gives it.
KEPT = (
    "likely_minor",
    "agreed_minor",
    "state",
    "changes_minor",
    "invoiced_minor",
    "retention_minor",
    "moved_minor",
    "currency_minor",
)


def settle(project: Project, line_ids: Collection[int], deed: Deed) -> list[Movement]:
    """Work out the likely finals of some lines anew and write what moved.

    Args:
        line_ids: the lines that may have moved; the others are left alone.
        deed: cause, date and origin that the movements bear; what exchange rates moved is a movement of its own.
    Returns: the movements written, at most two a line.
    Writes Movement rows and the kept figures of the lines. Repeating it writes nothing further.
    """
    before = {line.pk: line for line in LineItem.objects.filter(project=project, pk__in=line_ids)}
    movements, changed = [], []
    for pk, kept in _worked_out(project, line_ids, deed.on):
        line = before[pk]
        movements += _movements(project, line, kept, deed)
        if tuple(getattr(line, name) for name in KEPT) != kept:
            for name, value in zip(KEPT, kept, strict=True):
                setattr(line, name, value)
            changed.append(line)
    Movement.objects.bulk_create(movements)
    bulk.save_columns(changed, KEPT)
    return movements


def _worked_out(
    project: Project, line_ids: Collection[int] | None, on: date
) -> Iterator[tuple[int, tuple[int | str | None, ...]]]:
    """What is to be kept beside each line, worked out from its sources, in the order of `KEPT`."""
    held = billing.withheld(project, line_ids)
    for fact in facts.line_facts(project, line_ids):
        outcome = forecast.likely_final(fact, as_of=on)
        agreed_changes = sum(change.amount_minor for change in fact.changes if change.status == Change.State.AGREED)
        yield (
            int(fact.id),
            (
                outcome.likely_minor, fact.agreed_minor, outcome.state, agreed_changes, fact.invoiced_minor, held.get(int(fact.id), 0),
                fact.moved_minor, outcome.currency_minor,
            ),
        )  # fmt: skip


def _movements(project: Project, line: LineItem, kept: tuple[Any, ...], deed: Deed) -> list[Movement]:
    """The step of a line's likely final, with the part that exchange rates brought apart."""
    step = kept[0] - line.likely_minor
    by_rates = kept[-1] - line.currency_minor
    parts = ((replace(deed, cause=Cause.CURRENCY), by_rates), (deed, step - by_rates))
    return [_movement(project, line, amount, part) for part, amount in parts if amount]


def _movement(project: Project, line: LineItem, step: int, deed: Deed, *, reverses: Movement | None = None) -> Movement:
    return Movement(
        project=project,
        line=line,
        cause=deed.cause,
        amount_minor=step,
        occurred_on=deed.on,
        recorded_at=deed.at,
        recorded_by=deed.by,
        note=deed.note[:300],
        source=deed.source,
        source_id=deed.source_id,
        reverses=reverses,
    )


def reverse(project: Project, *, source: str, source_id: int, deed: Deed) -> set[int]:
    """Write the opposite of every movement that came from one row and still stands.

    Returns: the lines touched. Each reversal bears the cause of the movement it names, so that the bridge closes up.
    The caller settles those lines afterwards: what has changed in the meantime is a movement of its own.
    """
    standing = Movement.objects.filter(
        project=project, source=source, source_id=source_id, reverses=None, reversal=None
    ).select_related("line")
    reversals = []
    for movement in standing:
        own = Deed(by=deed.by, at=deed.at, on=deed.on, cause=movement.cause, note=deed.note, source="reversal")
        reversals.append(_movement(project, movement.line, -movement.amount_minor, own, reverses=movement))
    Movement.objects.bulk_create(reversals)
    for row in reversals:
        by_rates = row.amount_minor if row.cause == Cause.CURRENCY else 0
        LineItem.objects.filter(pk=row.line_id).update(
            likely_minor=F("likely_minor") + row.amount_minor, currency_minor=F("currency_minor") + by_rates
        )
    return {row.line_id for row in reversals}


@transaction.atomic
def bring_up_to(project: Project, *, today: date, at: datetime) -> list[Movement]:
    """Let quotes that ran out since the last look leave the likely finals.

    Writes movements with the cause `quoted` and the project's `settled_on`. Safe to repeat: a second call on the same
    day does nothing. Not a person's deed, so it leaves no trail row; the movements say what happened.
    """
    project = lock(project)
    if project.settled_on == today:
        return []
    earlier, later = sorted((project.settled_on or date.min, today))
    ran_out = QuoteLine.objects.filter(
        quote__project=project,
        quote__state=Quote.State.OPEN,
        quote__valid_until__gte=earlier,
        quote__valid_until__lt=later,
    ).values_list("line_id", flat=True)
    deed = Deed(by=None, at=at, on=today, cause=Cause.QUOTED, note="a quote ran out")
    moved = settle(project, set(ran_out), deed)
    Project.objects.filter(pk=project.pk).update(settled_on=today)
    return moved


def unreconciled(project: Project) -> list[tuple[str, int, int]]:
    """Prove the ledger from its rows.

    Returns: (line code, kept likely final, budget plus movements) of each line where the two differ; empty when all is
    well. Queries: 1.
    """
    rows = LineItem.objects.filter(project=project).annotate(moved=Sum("movements__amount_minor", default=0))
    wrong = rows.exclude(Q(likely_minor=F("budget_minor") + F("moved")))
    return [(line.code, line.likely_minor, line.budget_minor + line.moved) for line in wrong]


def drifted(project: Project, lines: Sequence[LineItem], *, on: date) -> list[tuple[LineItem, str, Any, Any]]:
    """Prove the kept figures of lines from their sources, as they are on a day.

    Returns: (line, name of the figure, as kept, as worked out) of each that differs; empty when all is well.
    """
    by_id = {line.pk: line for line in lines}
    return [
        (by_id[pk], name, getattr(by_id[pk], name), value)
        for pk, kept in _worked_out(project, list(by_id), on)
        for name, value in zip(KEPT, kept, strict=True)
        if getattr(by_id[pk], name) != value
    ]
