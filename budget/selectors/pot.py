"""What left the contingency and what came back, and budget moved between other lines."""

from dataclasses import dataclass
from datetime import date

from budget.models import LineItem, Transfer
from projects.models import Project

CONTINGENCY = LineItem.Kind.CONTINGENCY


@dataclass(frozen=True, slots=True)
class Draw:
    """One step of the contingency: what left it [project minor units], below zero where it came back."""

    row: Transfer
    line: LineItem
    amount: int

    @property
    def cause(self) -> str:
        """What it was needed for, or that it was given back."""
        return str(self.row.get_need_display() if self.row.need else self.row.get_cause_display())


@dataclass(frozen=True, slots=True)
class Level:
    """What was left of the contingency after one day [project minor units]."""

    on: date
    left: int


@dataclass(frozen=True, slots=True)
class Pot:
    """The contingency over time [project minor units].

    `draws` and `moves` stand, the newest first; `taken_back` are the reversals, which name what they reverse. A move
    from one contingency to another is a move, not a draw.
    """

    start: int
    left: int
    draws: tuple[Draw, ...]
    moves: tuple[Transfer, ...]
    taken_back: tuple[Transfer, ...]
    levels: tuple[Level, ...]

    @property
    def drawn(self) -> int:
        return self.start - self.left


def pot(project: Project) -> Pot | None:
    """Read the contingency of a project, or None where nothing was ever set aside. Queries: 2."""
    aside = list(LineItem.objects.filter(project=project, kind=CONTINGENCY, removed_on=None))
    if not aside:
        return None
    rows = _rows(project)
    start, steps = sum(line.budget_minor for line in aside), [_step(row) for row in rows]
    standing = [(row, step) for row, step in zip(rows, steps, strict=True) if _stands(row)]
    return Pot(
        start=start,
        left=start - sum(step.amount for step in steps if step),
        draws=tuple(step for _row, step in reversed(standing) if step),
        moves=tuple(row for row, step in reversed(standing) if step is None),
        taken_back=tuple(row for row in reversed(rows) if row.reverses_id is not None),
        levels=_levels(start, [step for step in steps if step]),
    )


def moves(project: Project) -> tuple[Transfer, ...]:
    """Budget moved where nothing is set aside: the moves that stand, the newest first. Queries: 1."""
    return tuple(row for row in reversed(_rows(project)) if _stands(row))


def _rows(project: Project) -> list[Transfer]:
    rows = Transfer.objects.filter(project=project).select_related("from_line", "to_line", "change", "reversal")
    return list(rows.order_by("pk"))


def _stands(row: Transfer) -> bool:
    return row.reverses_id is None and not hasattr(row, "reversal")


def _step(row: Transfer) -> Draw | None:
    leaves, comes = row.from_line.kind == CONTINGENCY, row.to_line.kind == CONTINGENCY
    if leaves == comes:
        return None
    return Draw(row, row.to_line, row.amount_minor) if leaves else Draw(row, row.from_line, -row.amount_minor)


def _levels(start: int, steps: list[Draw]) -> tuple[Level, ...]:
    """What was left at the end of each day on which something moved, in the order of the days."""
    by_day: dict[date, int] = {}
    for step in steps:
        by_day[step.row.moved_on] = by_day.get(step.row.moved_on, 0) + step.amount
    left, found = start, []
    for on in sorted(by_day):
        left -= by_day[on]
        found.append(Level(on, left))
    return tuple(found)
