"""Builds with money set aside, for the tests of contingency, transfers, risks and closing. Amounts are whole major units."""

from decimal import Decimal
from typing import Any

from budget.models import Cause, Change, LineItem, Transfer
from budget.services import agreements, closing, ledger, transfers
from projects.models import Project, Role, User
from tests import builders
from tests.builders import NOW, TODAY


def who(by: User) -> dict[str, Any]:
    return {"by": by, "now": NOW, "today": TODAY}


def build(lead: User, *, contingency: int | None = 8_000, **changes: Any) -> Project:
    """A build whose lead may commit 2,000 without an owner."""
    return builders.project(lead, **{"name": "Set aside", "contingency": contingency, "lead_limit": 2_000} | changes)


def pot(project: Project) -> LineItem:
    return LineItem.objects.get(project=project, kind=LineItem.Kind.CONTINGENCY, trade__code="T99")


def let(project: Project, code: str = "L0101", *, budget: int = 10_000, agreed: int = 9_000) -> LineItem:
    """A line that is let."""
    line = builders.line(project, code, budget=budget)
    quote = builders.quote(line, agreed, vendor=f"Vendor {code}")
    agreements.accept_quote(quote, role=Role.OWNER, **who(builders.lead_of(project)))
    return fresh(line)


def change(line: LineItem, amount: int, *, code: str = "C01", **changes: Any) -> Change:
    """An agreed change as it stands when it comes to be paid; the service of changes has its own tests."""
    facts = {
        "reason": Change.Reason.UNFORESEEN, "paid_from": Change.Source.CONTINGENCY, "state": Change.State.AGREED,
        "chance": Decimal(1), "title": "Timber in the dig", "raised_on": TODAY, "raised_at": NOW,
    }  # fmt: skip
    return Change.objects.create(
        project=line.project, line=line, code=code, amount_minor=amount * 100, **(facts | changes)
    )


def draw(made: Change, by: User) -> set[int]:
    """Pay a change from the contingency, as agreeing to it does."""
    touched = transfers.enter_draw(made, by=by, now=NOW, on=TODAY)
    ledger.settle(made.project, touched | {made.line_id}, ledger.Deed(by, NOW, TODAY, Cause.TRANSFER))
    return touched


def move(project: Project, source: LineItem, target: LineItem, amount: int, by: User, **terms: Any) -> Transfer:
    facts = {"role": Role.LEAD, "reason": "the dig is deeper", "need": Change.Reason.UNFORESEEN} | who(by)
    return transfers.move(
        project, from_line_id=source.pk, to_line_id=target.pk, amount_minor=amount * 100, **(facts | terms)
    )


def close(line: LineItem, by: User, **terms: Any) -> LineItem:
    return closing.close_line(fresh(line), **(who(by) | {"note": "agreed on site"} | terms))


def fresh(line: LineItem) -> LineItem:
    return LineItem.objects.select_related("project").get(pk=line.pk)


def likely(line: LineItem) -> int:
    """[whole major units]"""
    return fresh(line).likely_minor // 100


def whole(project: Project) -> bool:
    """The ledger adds up and every kept figure is what its sources say."""
    lines = list(LineItem.objects.filter(project=project, removed_on=None))
    return ledger.unreconciled(project) == [] and ledger.drifted(project, lines, on=TODAY) == []
