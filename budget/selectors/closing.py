"""What stands between a line and its closing, and what it leaves behind."""

from collections.abc import Collection
from dataclasses import dataclass

from budget.models import Change, Invoice, LineItem
from budget.selectors import facts
from projects.models import Project

#: An invoice in one of these states waits for an answer.
UNANSWERED = (Invoice.State.WAITING, Invoice.State.QUERIED)


@dataclass(frozen=True, slots=True)
class Account:
    """The final account of a line [project minor units], and what still waits for an answer on it.

    `unbilled` is what the likely final holds beyond the invoices: closing takes it off. Below zero, more was billed than
    the line was reckoned to cost, and closing adds it.
    """

    invoiced: int
    unbilled: int
    invoices: tuple[Invoice, ...]
    changes: tuple[Change, ...]

    @property
    def ready(self) -> bool:
        return not (self.invoices or self.changes)


def account(project: Project, line: LineItem) -> Account:
    """Read what closing a line would find. Queries: 2."""
    waiting = Invoice.objects.filter(project=project, state__in=UNANSWERED, lines__line=line).select_related("vendor")
    proposed = Change.objects.filter(project=project, line=line, state=Change.State.PROPOSED)
    return Account(
        invoiced=line.invoiced_minor,
        unbilled=line.likely_minor - line.invoiced_minor,
        invoices=tuple(waiting.distinct()),
        changes=tuple(proposed),
    )


@dataclass(frozen=True, slots=True)
class Purse:
    """A line and what budget it holds as moved [project minor units]."""

    line: LineItem
    held_minor: int


def purses(project: Project, lines: Collection[LineItem]) -> list[Purse]:
    """What budget some lines hold: the first budget and what was moved, from the transfers themselves. Queries: 2."""
    moved = facts.moved(project, [line.pk for line in lines])
    return [Purse(line, line.budget_minor + moved.get(line.pk, 0)) for line in lines]


def to_give(project: Project, line: LineItem) -> int:
    """What a line has not needed of its budget as moved [project minor units], zero or above. Queries: 2.

    It may be given back once the line is closed.
    """
    return max(0, purses(project, [line])[0].held_minor - line.likely_minor)
