"""The decisions of a project at a glance: open, waiting for an owner, taken."""

import json
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from decisions.calc import ranking
from decisions.models import Approval, CostItem, Decision, Option, Record
from decisions.selectors import board as boards
from decisions.selectors import deciding, savings
from decisions.selectors.deciding import Deadline
from projects.models import Project

SOON = timedelta(days=14)


@dataclass(frozen=True, slots=True)
class RunningOut:
    """A quote in an option that has run out, or does so soon or before the decision is due."""

    key: str
    vendor: str
    valid_until: date
    days_left: int
    amount_minor: int

    @property
    def expired(self) -> bool:
        return self.days_left < 0


@dataclass(frozen=True, slots=True)
class OpenRow:
    """An open decision; `best` is the option with the lowest expected total of those that fail no check."""

    decision: Decision
    days_left: int | None
    options: int
    best: Option | None
    best_minor: int | None
    ranking: ranking.Ranking
    unanswered: tuple[str, ...]
    running_out: tuple[RunningOut, ...]
    deadline: Deadline

    @property
    def overdue(self) -> bool:
        return self.days_left is not None and self.days_left < 0


@dataclass(frozen=True, slots=True)
class DueRow:
    """An open decision, as far as its date and its quotes go."""

    decision: Decision
    days_left: int | None
    running_out: tuple[RunningOut, ...]


@dataclass(frozen=True, slots=True)
class TakenRow:
    """A recorded decision with both yardsticks [minor units]: `saved_minor` above zero is saved, `over_minor` is over."""

    decision: Decision
    record: Record
    option: Option
    price_minor: int
    saved_minor: int | None
    after_effects_minor: int | None
    over_minor: int
    taken_on: date | None

    @property
    def against_original_minor(self) -> int | None:
        """The price less the original quote: above zero is extra, as on the pages of Money."""
        return None if self.saved_minor is None else -self.saved_minor


@dataclass(frozen=True, slots=True)
class Choices:
    open: tuple[OpenRow, ...]
    waiting: tuple[TakenRow, ...]
    taken: tuple[TakenRow, ...]
    savings: savings.SavingsBook

    @property
    def overdue(self) -> int:
        return sum(row.overdue for row in self.open)


def choices(project: Project, *, today: date) -> Choices:
    """Read every decision of a project. Queries: 12 and, where one is open, 1 to 6 more, whatever their number.

    Returns: open ones by need-by date, those without one last; waiting and taken ones newest first.
    """
    decisions = list(Decision.objects.filter(project=project, state=Decision.State.OPEN))
    for decision in decisions:
        decision.project = project
    rows = recorded(project)
    return Choices(
        open=tuple(_open_rows(decisions, today)),
        waiting=tuple(row for row in rows if row.decision.state == Decision.State.WAITING),
        taken=tuple(row for row in rows if row.decision.state == Decision.State.DECIDED),
        savings=savings.of_decisions(project),
    )


def due(project: Project, *, today: date) -> list[DueRow]:
    """Read the open decisions with their quotes that run out, without comparing their options. Queries: 2."""
    decisions = list(Decision.objects.filter(project=project, state=Decision.State.OPEN))
    quoted = CostItem.objects.filter(
        option__decision__in=decisions, option__withdrawn_at=None, quote__valid_until__isnull=False
    )
    items: dict[int, list[tuple[str, CostItem]]] = defaultdict(list)
    for item in boards.priced(quoted).select_related("option").order_by("option__key", "position", "pk"):
        items[item.option.decision_id].append((item.option.key, item))
    return [
        DueRow(
            decision=decision,
            days_left=(decision.need_by - today).days if decision.need_by else None,
            running_out=tuple(_running_out(items[decision.pk], decision.need_by, today)),
        )
        for decision in decisions
    ]


def recorded(project: Project) -> list[TakenRow]:
    """Read the waiting and taken decisions alone, newest first. Queries: 1."""
    rows = [
        _taken(record, record.decision)
        for record in standing_records(project).values()
        if record.decision.state != Decision.State.OPEN
    ]
    return sorted(rows, key=lambda row: (row.record.decided_on, row.record.pk), reverse=True)


def standing_records(project: Project) -> dict[int, Record]:
    """Read the record of each decision that stands or waits. Left out: declined and reopened ones. Queries: 1."""
    rows = (
        Record.objects.filter(decision__project=project, reopening=None)
        .exclude(approval__verdict=Approval.Verdict.DECLINED)
        .select_related("decision", "option", "taking", "approval", "recorded_by")
    )
    return {row.decision_id: row for row in rows}


def _open_rows(decisions: list[Decision], today: date) -> Iterator[OpenRow]:
    laid = boards.boards(decisions, today=today)
    until = deciding.deadlines(laid.values(), today=today)
    decisions.sort(key=lambda decision: (decision.need_by is None, decision.need_by or today, decision.code))
    for decision in decisions:
        yield _open_row(laid[decision.pk], until[decision.pk])


def _open_row(board: boards.Board, deadline: Deadline) -> OpenRow:
    seen, need_by = board.comparison, board.decision.need_by
    outcomes = {row.id: row for row in seen.options} if seen else {}
    ranked = ranking.rank(
        [ranking.Entrant(row.id, row.expected_total_minor, barred=row.passes is False) for row in outcomes.values()]
    )
    best = outcomes[ranked.best] if ranked.best else None
    return OpenRow(
        decision=board.decision,
        days_left=(need_by - board.today).days if need_by else None,
        options=len(board.options),
        best=next((option for option in board.options if best and option.key == best.id), None),
        best_minor=best.expected_total_minor if best else None,
        ranking=ranked,
        unanswered=best.unknown if best else (),
        running_out=tuple(running_out(board)),
        deadline=deadline,
    )


def running_out(board: boards.Board) -> list[RunningOut]:
    """The quotes of a board that ran out, or that do so within two weeks or before the decision is due, first first."""
    items = [(option.key, item) for option in board.options for item in board.items[option.pk]]
    return _running_out(items, board.decision.need_by, board.today)


def _running_out(items: Iterable[tuple[str, CostItem]], need_by: date | None, today: date) -> list[RunningOut]:
    limit = max(today + SOON, need_by or today)
    rows = [
        RunningOut(key, item.quote.vendor.name, until, (until - today).days, boards.price(item))
        for key, item in items
        if item.quote is not None and (until := item.quote.valid_until) is not None and until <= limit
    ]
    return sorted(rows, key=lambda row: (row.valid_until, row.key))


def _taken(record: Record, decision: Decision) -> TakenRow:
    record.decision = decision
    results: dict[str, Any] = json.loads(record.frozen)["results"]
    saved, effects = results["saved_minor"], results["effects_minor"]
    return TakenRow(
        decision=decision,
        record=record,
        option=record.option,
        price_minor=results["price_minor"],
        saved_minor=saved,
        after_effects_minor=saved - effects if saved is not None and effects else None,
        over_minor=results["over_budget_minor"],
        taken_on=record.taking.taken_on if hasattr(record, "taking") else None,
    )
