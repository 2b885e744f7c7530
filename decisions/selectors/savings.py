"""What the decisions in force save against the original quotes, by kind.

Only the same function for less counts, less what a decision costs extra and what it does to other lines; every other
kind is named beside it and never added in. One function, so that no two pages tell two sums.
"""

from dataclasses import dataclass

from django.db.models import Sum

from decisions.models import Saving, SavingKind
from projects.models import Project

COUNTED = (SavingKind.SAME_FOR_LESS, SavingKind.EXTRA, SavingKind.EFFECT)


@dataclass(frozen=True, slots=True)
class KindSum:
    kind: str
    label: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class SavingsBook:
    """`counted_minor` is above zero for saved, below for extra [project minor units]."""

    counted_minor: int
    counted: tuple[KindSum, ...]
    beside: tuple[KindSum, ...]


def book(project: Project) -> SavingsBook:
    """Add up the savings of the records in force. Waiting, declined and reopened ones are left out. Queries: 1."""
    rows = Saving.objects.filter(
        record__decision__project=project, record__taking__isnull=False, record__reopening=None
    )
    sums = dict(rows.values_list("kind").annotate(total=Sum("amount_minor")).order_by())
    kinds = [KindSum(kind.value, str(kind.label), sums[kind]) for kind in SavingKind if sums.get(kind)]
    counted = tuple(row for row in kinds if row.kind in COUNTED)
    return SavingsBook(
        counted_minor=sum(row.amount_minor for row in counted),
        counted=counted,
        beside=tuple(row for row in kinds if row.kind not in COUNTED),
    )
