"""Payment stages that are agreed and not yet billed."""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum

from budget.calc import stages as rules
from budget.models import Agreement, InvoiceLine, PaymentStage
from budget.selectors.belonging import Belonging, belonging
from budget.selectors.billing import COUNTED
from projects.models import Project


@dataclass(frozen=True, slots=True)
class Unbilled:
    """What of a stage is not billed yet [minor units of the agreement's currency], and the day it falls due."""

    agreement_id: int
    name: str
    amount_quoted_minor: int
    due_on: date


@dataclass(frozen=True, slots=True)
class StageRow:
    """A stage of the plan that stands, what it comes to and what of it is not billed [minor units of its currency]."""

    stage: PaymentStage
    amount_quoted_minor: int
    open_quoted_minor: int


def plans(project: Project, belongs: Belonging) -> dict[int, tuple[StageRow, ...]]:
    """The payment stages that stand, by agreement; of one that was taken back none do.

    What was billed on an agreement's lines fills its stages in their order. Queries: 1, and one more where there are any.
    """
    newest = _newest(project, belongs)
    billed = _billed(project, belongs) if newest else {}
    return {pk: tuple(_rows(rows, _agreed(belongs, pk), billed.get(pk, 0))) for pk, rows in newest.items()}


@dataclass(frozen=True, slots=True)
class Stands:
    """A stage as it is shown: what it comes to, and what of it is still to come [minor units of its currency]."""

    name: str
    due_on: date | None
    amount_quoted_minor: int
    open_quoted_minor: int


def of_agreement(project: Project, agreement_id: int) -> tuple[Stands, ...]:
    """The payment stages that stand for one agreement, as they are shown. Queries: 3."""
    rows = plans(project, belonging(project)).get(agreement_id, ())
    return tuple(
        Stands(row.stage.name, row.stage.due_on, row.amount_quoted_minor, row.open_quoted_minor) for row in rows
    )


def unbilled(project: Project, belongs: Belonging) -> list[Unbilled]:
    """Stages with a day of which something is not billed, earliest first. Queries: as `plans`."""
    found = [
        Unbilled(pk, row.stage.name, row.open_quoted_minor, row.stage.due_on)
        for pk, rows in plans(project, belongs).items()
        for row in rows
        if row.stage.due_on is not None and row.open_quoted_minor > 0
    ]
    return sorted(found, key=lambda row: row.due_on)


def plan_of(agreement: Agreement) -> tuple[PaymentStage, ...]:
    """The payment stages that stand for one agreement, or none. Queries: 1."""
    rows = list(agreement.payment_stages.order_by("plan", "position"))
    return tuple(row for row in rows if row.plan == rows[-1].plan)


def _newest(project: Project, belongs: Belonging) -> dict[int, list[PaymentStage]]:
    rows = PaymentStage.objects.filter(agreement__project=project).order_by("agreement_id", "plan", "position")
    found: dict[int, list[PaymentStage]] = {}
    for row in rows:
        if not belongs.stands(row.agreement_id):
            continue
        plan = found.setdefault(row.agreement_id, [])
        if plan and plan[0].plan != row.plan:
            plan.clear()
        plan.append(row)
    return found


def _agreed(belongs: Belonging, agreement_id: int) -> int:
    return sum(row.amount_quoted_minor for row in belongs.lines[agreement_id])


def _billed(project: Project, belongs: Belonging) -> Mapping[int, int]:
    """What was billed of each agreement in its currency; what was billed for a change is beside its stages."""
    rows = InvoiceLine.objects.filter(invoice__project=project, invoice__state__in=COUNTED, change=None)
    found: dict[int, int] = defaultdict(int)
    for vendor, line, currency, net in (
        rows.values_list("invoice__vendor_id", "line_id", "invoice__currency")
        .annotate(net=Sum("net_quoted_minor"))
        .order_by()
    ):
        pk = belongs.of(vendor, line)
        if pk is not None and belongs.agreements[pk].quote.currency == currency:
            found[pk] += net
    return found


def _rows(stages: Sequence[PaymentStage], agreed: int, billed: int) -> Iterator[StageRow]:
    drafts = [rules.Stage(stage.name, stage.share_percent, stage.amount_quoted_minor) for stage in stages]
    parts = rules.amounts(agreed, drafts)
    for stage, part, left in zip(stages, parts, rules.remaining(parts, billed), strict=True):
        yield StageRow(stage, part, left)
