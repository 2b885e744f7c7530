"""Builds with lines that are let, for the tests of changes. Amounts are whole major units."""

from decimal import Decimal
from typing import Any

from budget.models import AgreementGap, Cause, Change, KnockOn, LineItem
from budget.services import agreements, changes, ledger, lines, quotes
from projects.models import Project, Role, User
from tests import builders
from tests.budget import reserving
from tests.builders import NOW, TODAY


def build(lead: User, *, limit: int = 2_000, contingency: int = 8_000) -> Project:
    return reserving.build(lead, lead_limit=limit, contingency=contingency)


def let_with_gap(project: Project, code: str = "L0202", *, agreed: int = 9_000, gap: int = 1_260) -> LineItem:
    """A line let to a vendor whose price leaves a piece of the work open."""
    line = builders.line(project, code, budget=10_000)
    whole = quotes.ScopeDraft("Isolation valves", "priced", gap * 100)
    builders.quote(line, agreed, vendor="Whole", scope=(whole,))
    open_piece = quotes.ScopeDraft("Isolation valves", "unclear")
    cheap = builders.quote(line, agreed, vendor=f"Vendor {code}", scope=(open_piece,))
    agreements.accept_quote(cheap, by=builders.lead_of(project), role=Role.OWNER, now=NOW, today=TODAY)
    return reserving.fresh(line)


def gap_on(line: LineItem) -> AgreementGap:
    return AgreementGap.objects.get(agreement_line__line=line)


def draft(line: LineItem, amount: int = 1_260, **facts: Any) -> changes.ChangeDraft:
    usual = {"title": "Isolation valves", "reason": Change.Reason.GAP, "paid_from": Change.Source.LINE}
    return changes.ChangeDraft(line_id=line.pk, amount_minor=amount * 100, **(usual | facts))


def raised(line: LineItem, amount: int = 1_260, *, role: str = Role.LEAD, agree: bool = False, **facts: Any) -> Change:
    """A change as the lead writes it down."""
    by = builders.lead_of(line.project)
    return changes.raise_change(
        line.project, draft(line, amount, **facts), by=by, role=role, now=NOW, today=TODAY, agree=agree
    )


def price(change: Change, amount: int, by: User, **terms: Any) -> Change:
    facts = {"is_ceiling": False, "days": 0, "chance": Decimal(1), "note": ""} | reserving.who(by) | terms
    return changes.price(change, amount_minor=amount * 100, **facts)


def agree(change: Change, by: User, *, role: str = Role.OWNER, **terms: Any) -> Change:
    return changes.agree(change, role=role, **({"note": ""} | reserving.who(by) | terms))


def effect_on(line: LineItem, amount: int) -> KnockOn:
    """What a decision elsewhere costs a line, as recording it writes and settles it."""
    by = builders.lead_of(line.project)
    made = lines.enter_knock_on(line, amount * 100, reason="D01: extra design", by=by, now=NOW, on=TODAY)
    ledger.settle(line.project, [line.pk], ledger.Deed(by, NOW, TODAY, Cause.DECISION))
    return made
