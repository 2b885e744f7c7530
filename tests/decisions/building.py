"""Builders of decisions: two ways to carry a tank, as a lead would enter them."""

from datetime import date, timedelta
from typing import Any

from budget.models import LineItem, Quote
from decisions.models import Decision, Option
from decisions.services import drafts, records
from projects.models import Project, Role
from tests import builders
from tests.builders import NOW, TODAY


def as_lead(project: Project) -> dict[str, Any]:
    return {"by": builders.lead_of(project), "role": Role.LEAD, "now": NOW, "today": TODAY}


def decision(project: Project, *lines: LineItem, checks: tuple[str, ...] = (), **changes: Any) -> Decision:
    asked = {"title": "How to carry the tank", "need_by": TODAY + timedelta(days=10)} | changes
    must = [drafts.MustPassDraft(name) for name in checks]
    who = builders.lead_of(project)
    return drafts.open_decision(project, line_ids=[line.pk for line in lines], checks=must, by=who, now=NOW, **asked)


def priced(line: LineItem, *, quote: Quote | None = None, amount: int | None = None) -> drafts.ItemDraft:
    return drafts.ItemDraft(line.pk, "work", quote.pk if quote else None, None if amount is None else amount * 100)


def option(decision: Decision, name: str, *items: drafts.ItemDraft, verdict: str = "passes", **more: Any) -> Option:
    """An option that passes every check unless the test says otherwise."""
    found = tuple(drafts.CheckDraft(check.pk, verdict) for check in decision.must_passes.all())
    draft = drafts.OptionDraft(name, items, checks=found, **more)
    return drafts.add_option(decision, draft, by=builders.lead_of(decision.project), now=NOW)


def tank(
    project: Project, *, plinth: int = 20_000, frame: int = 15_000, checks: tuple[str, ...] = (), **more: Any
) -> Decision:
    """A plinth against a frame, both quoted; the plinth's quote came first and is the original."""
    line = builders.line(project, "L0303", budget=16_000)
    first = builders.quote(line, plinth, vendor="Quillstone")
    second = builders.quote(line, frame, vendor="Norrowby")
    made = decision(project, line, checks=checks)
    option(made, "Plinth", priced(line, quote=first))
    option(made, "Frame", priced(line, quote=second), **more)
    return Decision.objects.get(pk=made.pk)


def key(decision: Decision, letter: str) -> Option:
    return decision.options.get(key=letter)


def choose(decision: Decision, letter: str, **more: Any) -> records.Choice:
    return records.Choice(key(decision, letter).pk, more.pop("reason", "can still be levelled"), **more)


def record(decision: Decision, letter: str, **more: Any) -> records.Record:
    choice = choose(decision, letter, **more)
    return records.record(decision, choice, **as_lead(decision.project))


def later(days: int) -> date:
    return TODAY + timedelta(days=days)
