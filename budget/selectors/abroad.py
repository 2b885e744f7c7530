"""Money that is still exposed: balances in other currencies, and what is paid for goods that are not on site."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from budget.calc import currencies, stages
from budget.calc.currencies import Foreign
from budget.models import Agreement, AgreementLine, Arrival, InvoiceLine, LineItem, PaymentStage, Progress
from budget.selectors import billing
from budget.selectors.belonging import Belonging, belonging
from projects.models import ExchangeRate, Project
from units.money import convert, round_minor

#: Stages that are paid for goods before they are on site.
AHEAD = (PaymentStage.Kind.DEPOSIT, PaymentStage.Kind.DELIVERY)


# --- balances in other currencies -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class ForeignRow:
    """An agreed amount in another currency: what is unbilled of it, and what rates have made of it."""

    line: LineItem
    vendor: str
    agreed: Foreign
    unbilled_quoted_minor: int
    unbilled_minor: int
    movement_minor: int
    exposure_minor: int


@dataclass(frozen=True, slots=True)
class ForeignFacts:
    """All balances in other currencies [project minor units], and the rates they are seen at, by currency."""

    rows: tuple[ForeignRow, ...]
    rated: Mapping[str, ExchangeRate]
    swing_percent: Decimal

    @property
    def unbilled(self) -> int:
        return sum(row.unbilled_minor for row in self.rows)

    @property
    def movement(self) -> int:
        return sum(row.movement_minor for row in self.rows)

    @property
    def exposure(self) -> int:
        return sum(row.exposure_minor for row in self.rows)

    @property
    def unrated(self) -> tuple[str, ...]:
        """Currencies without a rate of today: they are seen at the rate of their agreement."""
        return tuple(sorted({row.agreed.currency for row in self.rows if row.unbilled_minor} - self.rated.keys()))


def foreign(project: Project) -> ForeignFacts:
    """Read the standing agreements in other currencies. Queries: 3 to 7, whatever their number."""
    found = billing.foreign(project)
    rows = AgreementLine.objects.filter(agreement__project=project, agreement__reversal=None)
    abroad = rows.exclude(agreement__quote__currency=project.currency).order_by("pk")
    turns = {line: iter(parts) for line, parts in found.items()}
    named = abroad.select_related("line", "agreement__vendor")
    return ForeignFacts(
        rows=tuple(_foreign(project, row, next(turns[row.line_id])) for row in named),
        rated=_rated(project),
        swing_percent=project.rate_swing_percent,
    )


def _foreign(project: Project, row: AgreementLine, agreed: Foreign) -> ForeignRow:
    left = currencies.unbilled_minor(agreed)
    swing = Decimal(project.rate_swing_percent)
    return ForeignRow(
        line=row.line,
        vendor=str(row.agreement.vendor),
        agreed=agreed,
        unbilled_quoted_minor=left,
        unbilled_minor=convert(
            left, from_currency=agreed.currency, to_currency=project.currency, rate=agreed.today_rate
        ),
        movement_minor=currencies.movement_minor(agreed, currency=project.currency),
        exposure_minor=currencies.exposure_minor([agreed], currency=project.currency, swing_percent=swing),
    )


def _rated(project: Project) -> dict[str, ExchangeRate]:
    """Today's rates with their dates, the newest of each currency."""
    rows = ExchangeRate.objects.filter(project=project, purpose=ExchangeRate.Purpose.TODAY)
    return {row.currency: row for row in rows.order_by("rated_on", "pk")}


# --- goods that are not on site ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AwayRow:
    """An agreement with goods that are not on site: what is paid for them, and approved [project minor units].

    Both are without the tax that comes back and without retention. `seen_minor` is what was seen done of work that only
    its quote asks a deposit for; goods with stages of their own are seen at their maker's and stay away until they come.
    """

    agreement: Agreement
    lines: tuple[str, ...]
    paid_minor: int
    approved_minor: int
    seen_minor: int

    @property
    def exposed_minor(self) -> int:
        """What would be lost if the maker failed today."""
        return stages.exposure(self.paid_minor - self.seen_minor, arrived=False)

    @property
    def soon_minor(self) -> int:
        """What will be exposed once all that is approved is paid."""
        return stages.exposure(self.paid_minor + self.approved_minor - self.seen_minor, arrived=False)


@dataclass(frozen=True, slots=True)
class ThereRow:
    """An agreement whose goods are on site, and how they came."""

    agreement: Agreement
    arrival: Arrival


@dataclass(frozen=True, slots=True)
class AwayFacts:
    rows: tuple[AwayRow, ...]
    arrived: tuple[ThereRow, ...]

    @property
    def exposed(self) -> int:
        return sum(row.exposed_minor for row in self.rows)

    @property
    def soon(self) -> int:
        return sum(row.soon_minor for row in self.rows)


def not_on_site(project: Project, belongs: Belonging | None = None) -> AwayFacts:
    """Read what is paid or approved for goods that are not on site.

    Goods are what is paid for ahead: agreements with a deposit or a payment on delivery among their stages, until they
    arrive; and agreements with a deposit in their quote alone, as far as the work was not seen done. Queries: 5, and one
    less given `belongs`.
    """
    belongs = belongs or belonging(project)
    arrivals = _arrivals(project)
    goods = _goods(project)
    ahead = _ahead(belongs, goods)
    waiting = {pk for pk in ahead if pk not in arrivals}
    paid, approved = _billed(project, belongs, waiting)
    seen = _seen(project, belongs, waiting - goods)
    rows = [
        AwayRow(belongs.agreements[pk], belongs.names(pk), paid[pk], approved[pk], seen.get(pk, 0)) for pk in waiting
    ]
    there = [ThereRow(belongs.agreements[pk], arrivals[pk]) for pk in ahead if pk in arrivals]
    return AwayFacts(
        rows=tuple(sorted((row for row in rows if row.soon_minor), key=lambda row: -row.soon_minor)),
        arrived=tuple(sorted(there, key=lambda row: row.arrival.arrived_on, reverse=True)),
    )


def _arrivals(project: Project) -> dict[int, Arrival]:
    rows = Arrival.objects.filter(agreement__project=project, reverses=None, reversal=None)
    return {row.agreement_id: row for row in rows.select_related("attachment", "entered_by").order_by("pk")}


def _goods(project: Project) -> set[int]:
    """Agreements whose plan of stages has a deposit or a payment on delivery."""
    rows = PaymentStage.objects.filter(agreement__project=project).order_by("agreement_id", "plan")
    newest: dict[int, tuple[int, bool]] = {}
    for pk, plan, kind in rows.values_list("agreement_id", "plan", "kind"):
        before, ahead = newest.get(pk, (plan, False))
        newest[pk] = (plan, (ahead and before == plan) or kind in AHEAD)
    return {pk for pk, (_plan, ahead) in newest.items() if ahead}


def _ahead(belongs: Belonging, goods: Collection[int]) -> list[int]:
    """Standing agreements that are paid for ahead, in their order."""
    return [
        pk
        for pk, row in belongs.agreements.items()
        if belongs.stands(pk) and (pk in goods or (row.quote.deposit_percent or 0) > 0)
    ]


def _billed(project: Project, belongs: Belonging, wanted: Iterable[int]) -> tuple[Mapping[int, int], Mapping[int, int]]:
    """What was paid, and what is approved and not paid, of each agreement [project minor units]."""
    lines = {row.line_id for pk in wanted for row in belongs.lines[pk]}
    paid: dict[int, int] = defaultdict(int)
    approved: dict[int, int] = defaultdict(int)
    rows = InvoiceLine.objects.filter(invoice__project=project, invoice__state="approved", line__in=lines)
    for vendor, line, cost, held, payable, out in rows.values_list(
        "invoice__vendor_id", "line_id", "cost_minor", "retention_minor", "invoice__payable_quoted_minor",
        "invoice__paid_quoted_minor",
    ):  # fmt: skip
        pk = belongs.of(vendor, line)
        if pk is not None:
            share = round_minor(Fraction((cost - held) * out, payable)) if payable else 0
            paid[pk] += share
            approved[pk] += cost - held - share
    return paid, approved


def _seen(project: Project, belongs: Belonging, wanted: Collection[int]) -> dict[int, int]:
    """What was seen done of each agreement, at its agreed price [project minor units]; a closed line is all done."""
    lines = {row.line_id for pk in wanted for row in belongs.lines[pk]}
    rows = Progress.objects.filter(line__project=project, line_id__in=lines).order_by("seen_on", "pk")
    percents = dict(rows.values_list("line_id", "seen_percent"))
    found: dict[int, int] = {}
    for pk in wanted:
        parts = [_part(row, percents) for row in belongs.lines[pk]]
        found[pk] = sum(parts)
    return found


def _part(row: AgreementLine, percents: Mapping[int, Decimal]) -> int:
    percent = Decimal(100) if row.line.closed_on else percents.get(row.line_id, Decimal(0))
    return round_minor(Fraction(percent) * row.amount_minor / 100)
