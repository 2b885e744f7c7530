"""Builders of the savings book: lines let for less than their original quote, and own entries. Whole major units."""

from typing import Any

from budget.models import LineItem
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


def who(project: Project) -> dict[str, Any]:
    return {"by": builders.lead_of(project), "now": NOW, "today": TODAY}


def draft(line: LineItem, amount: int = 3_000, **more: Any) -> book.EntryDraft:
    facts = {"kind": "same for less", "line_id": line.pk, "what": "Second maker", "amount_minor": amount * 100}
    return book.EntryDraft(**facts | more)


def enter(line: LineItem, amount: int = 3_000, **more: Any) -> BookEntry:
    """An own entry of the same function for less, decided."""
    return book.add_entry(line.project, draft(line, amount, **more), **who(line.project))


def advance(entry: BookEntry, state: str, **more: Any) -> BookEntry:
    return book.advance(entry, state=state, **who(entry.project) | more)


def take_back(entry: BookEntry, reason: str = "not so") -> BookEntry:
    return book.take_back(entry, reason=reason, **who(entry.project))
