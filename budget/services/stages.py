"""The stages in which an agreement is paid, and the arrival of goods that were paid for before they came."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction
from django.db.models import Max, Sum
from django.utils.translation import gettext as _

from budget.models import Agreement, AgreementReversal, Arrival, PaymentStage
from budget.services.bounds import (
    amount_within_bounds,
    columns_within_bounds,
    date_within_bounds,
    share_within_bounds,
)
from budget.services.ledger import lock
from projects import display, trail
from projects.faults import Refused
from projects.models import Attachment, Project, User

MOST_STAGES = 50


@dataclass(frozen=True, slots=True)
class StageDraft:
    """One stage as somebody enters it: a share of the agreed amount, or an amount in the agreement's currency."""

    kind: str
    name: str
    share_percent: Decimal | None = None
    amount_quoted_minor: int | None = None
    due_on: date | None = None


def agreed_quoted_minor(agreement: Agreement) -> int:
    """What was agreed over all lines [minor units of the quote's currency]. Queries: 1."""
    return agreement.lines.aggregate(sum=Sum("amount_quoted_minor"))["sum"] or 0


def proposed(agreement: Agreement) -> tuple[StageDraft, ...]:
    """The stages that a quote's deposit suggests: the deposit on the day of the order, the rest on delivery."""
    deposit = agreement.quote.deposit_percent
    if not deposit or deposit >= 100:
        return ()
    return (
        StageDraft(PaymentStage.Kind.DEPOSIT, _("Deposit with the order"), deposit, due_on=agreement.agreed_on),
        StageDraft(PaymentStage.Kind.DELIVERY, _("On delivery"), 100 - deposit),
    )


@transaction.atomic
def set_payment_stages(
    agreement: Agreement, rows: Sequence[StageDraft], *, by: User | None, now: datetime, today: date
) -> list[PaymentStage]:
    """Write a new plan of stages; the one before stays readable and counts no more.

    Writes PaymentStage rows and a trail row. Not safe to repeat: each call is a further plan.
    Raises: Refused, naming the field as `rows-0-share_percent`; also where shares and amounts do not add up to what was
    agreed.
    """
    project = lock(agreement.project)
    must_stand(agreement)
    stages = [_stage(agreement, place, row) for place, row in enumerate(_some(rows))]
    _must_add_up(agreement, rows)
    plan = (agreement.payment_stages.aggregate(last=Max("plan"))["last"] or 0) + 1
    for stage in stages:
        stage.plan, stage.entered_at, stage.entered_by = plan, now, by
    PaymentStage.objects.bulk_create(stages)
    trail.note(
        project, by=by, at=now, verb="set", subject="agreement", subject_id=agreement.pk,
        summary=_("Payment stages of %(vendor)s: %(names)s") % {"vendor": agreement.vendor, "names": ", ".join(row.name for row in rows)},
    )  # fmt: skip
    return stages


def must_stand(agreement: Agreement) -> None:
    """Raises: Refused for an agreement that was taken back."""
    if AgreementReversal.objects.filter(agreement=agreement).exists():
        raise Refused(_("This agreement was taken back; there is nothing left to pay in stages."))


def _some(rows: Sequence[StageDraft]) -> Sequence[StageDraft]:
    if not rows:
        raise Refused(_("Enter at least one stage."), field="rows-0-name")
    if len(rows) > MOST_STAGES:
        raise Refused(_("At most %d stages are kept here.") % MOST_STAGES)
    return rows


def _stage(agreement: Agreement, place: int, row: StageDraft) -> PaymentStage:
    """The row of one stage, not saved yet, with every slip refused at its field."""
    at = f"rows-{place}-"
    if not row.name.strip():
        raise Refused(_("A stage needs a name."), field=at + "name")
    if row.kind not in PaymentStage.Kind.values:
        raise Refused(_("Choose what kind of stage it is."), field=at + "kind")
    if (row.share_percent is None) == (row.amount_quoted_minor is None):
        raise Refused(_("Give a share or an amount, one of the two."), field=at + "share_percent")
    if row.amount_quoted_minor is not None:
        amount_within_bounds(row.amount_quoted_minor, agreement.quote.currency, field=at + "amount_quoted_minor")
    percent = _("A percentage lies between 0 and 100.")
    share_within_bounds(row.share_percent, field=at + "share_percent", message=percent)
    date_within_bounds(row.due_on, field=at + "due_on")
    stage = PaymentStage(
        agreement=agreement, position=place, kind=row.kind, name=row.name.strip(), share_percent=row.share_percent,
        amount_quoted_minor=row.amount_quoted_minor, due_on=row.due_on,
    )  # fmt: skip
    columns_within_bounds(stage)
    return stage


def _must_add_up(agreement: Agreement, rows: Sequence[StageDraft]) -> None:
    """Shares and amounts together are the agreed amount exactly; which cent a share gets is settled by the calculation."""
    agreed = agreed_quoted_minor(agreement)
    shares = sum((row.share_percent for row in rows if row.share_percent is not None), Decimal(0))
    amounts = sum(row.amount_quoted_minor for row in rows if row.amount_quoted_minor is not None)
    if shares * agreed != (agreed - amounts) * 100 or (not amounts and shares != 100):
        currency = display.InCurrency(agreement.quote.currency, agreement.project.locale)
        raise Refused(
            _("The stages do not add up: %(shares)s and %(amounts)s in amounts, of %(agreed)s agreed.")
            % {
                "shares": display.percent(shares / 100, currency.locale),
                "amounts": display.money(amounts, currency, brief=True),
                "agreed": display.money(agreed, currency, brief=True),
            }
        )


@transaction.atomic
def arrive(
    agreement: Agreement, *, arrived_on: date, note: str = "", attachment_id: int | None = None,
    by: User | None, now: datetime, today: date,
) -> Arrival:  # fmt: skip
    """Write that the goods of an agreement are on site. A second call is refused while the first stands.

    Raises: Refused, naming the field.
    """
    project = lock(agreement.project)
    must_stand(agreement)
    if arrival_of(agreement) is not None:
        raise Refused(_("The goods of %s are on site already.") % agreement.vendor)
    date_within_bounds(arrived_on, field="arrived_on", earliest=agreement.agreed_on, latest=today)
    row = Arrival(
        agreement=agreement, arrived_on=arrived_on, note=note.strip(), attachment=_own(project, attachment_id),
        entered_at=now, entered_by=by,
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    trail.note(
        project, by=by, at=now, verb="arrived", subject="arrival", subject_id=row.pk,
        summary=_("The goods of %s are on site") % agreement.vendor,
    )  # fmt: skip
    return row


def arrival_of(agreement: Agreement) -> Arrival | None:
    """The arrival that stands, if one does. Queries: 1."""
    return agreement.arrivals.filter(reverses=None, reversal=None).order_by("-pk").first()


def _own(project: Project, attachment_id: int | None) -> Attachment | None:
    """A photograph of this project. Raises: Refused for another project's."""
    if attachment_id is None:
        return None
    found = Attachment.objects.filter(project=project, pk=attachment_id).first()
    if found is None:
        raise Refused(_("This photograph is not there any more; add it again."), field="attachment")
    return found


@transaction.atomic
def take_back(arrival: Arrival, *, reason: str, by: User | None, now: datetime, today: date) -> Arrival:
    """Take back an arrival: the goods are not on site after all. A second call is refused."""
    project = lock(arrival.agreement.project)
    if arrival.reverses_id is not None or Arrival.objects.filter(reverses=arrival).exists():
        raise Refused(_("This was taken back already."))
    if not reason.strip():
        raise Refused(_("Say why it is taken back."), field="reason")
    row = Arrival(
        agreement=arrival.agreement, arrived_on=arrival.arrived_on, note=reason.strip(), entered_at=now, entered_by=by,
        reverses=arrival,
    )  # fmt: skip
    columns_within_bounds(row)
    row.save()
    trail.note(
        project, by=by, at=now, verb="took back", subject="arrival", subject_id=row.pk,
        summary=_("Took back that the goods of %s are on site: ") % arrival.agreement.vendor + reason.strip(),
    )  # fmt: skip
    return row
