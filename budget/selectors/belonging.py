"""Which agreement an invoice belongs to.

An invoice names a vendor and lines, not an agreement. What it bills on a line belongs to the vendor's agreement on that
line: the first that stands, else the last that was taken back. What no agreement explains stays with the vendor alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from budget.models import Agreement, AgreementLine
from projects.models import Project


@dataclass(frozen=True, slots=True)
class Belonging:
    """Every agreement of a project, with its lines, and which one takes what is billed where."""

    agreements: Mapping[int, Agreement]
    lines: Mapping[int, tuple[AgreementLine, ...]]
    #: {(vendor, line): agreement}
    places: Mapping[tuple[int, int], int]

    def of(self, vendor_id: int, line_id: int) -> int | None:
        """The agreement that a vendor's invoice on a line belongs to, or None."""
        return self.places.get((vendor_id, line_id))

    def stands(self, agreement_id: int) -> bool:
        return not hasattr(self.agreements[agreement_id], "reversal")

    def names(self, agreement_id: int) -> tuple[str, ...]:
        """What an agreement is for: its lines by name."""
        return tuple(str(row.line) for row in self.lines[agreement_id])


def belonging(project: Project) -> Belonging:
    """Read the agreements of a project, those that were taken back, too. Queries: 1."""
    rows = AgreementLine.objects.filter(agreement__project=project).order_by("pk")
    related = ("agreement__vendor", "agreement__quote", "agreement__reversal", "line")
    agreements: dict[int, Agreement] = {}
    lines: dict[int, tuple[AgreementLine, ...]] = {}
    for row in rows.select_related(*related):
        agreement = agreements.setdefault(row.agreement_id, row.agreement)
        agreement.project = project
        lines[agreement.pk] = (*lines.get(agreement.pk, ()), row)
    return Belonging(agreements, lines, _places(agreements, lines))


def _places(
    agreements: Mapping[int, Agreement], lines: Mapping[int, tuple[AgreementLine, ...]]
) -> dict[tuple[int, int], int]:
    standing = [pk for pk, row in agreements.items() if not hasattr(row, "reversal")]
    taken_back = [pk for pk, row in agreements.items() if hasattr(row, "reversal")]
    found: dict[tuple[int, int], int] = {}
    for pk in [*standing, *reversed(taken_back)]:
        for row in lines[pk]:
            found.setdefault((agreements[pk].vendor_id, row.line_id), pk)
    return found
