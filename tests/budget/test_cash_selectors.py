"""What is still to be paid, by name and by month, and the money for it; worked by hand where a figure stands (ADR 0124)."""

from collections.abc import Callable
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from budget.models import Agreement, LineItem, PaymentStage
from budget.selectors import abroad, cash
from budget.services import funding, payments, progress, rates, retention, stages
from budget.services.stages import StageDraft
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY

OPENING = date(2027, 5, 21)


@pytest.fixture
def slab(project: Project, lead: User) -> LineItem:
    project.opens_on = OPENING
    project.save(update_fields=["opens_on"])
    line = builders.line(project, budget=20_000)
    builders.let(line, 20_000, retention=5)
    return line


def seen(project: Project) -> cash.Outlook:
    return cash.outlook(project, today=TODAY)


def pay(invoice: Any, by: User, minor: int | None = None, **more: Any) -> Any:
    return payments.pay(invoice, amount_quoted_minor=minor, paid_on=TODAY, by=by, now=NOW, today=TODAY, **more)


def agreement_of(line: LineItem) -> Agreement:
    return line.agreement_lines.get().agreement


def promise(project: Project, by: User, amount: int, received: int = 0, name: str = "Shares") -> None:
    source = funding.add_source(project, name=name, amount_minor=amount * 100, by=by, now=NOW, today=TODAY)
    if received:
        funding.receive(source, amount_minor=received * 100, received_on=TODAY, by=by, now=NOW, today=TODAY)


def test_the_four_sources_are_the_cost_to_complete(slab: LineItem, lead: User):
    """Let at 20,000; 10,000 billed with 500 held and 1,900 tax that comes back; 4,560 of the 11,400 is paid.

    Paid without tax 9,500 × 4,560 / 11,400 = 3,800; open without tax 5,700, with tax 6,840; held 500; unbilled 10,000.
    """
    pay(builders.approved(slab, 10_000, tax=1_900, retention=500, due_on=date(2027, 2, 19)), lead, 4_560_00)
    found = seen(slab.project)
    by_kind: dict[str, int] = {}
    for row in found.outgoing:
        by_kind[row.kind] = by_kind.get(row.kind, 0) + row.cost_minor
    assert by_kind == {"invoice": 5_700_00, "retention": 500_00}
    assert (found.rest, found.funds.paid, found.funds.to_complete) == (10_000_00, 3_800_00, 16_200_00)
    assert sum(month.total_minor for month in found.months) == 16_200_00
    assert (found.approved_unpaid, found.due_in_weeks) == (6_840_00, 6_840_00)


def test_tax_that_stays_is_part_of_the_cost(slab: LineItem, lead: User):
    slab.project.tax_recovered = False
    slab.project.save(update_fields=["tax_recovered"])
    pay(builders.approved(slab, 10_000, tax=2_000), lead, 6_000_00)
    found = seen(slab.project)
    assert (found.funds.paid, found.outgoing[0].cost_minor) == (6_000_00, 6_000_00)
    assert found.funds.to_complete == found.funds.likely - 6_000_00


def test_an_invoice_without_a_date_falls_due_after_thirty_days(slab: LineItem, lead: User):
    """29 January and 30 days is Sunday 28 February; banks pay on Monday. The terms of the quote win where they give days."""
    builders.invoice(slab, 1_000)
    assert seen(slab.project).outgoing[0].on == date(2027, 3, 1)
    other = builders.line(slab.project, "L0102")
    builders.let(other, 10_000, vendor="Beta", payment_terms="14 days from invoice")
    builders.invoice(other, 1_000, vendor="Beta")
    assert {row.on for row in seen(slab.project).outgoing} == {date(2027, 3, 1), date(2027, 2, 12)}


def test_what_is_overdue_falls_into_the_first_week_and_month(slab: LineItem, lead: User):
    builders.approved(slab, 1_000, invoiced_on=TODAY - timedelta(days=60))
    found = seen(slab.project)
    assert found.outgoing[0].overdue and found.overdue == 1_000_00
    assert found.weeks[0].total_minor == 1_000_00 and found.months[0].amounts["invoice"] == 1_000_00


def test_a_waiting_invoice_falls_due_and_a_queried_one_does_not(slab: LineItem, lead: User):
    builders.invoice(slab, 1_000)
    builders.invoice(slab, 30_000, number="AR-2")  # over the agreement: queried
    found = seen(slab.project)
    assert [(row.amount_minor, row.approved) for row in found.outgoing] == [(1_000_00, False)]
    assert (found.approved_unpaid, found.due_in_weeks) == (0, 1_000_00)


def test_a_credit_note_lowers_what_is_to_be_paid(slab: LineItem, lead: User):
    first = builders.approved(slab, 1_000)
    builders.approved(slab, -400, number="AR-1-CN", credits_id=first.pk)
    found = seen(slab.project)
    assert sorted(row.amount_minor for row in found.outgoing) == [-400_00, 1_000_00]
    assert (found.approved_unpaid, found.overdue) == (600_00, 0)


def test_what_has_no_day_is_spread_to_the_opening(slab: LineItem):
    """20,000 over the 113 days from 29 January to 21 May: 3 of them in January."""
    months = cash.by_month(slab.project, today=TODAY)
    assert [month.first for month in months] == [date(2027, number, 1) for number in range(1, 6)]
    assert months[0].total_minor == round(20_000_00 * 3 / 113) and months[-1].cumulative_minor == 20_000_00


def test_without_an_opening_it_is_spread_over_a_year(slab: LineItem):
    slab.project.opens_on = None
    found = seen(slab.project)
    assert found.spread_until == date(2028, 1, 29) and len(found.months) == 13


def test_after_the_opening_it_falls_due_now(slab: LineItem):
    slab.project.opens_on = TODAY - timedelta(days=1)
    found = seen(slab.project)
    assert found.spread_until == TODAY and [month.total_minor for month in found.months] == [20_000_00]


def set_plan(line: LineItem, by: User, *rows: tuple[str, int, date | None]) -> None:
    drafts = [StageDraft(PaymentStage.Kind.STAGE, name, Decimal(share), due_on=on) for name, share, on in rows]
    stages.set_payment_stages(agreement_of(line), drafts, by=by, now=NOW, today=TODAY)


def test_a_stage_with_a_day_is_taken_off_the_rest(slab: LineItem, lead: User):
    """30 % is 6,000, of which 1,000 is billed; the other 70 % has no day and stays in the rest."""
    set_plan(slab, lead, ("Order", 30, date(2027, 2, 5)), ("Delivery", 70, None))
    builders.approved(slab, 1_000)
    found = seen(slab.project)
    stage = next(row for row in found.outgoing if row.kind == "stage")
    assert (stage.name, stage.amount_minor, stage.on) == ("Aridlow, Order", 5_000_00, date(2027, 2, 5))
    assert (found.rest, found.funds.to_complete) == (14_000_00, 20_000_00)


def test_a_stage_takes_no_more_than_its_lines_still_cost(slab: LineItem, lead: User):
    """Another vendor billed 15,000 on the line: 5,000 of it is left to cost, whatever the plan says."""
    set_plan(slab, lead, ("All of it", 100, date(2027, 2, 5)))
    builders.approved(slab, 15_000, vendor="Beta")
    found = seen(slab.project)
    assert [row.amount_minor for row in found.outgoing if row.kind == "stage"] == [5_000_00]
    assert found.rest == 0 and sum(month.total_minor for month in found.months) == found.funds.to_complete


def test_a_foreign_stage_counts_at_the_rate_of_today(project: Project, lead: User):
    line = builders.line(project, budget=20_000)
    builders.let(line, 10_000, currency="EUR", rate=Decimal("0.86"))
    set_plan(line, lead, ("Order", 100, date(2027, 2, 5)))
    rates.set_today(
        project, currency="EUR", rate=Decimal("0.874"), rated_on=TODAY, by=lead, now=NOW, today=TODAY
    )  # fmt: skip
    found = seen(project)
    assert (found.outgoing[0].amount_minor, found.outgoing[0].open_quoted_minor) == (8_740_00, 10_000_00)
    assert (found.rest, found.funds.to_complete) == (0, 8_740_00)


def test_funds_against_the_cost_to_complete(slab: LineItem, lead: User):
    """21,500 promised, 9,000 in, 3,800 paid: 5,200 in hand, 12,500 to draw, 16,200 to pay: 1,500 of room."""
    promise(slab.project, lead, 9_000, 9_000)
    promise(slab.project, lead, 12_500, name="Loan")
    pay(builders.approved(slab, 10_000, tax=1_900, retention=500), lead, 4_560_00)
    found = seen(slab.project)
    told = found.funds
    assert (told.funds.in_hand_minor, told.funds.undrawn_minor, told.funds.room_minor) == (
        5_200_00,
        12_500_00,
        1_500_00,
    )
    assert told.promised - told.likely == told.funds.room_minor
    assert found.short_from is not None and found.short_from.cumulative_minor > 5_200_00


def test_the_contingency_is_no_cost_to_complete(slab: LineItem):
    before = seen(slab.project).funds.to_complete
    builders.line(slab.project, "L9900", budget=82_000, kind="contingency")
    assert seen(slab.project).funds.to_complete == before


def test_a_release_is_paid_money(slab: LineItem, lead: User):
    pay(builders.approved(slab, 10_000, retention=500), lead)
    before = seen(slab.project).funds
    agreement = agreement_of(slab)
    retention.release(agreement, amount_quoted_minor=200_00, released_on=TODAY, by=lead, now=NOW, today=TODAY)
    after = seen(slab.project).funds
    assert (after.paid - before.paid, before.to_complete - after.to_complete) == (200_00, 200_00)


DEED = st.tuples(st.sampled_from(["bill", "pay", "stage"]), st.integers(1, 9_000))


@given(deeds=st.lists(DEED, max_size=6), recovered=st.booleans())
@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_months_are_the_cost_to_complete_whatever_is_done(
    deeds: list[tuple[str, int]], recovered: bool, lead: User, request: pytest.FixtureRequest
):
    """Oracle: the likely final less what left the bank, without tax where it comes back, added up from the rows."""
    project = builders.project(lead, name=f"Hall {len(deeds)}", opens_on=OPENING)
    project.tax_recovered = recovered
    project.save(update_fields=["tax_recovered"])
    line = builders.line(project, budget=20_000)
    builders.let(line, 20_000, retention=5)
    out = 0
    unpaid: list[tuple[Any, int]] = []
    for place, (deed, size) in enumerate(deeds):
        if deed == "bill":
            told = {"tax": size // 5, "retention": size // 20, "number": f"AR-{place}"}
            net = size - size // 20 + (0 if recovered else size // 5)
            unpaid.append((builders.approved(line, size, **told), net * 100))
        elif deed == "pay" and unpaid:
            invoice, net = unpaid.pop()
            pay(invoice, lead)
            out += net
        elif deed == "stage":
            set_plan(line, lead, ("One", 40, TODAY + timedelta(days=size % 200)), ("Two", 60, None))
    found = cash.outlook(project, today=TODAY)
    line.refresh_from_db()
    assert found.funds.paid == out
    assert sum(month.total_minor for month in found.months) == line.likely_minor - out == found.funds.to_complete


# --- other currencies -------------------------------------------------------------------------------------------


def test_a_foreign_balance_its_movement_and_its_exposure(project: Project, lead: User):
    """The worked example of ADR 0121: 1,474.40 dearer, and 62,080 € at 0.874 may move by 5 %, 2,712.90 either way."""
    line = builders.line(project, budget=130_000)
    builders.let(line, 155_200, currency="EUR", rate=Decimal("0.86"), vendor="Becken")
    for number, rate in (("B-1", "0.862"), ("B-2", "0.871")):
        builders.approved(line, 46_560, vendor="Becken", number=number, currency="EUR", rate=Decimal(rate))
    given_on = {"rated_on": TODAY, "by": lead, "now": NOW, "today": TODAY}
    rates.set_today(project, currency="EUR", rate=Decimal("0.874"), **given_on)
    found = abroad.foreign(project)
    (row,) = found.rows
    assert (row.vendor, row.unbilled_quoted_minor, row.unbilled_minor) == ("Becken", 62_080_00, 54_257_92)
    assert (found.movement, found.exposure, found.unrated) == (1_474_40, 2_712_90, ())


def test_a_currency_without_a_rate_of_today_is_named(project: Project):
    builders.let(builders.line(project, budget=20_000), 10_000, currency="EUR", rate=Decimal("0.86"))
    found = abroad.foreign(project)
    assert (found.unrated, found.movement) == (("EUR",), 0)


# --- goods that are not on site ---------------------------------------------------------------------------------


@pytest.fixture
def panels(project: Project) -> LineItem:
    line = builders.line(project, "L0502", budget=20_000)
    builders.let(line, 20_000, vendor="Verralis", deposit_percent=Decimal(40))
    return line


def test_what_is_paid_for_goods_is_exposed_until_they_arrive(panels: LineItem, lead: User):
    """8,000 billed and approved; once half of it is paid 4,000 is out, and 8,000 will be."""
    entered = builders.approved(panels, 8_000, vendor="Verralis", tax=1_600)
    pay(entered, lead, 4_800_00)
    found = abroad.not_on_site(panels.project)
    assert (found.exposed, found.soon, found.rows[0].approved_minor) == (4_000_00, 8_000_00, 4_000_00)
    stages.arrive(agreement_of(panels), arrived_on=TODAY, by=lead, now=NOW, today=TODAY)
    after = abroad.not_on_site(panels.project)
    assert (after.rows, after.exposed, len(after.arrived)) == ((), 0, 1)


def test_work_without_a_deposit_is_no_goods(slab: LineItem, lead: User):
    pay(builders.approved(slab, 8_000), lead)
    assert abroad.not_on_site(slab.project).rows == ()
    kinds = [StageDraft(PaymentStage.Kind.DELIVERY, "On delivery", Decimal(100))]
    stages.set_payment_stages(agreement_of(slab), kinds, by=lead, now=NOW, today=TODAY)
    assert abroad.not_on_site(slab.project).exposed == 8_000_00


def test_what_was_seen_done_on_site_is_taken_off(panels: LineItem, lead: User):
    """30 % of 20,000 was seen: of 8,000 paid, 2,000 is not there."""
    pay(builders.approved(panels, 8_000, vendor="Verralis"), lead)
    progress.note_seen(panels, percent=Decimal(30), seen_on=TODAY, note="", by=lead, now=NOW, today=TODAY)
    assert abroad.not_on_site(panels.project).exposed == 2_000_00


def test_goods_with_stages_are_away_until_they_come_however_much_is_made(panels: LineItem, lead: User):
    pay(builders.approved(panels, 8_000, vendor="Verralis"), lead)
    plan = stages.proposed(agreement_of(panels))
    stages.set_payment_stages(agreement_of(panels), plan, by=lead, now=NOW, today=TODAY)
    progress.note_seen(panels, percent=Decimal(90), seen_on=TODAY, note="at the works", by=lead, now=NOW, today=TODAY)
    assert abroad.not_on_site(panels.project).exposed == 8_000_00
    set_plan(panels, lead, ("All of it", 100, None))
    assert abroad.not_on_site(panels.project).exposed == 0


# --- how many queries -------------------------------------------------------------------------------------------

READS: list[tuple[Callable[[Project], object], int]] = [
    (lambda project: cash.outlook(project, today=TODAY), 17),
    (lambda project: cash.funds(project, today=TODAY), 13),
    (abroad.foreign, 7),
    (abroad.not_on_site, 5),
]


@pytest.mark.parametrize(("read", "most"), READS)
def test_the_number_of_queries_does_not_grow(
    read: Callable[[Project], object], most: int, project: Project, lead: User
):
    def furnish(place: int) -> None:
        line = builders.line(project, f"L{place:04}", budget=20_000)
        vendor = f"Vendor {place}"
        builders.let(
            line, 10_000, vendor=vendor, currency="EUR", rate=Decimal("0.86"), retention=5, deposit_percent=Decimal(20)
        )
        set_plan(line, lead, ("Order", 20, OPENING), ("Rest", 80, None))
        told = {"vendor": vendor, "currency": "EUR", "rate": Decimal("0.86"), "retention": 50}
        pay(builders.approved(line, 1_000, number=f"V-{place}", **told), lead, 100_00, rate=Decimal("0.9"))

    furnish(1)
    with CaptureQueriesContext(connection) as few:
        read(project)
    for place in (2, 3, 4):
        furnish(place)
    with CaptureQueriesContext(connection) as many:
        read(project)
    assert len(few) == len(many) <= most
