"""Random errands with changes, invoices, payments, retention, transfers and rates: the money stays true after each.

After every step, from the rows: budget plus movements is the likely final, per line and in total; every kept figure is what
its sources give; an open line that is let never ends below what it was billed; no invoice is paid above what it comes to; no
retention is released that is not held; transfers sum to zero; nothing written earlier was edited or deleted. A refused step
changes nothing.
"""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.db.models import F, Sum
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from budget.models import (
    Agreement,
    Change,
    Invoice,
    InvoiceLine,
    LineItem,
    Movement,
    Payment,
    QuoteItem,
    RetentionRelease,
    Transfer,
)
from budget.selectors.billing import COUNTED
from budget.selectors.overview import overview
from budget.services import (
    agreements,
    changes,
    closing,
    invoices,
    ledger,
    lines,
    payments,
    quotes,
    rates,
    retention,
    transfers,
)
from projects.faults import Refused
from projects.models import ApprovalLimit, ExchangeRate, Membership, Project, Role, User
from tests.decisions.test_ledger_property import pick, remember
from units.money import round_minor

START = date(2027, 1, 4)
AGREED = 100_000_00


class World:
    """A build with a contingency and three lines that are let: at home, abroad, and with a gap left open."""

    def __init__(self) -> None:
        self.day = START
        self.lead = User.objects.create(username="lead")
        self.owner = User.objects.create(username="owner")
        self.keeper = User.objects.create(username="keeper")
        self.project = Project.objects.create(
            slug="w", name="W", currency="GBP", created_at=self.now, opens_on=START + timedelta(days=200)
        )
        for user, role, limit in (
            (self.lead, Role.LEAD, 10_000_00), (self.owner, Role.OWNER, None), (self.keeper, Role.BOOKKEEPER, 0),
        ):  # fmt: skip
            Membership.objects.create(project=self.project, user=user, role=role, joined_at=self.now)
            ApprovalLimit.objects.create(project=self.project, role=role, amount_minor=limit)
        ExchangeRate.objects.create(
            project=self.project, currency="EUR", rate=Decimal("0.86"), rated_on=START, entered_at=self.now
        )
        self.aside = self._line("L9", 20_000_00, kind="contingency")
        self.lines = [self._line(f"L{n}", 110_000_00) for n in range(3)]
        lines.set_scope(self.lines[2], [("Grout", 5_000_00)], **self.as_lead)
        for place, currency in enumerate(("GBP", "EUR", "GBP")):
            self._let(self.lines[place], currency, Decimal(5) if place != 1 else None)
        self.seen: dict[tuple[type, int], tuple] = {}
        for line in (self.lines[0], self.lines[2]):
            self._bill(line)

    def _bill(self, line: LineItem) -> None:
        """A first invoice, approved, so that something is held and can be paid."""
        row = invoices.InvoicedLine(line.pk, 20_000_00, 3_800_00, 1_000_00)
        draft = invoices.InvoiceDraft(
            vendor=f"Vendor {line.code}", number="first", currency="GBP", lines=(row,), invoiced_on=self.day, tax_percent=Decimal(20),
        )  # fmt: skip
        made = invoices.enter_invoice(self.project, draft, **self.as_keeper)
        invoices.approve(made, role=Role.OWNER, note="", **self.as_owner)

    def _line(self, code: str, budget: int, kind: str = "work") -> LineItem:
        draft = lines.LineDraft("T1", code, f"Line {code}", budget_minor=budget, trade_name="Trade", kind=kind)
        return lines.add_line(self.project, draft, **self.as_lead)

    def _let(self, line: LineItem, currency: str, held: Decimal | None) -> None:
        out = (quotes.ScopeDraft("Grout", QuoteItem.Standing.OUT),) if line == self.lines[2] else ()
        draft = quotes.QuoteDraft(
            vendor=f"Vendor {line.code}", currency=currency, quoted_on=self.day,
            lines=(quotes.QuotedLine(line.pk, AGREED, out),),
        )  # fmt: skip
        quote = quotes.log_quote(self.project, draft, **self.as_lead)
        terms = agreements.Terms(retention_percent=held)
        agreements.accept_quote(quote, role=Role.OWNER, terms=terms, **self.as_owner)

    @property
    def now(self) -> datetime:
        return datetime(self.day.year, self.day.month, self.day.day, 9, tzinfo=UTC)

    @property
    def as_lead(self) -> dict[str, Any]:
        return {"by": self.lead, "now": self.now, "today": self.day}

    @property
    def as_owner(self) -> dict[str, Any]:
        return self.as_lead | {"by": self.owner}

    @property
    def as_keeper(self) -> dict[str, Any]:
        return self.as_lead | {"by": self.keeper}


def raise_change(world: World, a: int, b: int, amount: int) -> None:
    line = world.lines[a % 3]
    gap = line.agreement_lines.get().gaps.first()
    source = pick(Change.Source, b)
    draft = changes.ChangeDraft(
        line_id=line.pk, title="More of it", reason=pick(Change.Reason, a), paid_from=source, days=b % 3,
        amount_minor=-amount if b % 7 == 0 else amount, chance=Decimal(b % 11) / 10, gap_id=gap.pk if gap and b % 2 else None,
    )  # fmt: skip
    changes.raise_change(world.project, draft, role=Role.LEAD, agree=b % 5 == 0, **world.as_lead)


def answer_change(world: World, a: int, b: int, amount: int) -> None:
    if change := pick(Change.objects.order_by("pk"), a):
        deed = (changes.agree, changes.agree, changes.decline, changes.withdraw)[b % 4]
        more = {"role": Role.OWNER} if deed is changes.agree else {}
        deed(change, note="read it", **more, **world.as_owner)


def price_change(world: World, a: int, b: int, amount: int) -> None:
    if change := pick(Change.objects.order_by("pk"), a):
        changes.price(
            change, amount_minor=amount, is_ceiling=bool(b % 2), days=b % 5, chance=Decimal("0.5"), note="asked again", **world.as_lead
        )  # fmt: skip


def reopen_change(world: World, a: int, b: int, amount: int) -> None:
    if change := pick(Change.objects.order_by("pk"), a):
        changes.reopen(change, reason="new facts", **world.as_lead)


def enter_invoice(world: World, a: int, b: int, amount: int) -> None:
    line = world.lines[a % 3]
    change = pick(Change.objects.filter(line=line).order_by("pk"), b) if b % 4 == 0 else None
    held = round_minor(Decimal(amount) / 20) if a % 3 != 1 else 0
    tax = round_minor(Decimal(amount - held) / 5) if b % 2 else 0
    row = invoices.InvoicedLine(line.pk, amount, tax, held, change.pk if change else None)
    draft = invoices.InvoiceDraft(
        vendor=f"Vendor {line.code}", number=f"N-{b}", currency="EUR" if a % 3 == 1 else "GBP", lines=(row,),
        rate=Decimal("0.87") if a % 3 == 1 else None, invoiced_on=world.day, tax_percent=Decimal(20) if b % 2 else Decimal(0),
    )  # fmt: skip
    invoices.enter_invoice(world.project, draft, **world.as_keeper)


def credit(world: World, a: int, b: int, amount: int) -> None:
    invoice = pick(Invoice.objects.filter(kind=Invoice.Kind.INVOICE).order_by("pk"), a)
    if invoice:
        line = invoice.lines.get()
        row = invoices.InvoicedLine(line.line_id, -min(amount, line.net_quoted_minor))
        draft = invoices.InvoiceDraft(
            vendor=invoice.vendor.name, number=f"CN-{b}", currency=invoice.currency, lines=(row,), kind="credit", credits_id=invoice.pk,
            rate=invoice.rate if invoice.currency != "GBP" else None, invoiced_on=world.day,
        )  # fmt: skip
        invoices.enter_invoice(world.project, draft, **world.as_keeper)


def answer_invoice(world: World, a: int, b: int, amount: int) -> None:
    if invoice := pick(Invoice.objects.order_by("pk"), a):
        if b % 5 < 3:
            invoices.approve(invoice, role=Role.OWNER, note="all right", **world.as_owner)
        else:
            (invoices.query, invoices.refuse)[b % 2](invoice, note="why", **world.as_owner)


def take_up_invoice(world: World, a: int, b: int, amount: int) -> None:
    if invoice := pick(Invoice.objects.order_by("pk"), a):
        invoices.take_up(invoice, reason="looked again", **world.as_owner)


def pay(world: World, a: int, b: int, amount: int) -> None:
    if invoice := pick(Invoice.objects.filter(state=Invoice.State.APPROVED).order_by("pk"), a):
        rate = Decimal("0.8") + Decimal(b) / 100 if invoice.currency != "GBP" else None
        some = None if b % 3 == 0 else amount
        payments.pay(invoice, amount_quoted_minor=some, paid_on=world.day, rate=rate, **world.as_keeper)


def unpay(world: World, a: int, b: int, amount: int) -> None:
    if payment := pick(Payment.objects.order_by("pk"), a):
        payments.take_back(payment, reason="bounced", **world.as_keeper)


def release(world: World, a: int, b: int, amount: int) -> None:
    if agreement := pick(Agreement.objects.order_by("pk"), a):
        some = None if b % 2 else amount // 20
        retention.release(agreement, amount_quoted_minor=some, released_on=world.day, note="", **world.as_keeper)


def unrelease(world: World, a: int, b: int, amount: int) -> None:
    if released := pick(RetentionRelease.objects.order_by("pk"), a):
        retention.take_back(released, reason="not yet due", **world.as_keeper)


def move(world: World, a: int, b: int, amount: int) -> None:
    places = [world.aside, *world.lines]
    needs = ("", Change.Reason.UNFORESEEN, Change.Reason.GAP, Change.Reason.WISH)
    transfers.move(
        world.project, from_line_id=places[a % 4].pk, to_line_id=places[b % 4].pk, amount_minor=amount // 10, reason="the ground",
        role=Role.LEAD, need=needs[b % 4], **world.as_lead,
    )  # fmt: skip


def unmove(world: World, a: int, b: int, amount: int) -> None:
    if moved := pick(Transfer.objects.order_by("pk"), a):
        transfers.take_back(moved, reason="wrong line", **world.as_owner)


def close(world: World, a: int, b: int, amount: int) -> None:
    line = LineItem.objects.select_related("project").get(pk=world.lines[a % 3].pk)
    if line.closed_on is None:
        closing.close_line(line, note="final account", **world.as_lead)
    else:
        closing.reopen_line(line, reason="one more thing", **world.as_lead)


def rate_of_today(world: World, a: int, b: int, amount: int) -> None:
    rate = Decimal("0.7") + Decimal(b) / 100
    rates.set_today(world.project, currency="EUR", rate=rate, rated_on=world.day, **world.as_keeper)


def days_pass(world: World, a: int, b: int, amount: int) -> None:
    world.day += timedelta(days=1 + a % 4)
    ledger.bring_up_to(world.project, today=world.day, at=world.now)


DEEDS: list[Callable[[World, int, int, int], None]] = [
    raise_change, raise_change, answer_change, answer_change, price_change, reopen_change, enter_invoice, enter_invoice, enter_invoice,
    credit, answer_invoice, answer_invoice, answer_invoice, take_up_invoice, pay, pay, unpay, release, unrelease, move, unmove, close,
    rate_of_today, days_pass,
]  # fmt: skip


def check(world: World) -> None:
    rows = list(LineItem.objects.filter(project=world.project))
    moved = dict(Movement.objects.values_list("line").annotate(total=Sum("amount_minor")).order_by())
    assert all(row.likely_minor == row.budget_minor + moved.get(row.pk, 0) for row in rows)
    assert ledger.drifted(world.project, rows, on=world.day) == []
    for row in rows:
        if row.closed_on is None and row.agreed_minor is not None:
            assert row.likely_minor >= row.invoiced_minor
    assert not Invoice.objects.filter(
        kind=Invoice.Kind.INVOICE, paid_quoted_minor__gt=F("payable_quoted_minor")
    ).exists()
    for invoice in Invoice.objects.annotate(paid=Sum("payments__amount_quoted_minor", default=0)):
        assert invoice.paid == invoice.paid_quoted_minor
    assert sum(row.moved_minor for row in rows) == 0
    no_retention_below_zero(world)
    seen = overview(world.project)
    assert seen.total.over_budget == seen.total.likely - seen.total.budget == sum(step.amount for step in seen.bridge)
    remember(world)


def no_retention_below_zero(world: World) -> None:
    for agreement in Agreement.objects.filter(project=world.project):
        held = InvoiceLine.objects.filter(
            invoice__vendor=agreement.vendor, invoice__state__in=COUNTED, line__agreement_lines__agreement=agreement
        ).aggregate(total=Sum("retention_quoted_minor", default=0))["total"]
        out = agreement.retention_releases.aggregate(total=Sum("amount_quoted_minor", default=0))["total"]
        assert 0 <= out <= held


STEP = st.tuples(st.integers(0, len(DEEDS) - 1), st.integers(0, 40), st.integers(0, 40), st.integers(1, 60_000_00))


@pytest.mark.django_db
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck), phases=set(Phase) - {Phase.explain})
@given(st.lists(STEP, min_size=6, max_size=30))
def test_whatever_is_billed_and_paid_the_money_stays_true(steps: list[tuple[int, int, int, int]]) -> None:
    point = transaction.savepoint()
    try:
        world = World()
        check(world)
        for deed, a, b, amount in steps:
            before = Movement.objects.count()
            try:
                DEEDS[deed](world, a, b, amount)
            except Refused:
                assert Movement.objects.count() == before
            check(world)
    finally:
        transaction.savepoint_rollback(point)
