"""What a record did, or would do: quotes accepted and declined, likely finals moved, savings counted.

Read from the rows themselves, so that the preview before a decision, the record after it and the page that takes it back
all say the same.
"""

from dataclasses import dataclass

from budget.models import AgreementLine, Movement
from decisions.models import Record, Saving


@dataclass(frozen=True, slots=True)
class Accepted:
    """A quote accepted on one line; `beside_minor` is what has to be paid beside the agreed price [minor units]."""

    vendor: str
    quote_id: int
    line_id: int
    line: str
    amount_minor: int
    beside_minor: int


@dataclass(frozen=True, slots=True)
class Moved:
    """A line whose likely final moved [minor units]."""

    line_id: int
    line: str
    step_minor: int


@dataclass(frozen=True, slots=True)
class Estimated:
    line: str
    amount_minor: int


@dataclass(frozen=True, slots=True)
class SavingPart:
    label: str
    amount_minor: int
    what: str


@dataclass(frozen=True, slots=True)
class Doings:
    accepted: tuple[Accepted, ...]
    declined: tuple[str, ...]
    estimated: tuple[Estimated, ...]
    moved: tuple[Moved, ...]
    savings: tuple[SavingPart, ...]

    @property
    def moved_minor(self) -> int:
        return sum(row.step_minor for row in self.moved)


def doings(record: Record) -> Doings:
    """Read what a record did while it was in force, also when it has been taken back since. Queries: 6."""
    rows = AgreementLine.objects.filter(agreement__from_record__record=record)
    rows = rows.select_related("line", "agreement__vendor").prefetch_related("gaps").order_by("line__position", "pk")
    moved = Movement.objects.filter(source="record", source_id=record.pk).select_related("line")
    declined = record.declined.select_related("quote__vendor").order_by("pk")
    return Doings(
        accepted=tuple(_accepted(row) for row in rows),
        declined=tuple(f"{tie.quote.vendor} ({tie.quote.quoted_on.isoformat()})" for tie in declined),
        estimated=tuple(
            Estimated(str(tie.estimate.line), tie.estimate.amount_minor)
            for tie in record.estimates.select_related("estimate__line")
        ),
        moved=tuple(
            Moved(row.line_id, str(row.line), row.amount_minor) for row in moved.order_by("line__position", "pk")
        ),
        savings=tuple(SavingPart(row.get_kind_display(), row.amount_minor, row.what) for row in _savings(record)),
    )


def _savings(record: Record) -> list[Saving]:
    return list(Saving.objects.filter(record=record).order_by("pk"))


def _accepted(row: AgreementLine) -> Accepted:
    beside = sum(gap.amount_minor for gap in row.gaps.all()) + row.still_to_let_minor
    agreement = row.agreement
    return Accepted(agreement.vendor.name, agreement.quote_id, row.line_id, str(row.line), row.amount_minor, beside)
