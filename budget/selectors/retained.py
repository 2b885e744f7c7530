"""Retention by agreement: what was withheld on its invoices, what was released, and when the rest falls due."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.db.models import Sum
from django.utils.translation import gettext as _

from budget.calc import retention
from budget.calc.retention import Due, Stage
from budget.models import InvoiceLine, RetentionRelease, RetentionStage, Vendor
from budget.selectors.belonging import Belonging, belonging
from budget.selectors.billing import COUNTED
from budget.selectors.due_stages import Stands
from projects.models import Project
from units.money import exact_rate, round_minor, round_ratio

#: A vendor, and the agreement that explains the retention, or None.
Where = tuple[int, int | None]


@dataclass(frozen=True, slots=True)
class Retained:
    """Retention of one agreement, or of a vendor's invoices that no agreement explains (`agreement_id` is then None).

    Amounts in minor units of the agreement's currency (`_quoted_minor`) and of the project's.
    """

    vendor_id: int
    vendor: str
    agreement_id: int | None
    lines: tuple[str, ...]
    currency: str
    withheld_quoted_minor: int
    withheld_minor: int
    released_quoted_minor: int
    released_minor: int
    plan: tuple[Due, ...]
    releases: tuple[RetentionRelease, ...]

    @property
    def held_quoted_minor(self) -> int:
        return self.withheld_quoted_minor - self.released_quoted_minor

    @property
    def held_minor(self) -> int:
        return self.withheld_minor - self.released_minor

    @property
    def next_due(self) -> Due | None:
        """The stage that falls due next; one without a date comes last."""
        open_stages = [due for due in self.plan if due.amount_minor]
        return min(open_stages, key=lambda due: due.due_on or date.max, default=None)

    def due_quoted_minor(self, on: date) -> int:
        """What may be given back on a day [minor units of the agreement's currency]."""
        return sum(due.amount_minor for due in self.plan if due.due_on is not None and due.due_on <= on)

    def in_project(self, quoted_minor: int) -> int:
        """What an amount of what is held counts in the project's currency: its share, so that all of it is all."""
        held = self.held_quoted_minor
        return round_ratio(quoted_minor * self.held_minor, held) if held > 0 else 0

    def planned(self) -> tuple[Due, ...]:
        """The stages still to come in the project's currency; together they are what is held."""
        left, rest, found = self.held_quoted_minor, self.held_minor, []
        for due in self.plan:
            part = round_ratio(due.amount_minor * rest, left) if left > 0 else 0
            left, rest = left - due.amount_minor, rest - part
            found.append(Due(due.name, part, due.due_on))
        return tuple(found)


def by_agreement(project: Project, belongs: Belonging | None = None) -> tuple[Retained, ...]:
    """Read the retention of a project, agreement by agreement, where any was withheld or released.

    Returns: by vendor, then in the order in which the agreements were made. Queued and refused invoices are left out.
    Queries: 4, and one more where a vendor has no agreement.
    """
    belongs = belongs or belonging(project)
    withheld, releases = _withheld(project, belongs), _releases(project)
    plans = _plans(project)
    given = {(belongs.agreements[pk].vendor_id, pk) for pk in releases}
    names = _vendor_names(belongs, {vendor for vendor, _pk in withheld})
    found = [
        _retained(project, belongs, place, withheld.get(place, (0, 0)), releases, plans, names)
        for place in {*withheld, *given}
    ]
    return tuple(sorted(found, key=lambda row: (row.vendor.casefold(), row.agreement_id or 0)))


def of_agreement(project: Project, agreement_id: int) -> Retained | None:
    """The retention of one agreement, or None where none was ever withheld. Queries: as `by_agreement`."""
    return next((row for row in by_agreement(project) if row.agreement_id == agreement_id), None)


def stages_of(project: Project, agreement_id: int) -> tuple[Stands, ...]:
    """The stages of one agreement's retention, as they are shown; none where nothing was withheld. Queries: as `by_agreement`."""
    kept = of_agreement(project, agreement_id)
    if kept is None or not kept.plan:
        return ()
    whole = retention.release_plan(kept.withheld_quoted_minor, plan_of(project, agreement_id))
    both = zip(whole, kept.plan, strict=True)
    return tuple(Stands(due.name, due.due_on, due.amount_minor, left.amount_minor) for due, left in both)


def _withheld(project: Project, belongs: Belonging) -> dict[Where, tuple[int, int]]:
    """{where: (in the agreement's currency, in the project's)} of counted invoices."""
    rows = InvoiceLine.objects.filter(invoice__project=project, invoice__state__in=COUNTED).exclude(
        retention_quoted_minor=0
    )
    sums: dict[Where, list[int]] = defaultdict(lambda: [0, 0])
    for vendor, line, currency, quoted, minor in (
        rows.values_list("invoice__vendor_id", "line_id", "invoice__currency")
        .annotate(quoted=Sum("retention_quoted_minor"), minor=Sum("retention_minor"))
        .order_by("invoice__vendor_id", "line_id", "invoice__currency")
    ):
        pk = belongs.of(vendor, line)
        both = sums[vendor, pk]
        both[0] += minor if pk is None else _in_agreed(project, belongs, pk, currency, quoted, minor)
        both[1] += minor
    return {where: (quoted, minor) for where, (quoted, minor) in sums.items()}


def _in_agreed(project: Project, belongs: Belonging, pk: int, currency: str, quoted: int, minor: int) -> int:
    """Retention of an invoice in the agreement's currency, also where the invoice came in another one."""
    quote = belongs.agreements[pk].quote
    if currency == quote.currency:
        return quoted
    rate = Fraction(1) if quote.currency == project.currency else Fraction(quote.rate)
    if rate == 1:
        return minor
    return round_minor(
        minor / Fraction(exact_rate(quote.rate, from_currency=quote.currency, to_currency=project.currency))
    )


def _releases(project: Project) -> dict[int, list[RetentionRelease]]:
    rows = RetentionRelease.objects.filter(agreement__project=project).select_related("entered_by", "reversal")
    found: dict[int, list[RetentionRelease]] = defaultdict(list)
    for row in rows.order_by("pk"):
        found[row.agreement_id].append(row)
    return found


def _plans(project: Project) -> dict[int, tuple[Stage, ...]]:
    """The plan that stands for each agreement that has one of its own."""
    rows = RetentionStage.objects.filter(agreement__project=project).order_by("agreement_id", "-plan", "position")
    newest: dict[int, int] = {}
    found: dict[int, tuple[Stage, ...]] = {}
    for pk, plan, name, share, on in rows.values_list("agreement_id", "plan", "name", "share_percent", "due_on"):
        if newest.setdefault(pk, plan) == plan:
            found[pk] = (*found.get(pk, ()), Stage(name, Decimal(share), on))
    return found


def plan_of(project: Project, agreement_id: int) -> tuple[Stage, ...]:
    """The stages by which the retention of one agreement falls due: its own, else the usual ones. Queries: 1."""
    return _plans(project).get(agreement_id) or usual_stages(project)


def usual_stages(project: Project) -> tuple[Stage, ...]:
    """What is usual where an agreement says nothing else: half at the opening, half a year later."""
    words = {
        retention.PRACTICAL_COMPLETION: _("practical completion"),
        retention.DEFECTS_END: _("end of the defects period"),
    }
    return tuple(
        Stage(words[stage.name], stage.share, stage.due_on) for stage in retention.usual_stages(project.opens_on)
    )


def _vendor_names(belongs: Belonging, vendor_ids: set[int]) -> dict[int, str]:
    names = {row.vendor_id: str(row.vendor) for row in belongs.agreements.values()}
    unknown = vendor_ids - names.keys()
    return names | dict(Vendor.objects.filter(pk__in=unknown).values_list("pk", "name")) if unknown else names


def _retained(
    project: Project,
    belongs: Belonging,
    where: Where,
    withheld: tuple[int, int],
    releases: Mapping[int, list[RetentionRelease]],
    plans: Mapping[int, tuple[Stage, ...]],
    names: Mapping[int, str],
) -> Retained:
    vendor_id, pk = where
    given = releases.get(pk, []) if pk is not None else []
    released = sum(row.amount_quoted_minor for row in given)
    stages = plans.get(pk) if pk is not None else None
    possible = 0 <= released <= withheld[0]
    return Retained(
        vendor_id=vendor_id,
        vendor=names[vendor_id],
        agreement_id=pk,
        lines=belongs.names(pk) if pk is not None else (),
        currency=belongs.agreements[pk].quote.currency if pk is not None else project.currency,
        withheld_quoted_minor=withheld[0],
        withheld_minor=withheld[1],
        released_quoted_minor=released,
        released_minor=sum(row.amount_minor for row in given),
        plan=retention.release_plan(withheld[0], stages or usual_stages(project), released_minor=released) if possible else (),
        releases=tuple(given),
    )  # fmt: skip
