"""Builders of the savings book: lines let for less, changes on them, invoices for them."""

from datetime import date
from decimal import Decimal
from typing import Any

from budget.models import Change, LineItem
from budget.services import agreements
from decisions.models import BookEntry
from decisions.services import book
from projects.models import Project, Role
from tests import builders
from tests.builders import NOW, TODAY


def let(
    project: Project, code: str = "L0102", *, first: int = 20_000, second: int = 17_000, agreed: int | None = None, **terms: Any
) -> LineItem:  # fmt: skip
    """A line whose first quote is its original, let to the second bidder, perhaps with the price talked down."""
    line = builders.line(project, code, budget=18_000)
    builders.quote(line, first, vendor="Quillstone")
    quote = builders.quote(line, second, vendor="Norrowby")
    amounts = {} if agreed is None else {line.pk: agreed * 100}
    agreements.accept_quote(
        quote, by=builders.lead_of(project), role=Role.OWNER, now=NOW, today=TODAY,
        terms=agreements.Terms(amounts=amounts, **terms),
    )  # fmt: skip
    return LineItem.objects.select_related("project").get(pk=line.pk)


def as_lead(project: Project) -> dict[str, Any]:
    return {"by": builders.lead_of(project), "now": NOW, "today": TODAY}


def enter(line: LineItem, amount: int, **more: Any) -> BookEntry:
    """An own entry of the same function for less, in whole major units."""
    draft = book.EntryDraft(
        **{"kind": "same for less", "line_id": line.pk, "what": "Second maker", "amount_minor": amount * 100} | more
    )
    return book.add_entry(line.project, draft, **as_lead(line.project))


def change(line: LineItem, amount: int, *, state: str = "agreed", on: date = TODAY, **more: Any) -> Change:
    """A change as the book reads it; settled into the ledger by `settle`."""
    from budget.services.ledger import Deed, settle

    count = Change.objects.filter(project=line.project).count() + 1
    made = Change.objects.create(
        **{
            "project": line.project, "line": line, "code": f"C{count:02d}", "title": "More of it", "reason": "unforeseen",
            "paid_from": "contingency", "state": state, "amount_minor": amount * 100, "chance": Decimal(1), "raised_on": on,
            "decided_on": on if state == "agreed" else None, "raised_at": NOW,
        } | more
    )  # fmt: skip
    settle(line.project, [line.pk], Deed(None, NOW, TODAY, "change", str(made), "change", made.pk))
    return made
