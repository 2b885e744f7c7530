"""What the page of one decision shows, whether it is open, waits for an owner or is taken."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import Http404
from django.utils.translation import gettext as _

from decisions import charts
from decisions.calc.waiting import Point
from decisions.models import Approval, Decision, Option, Record
from decisions.selectors import board as boards
from decisions.selectors import deciding, freezing, overview, sheet, words
from projects.models import Project

PARTS = ("first", "effects", "days", "correction", "running")


@dataclass(frozen=True, slots=True)
class Past:
    """A record of the decision that no longer stands: declined by an owner, or taken back."""

    record: Record
    approval: Approval | None


@dataclass(frozen=True, slots=True)
class DecisionPage:
    """`record` is the one that stands or waits; the comparison is then what it froze, else what is known today."""

    decision: Decision
    lines: tuple[Mapping[str, Any], ...]
    sheet: sheet.Sheet
    content: Mapping[str, Any]
    bars: tuple[charts.Row, ...]
    options: tuple[Option, ...]
    withdrawn: tuple[Option, ...]
    flips: words.FlipWords
    days_left: int | None
    running_out: tuple[overview.RunningOut, ...]
    record: Record | None
    past: tuple[Past, ...]
    deadline: deciding.Deadline | None
    waiting: tuple[Point, ...]

    @property
    def results(self) -> Mapping[str, Any]:
        return self.content.get("results", {})

    @property
    def waits(self) -> bool:
        return self.decision.state == Decision.State.WAITING

    @property
    def approval(self) -> Approval | None:
        return getattr(self.record, "approval", None)

    @property
    def chosen(self) -> Mapping[str, Any] | None:
        return self.option(self.content["choice"]["option"]) if self.record else None

    @property
    def against_original_minor(self) -> int | None:
        """The price less the original quote: above zero is extra, as on the pages of Money."""
        saved = self.results.get("saved_minor")
        return None if saved is None else -saved

    @property
    def harmful(self) -> tuple[Point, ...]:
        """The later days of the answer from the first that costs something."""
        first = next((place for place, point in enumerate(self.waiting) if point.harms), len(self.waiting))
        return self.waiting[first:]

    @property
    def has_expired(self) -> bool:
        return any(quote.expired for quote in self.running_out)

    @property
    def best(self) -> Mapping[str, Any] | None:
        return self.option(self.sheet.ranking.best)

    @property
    def next(self) -> Mapping[str, Any] | None:
        return self.option(self.sheet.ranking.next)

    @property
    def barred(self) -> Mapping[str, Any] | None:
        """The option that would be cheapest if it did not fail a check."""
        return self.option(self.sheet.ranking.barred_cheaper)

    @property
    def unanswered(self) -> tuple[str, ...]:
        """Checks of the best option that nobody has answered."""
        return (
            tuple(check["name"] for check in self.best["checks"] if check["verdict"] == "unknown") if self.best else ()
        )

    def option(self, key: str | None) -> Mapping[str, Any] | None:
        return next((option for option in self.content["options"] if option["key"] == key), None)


def find_decision(project: Project, pk: int) -> Decision:
    """Read one decision of a project. Raises: Http404. Queries: 1."""
    decision = Decision.objects.filter(project=project, pk=pk).first()
    if decision is None:
        raise Http404
    decision.project = project
    return decision


def find_option(decision: Decision, pk: int) -> Option:
    """Read one option of a decision, with the checks of its decision. Raises: Http404. Queries: 1."""
    option = Option.objects.filter(decision=decision, pk=pk).first()
    if option is None:
        raise Http404
    option.decision = decision
    return option


def find_record(project: Project, pk: int) -> Record:
    """Read one record with its answer and its end. Raises: Http404. Queries: 1."""
    rows = Record.objects.filter(decision__project=project, pk=pk)
    record = rows.select_related(*RECORD_PARTS, "decision").first()
    if record is None:
        raise Http404
    return record


RECORD_PARTS = ("option", "taking", "approval", "reopening__reopened_by", "recorded_by")


def decision_page(decision: Decision, *, today: date) -> DecisionPage:
    """Read the page of a decision. Queries: 8 and, while it is open, 1 to 7 more, whatever its size."""
    records = list(Record.objects.filter(decision=decision).select_related(*RECORD_PARTS).order_by("-number"))
    standing = next((row for row in records if stands(row)), None)
    laid = boards.board(decision, today=today)
    content = json.loads(standing.frozen) if standing else freezing.content(laid)
    table = sheet.lay_out(content)
    deadline = None if standing else deciding.deadlines([laid], today=today)[decision.pk]
    return DecisionPage(
        decision=decision,
        lines=tuple(content["lines"]),
        sheet=table,
        content=content,
        bars=tuple(_bar(option) for option in content["options"]),
        options=laid.options,
        withdrawn=laid.withdrawn,
        flips=words.flips(content, table.ranking, decision.project),
        days_left=(decision.need_by - today).days if decision.need_by else None,
        running_out=_running_out(laid, content),
        record=standing,
        past=tuple(Past(row, getattr(row, "approval", None)) for row in records if row is not standing),
        deadline=deadline,
        waiting=() if standing else deciding.waiting_costs(laid, option=table.ranking.best, today=today),
    )


def standing_record(decision: Decision) -> Record | None:
    """Read the record of a decision that is in force or waits. Queries: 1."""
    rows = Record.objects.filter(decision=decision).select_related(*RECORD_PARTS).order_by("-number")
    return next((row for row in rows if stands(row)), None)


def stands(record: Record) -> bool:
    """Tell whether a record is in force or waits: nobody declined it or took it back."""
    declined = hasattr(record, "approval") and record.approval.verdict == Approval.Verdict.DECLINED
    return not declined and not hasattr(record, "reopening")


def _running_out(laid: boards.Board, content: Mapping[str, Any]) -> tuple[overview.RunningOut, ...]:
    """The quotes that run out while a decision is open, or, while it waits for an owner, those of the chosen option."""
    state, chosen = laid.decision.state, content.get("choice", {}).get("option")
    if state == Decision.State.DECIDED:
        return ()
    return tuple(row for row in overview.running_out(laid) if chosen in (None, row.key))


def _bar(option: Mapping[str, Any]) -> charts.Row:
    """The parts of an option's expected total, for the picture."""
    outcome = option["outcome"]
    figures = ("price_minor", "effects_minor", "cost_of_days_minor", "correction_minor", "running_minor")
    parts = {part: outcome[name] for part, name in zip(PARTS, figures, strict=True)}
    name = f"{option['key']} {option['name']}"
    return {"name": _("%s (fails a check)") % name if outcome["passes"] is False else name, "parts": parts}
