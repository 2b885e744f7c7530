"""What belongs on an invoice that its reader did not type: the retention that was agreed, and the tax by its rate."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from budget.calc.verdicts import expected_tax
from budget.models import Vendor
from budget.selectors import verdicts
from budget.services.invoice_rules import InvoicedLine
from projects.models import Project
from units.sharing import share_out


@dataclass(frozen=True, slots=True)
class Typed:
    """What somebody typed for one line [minor units of the invoice's currency]; None where it was left empty."""

    line_id: int
    net_minor: int
    retention_minor: int | None = None
    change_id: int | None = None


def fill_in(
    project: Project,
    vendor: str,
    typed: Sequence[Typed],
    *,
    tax_minor: int | None,
    tax_percent: Decimal | None,
    credit: bool = False,
) -> tuple[InvoicedLine, ...]:
    """Put in what was left empty, and share the tax of the whole out over the lines.

    Args:
        typed: amounts as they stand on the paper, of a credit note without its minus.
        tax_minor: the tax stated for the whole, or None: then it follows from the rate.
    Returns: the lines of the draft; of a credit note below zero. Queries: 2.
    """
    held = _retention(project, vendor, typed, credit)
    bases = [row.net_minor - kept for row, kept in zip(typed, held, strict=True)]
    taxes = _taxes(bases, tax_minor, tax_percent)
    rows = (
        InvoicedLine(row.line_id, row.net_minor, tax, kept, row.change_id)
        for row, tax, kept in zip(typed, taxes, held, strict=True)
    )
    return tuple(_turned(row) if credit else row for row in rows)


def _retention(project: Project, vendor: str, typed: Sequence[Typed], credit: bool) -> list[int]:
    if credit:
        return [row.retention_minor or 0 for row in typed]
    known = Vendor.objects.filter(project=project, key=" ".join(vendor.split()).casefold()).first()
    let = verdicts.agreed_with(project, [row.line_id for row in typed]) if known else {}
    return [
        verdicts.expected_retention(row.net_minor, let.get((row.line_id, known.pk if known else 0), ()))
        if row.retention_minor is None
        else row.retention_minor
        for row in typed
    ]


def _taxes(bases: Sequence[int], stated: int | None, percent: Decimal | None) -> Sequence[int]:
    whole = expected_tax(sum(bases), 0, percent or Decimal(0)) if stated is None else stated
    weights = [abs(base) for base in bases]
    return share_out(whole, weights if any(weights) else [1] * len(bases)) if bases else ()


def _turned(row: InvoicedLine) -> InvoicedLine:
    return replace(
        row,
        net_quoted_minor=-row.net_quoted_minor,
        tax_quoted_minor=-row.tax_quoted_minor,
        retention_quoted_minor=-row.retention_quoted_minor,
    )


@dataclass(frozen=True, slots=True)
class Sums:
    """What the lines of an invoice come to together [minor units of its currency]."""

    net: int
    retention: int
    tax: int

    @property
    def payable(self) -> int:
        return self.net - self.retention + self.tax


def sums(lines: Sequence[InvoicedLine]) -> Sums:
    """Add up the lines of a draft."""
    return Sums(
        sum(row.net_quoted_minor for row in lines),
        sum(row.retention_quoted_minor for row in lines),
        sum(row.tax_quoted_minor for row in lines),
    )
