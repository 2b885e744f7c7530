"""Retention held, its stages and its release; the rules are the house's (ADR 0110), halves at completion are common practice."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from budget.models import Agreement, LineItem, RetentionRelease, RetentionStage
from budget.selectors import retained
from budget.selectors.retained import Retained
from budget.services import invoices, payments, retention
from projects.faults import Refused
from projects.models import Project, User
from tests import builders
from tests.builders import NOW, TODAY
from units.amounts import LARGEST_MINOR

OPENING = date(2027, 5, 21)


@pytest.fixture
def slab(project: Project, lead: User) -> LineItem:
    """A line let at 20,000 with 5 % held; 500 is held on an invoice of 10,000."""
    project.opens_on = OPENING
    project.save(update_fields=["opens_on"])
    line = builders.line(project, budget=20_000)
    builders.let(line, 20_000, retention=5)
    builders.approved(line, 10_000, retention=500)
    return line


def agreement_of(line: LineItem) -> Agreement:
    return line.agreement_lines.get().agreement


def kept(line: LineItem) -> Retained:
    found = retained.of_agreement(line.project, agreement_of(line).pk)
    assert found is not None
    return found


def release(line: LineItem, by: User, minor: int | None = None, **more: Any) -> RetentionRelease:
    given_on = {"released_on": TODAY, "today": TODAY} | more
    return retention.release(agreement_of(line), amount_quoted_minor=minor, by=by, now=NOW, **given_on)


def set_stages(line: LineItem, by: User, *rows: tuple[str, Any, date | None]) -> list[RetentionStage]:
    shares = [(name, Decimal(share), on) for name, share, on in rows]
    return retention.set_stages(agreement_of(line), shares, by=by, now=NOW, today=TODAY)


def test_half_falls_due_at_the_opening_and_half_a_year_later(slab: LineItem):
    plan = [(due.name, due.amount_minor, due.due_on) for due in kept(slab).plan]
    assert plan == [
        ("practical completion", 250_00, OPENING), ("end of the defects period", 250_00, date(2028, 5, 21)),
    ]  # fmt: skip


def test_what_is_due_is_released_in_one_go(slab: LineItem, bookkeeper: User):
    row = release(slab, bookkeeper, released_on=OPENING, today=OPENING)
    assert (row.amount_quoted_minor, row.amount_minor) == (250_00, 250_00)
    assert (kept(slab).held_minor, kept(slab).next_due.due_on) == (250_00, date(2028, 5, 21))
    assert slab.project.trail.get(subject="release").summary == "Released £250 of the retention of Aridlow"


def test_before_anything_is_due_an_amount_is_asked_for(slab: LineItem, lead: User):
    with pytest.raises(Refused, match="Nothing is due before Fri 21 May 2027, practical completion"):
        release(slab, lead)
    assert release(slab, lead, 100_00).amount_minor == 100_00


def test_never_more_than_is_held(slab: LineItem, lead: User):
    release(slab, lead, 499_99)
    with pytest.raises(Refused, match="£0.01 is held of Aridlow"):
        release(slab, lead, 2)
    release(slab, lead, 1)
    with pytest.raises(Refused, match="Nothing is held"):
        release(slab, lead, 1)


def test_a_release_does_not_move_the_likely_final(slab: LineItem, lead: User):
    before = LineItem.objects.get(pk=slab.pk)
    release(slab, lead, 500_00)
    after = LineItem.objects.get(pk=slab.pk)
    assert (after.likely_minor, after.retention_minor) == (before.likely_minor, before.retention_minor)


def test_a_release_is_taken_back_once_and_with_a_reason(slab: LineItem, lead: User):
    row = release(slab, lead, 500_00)
    with pytest.raises(Refused, match="Say why"):
        retention.take_back(row, reason=" ", by=lead, now=NOW, today=TODAY)
    reversal = retention.take_back(row, reason="snags", by=lead, now=NOW, today=TODAY)
    assert kept(slab).held_minor == 500_00
    for taken in (row, reversal):
        with pytest.raises(Refused, match="taken back already"):
            retention.take_back(taken, reason="snags", by=lead, now=NOW, today=TODAY)


def test_own_stages_take_the_place_of_the_usual_ones(slab: LineItem, lead: User):
    set_stages(slab, lead, ("Leak test passed", 100, None))
    set_stages(slab, lead, ("Handover", "33.3", TODAY), ("Leak test passed", "66.7", None))
    assert [(due.name, due.amount_minor) for due in kept(slab).plan] == [
        ("Handover", 166_50),
        ("Leak test passed", 333_50),
    ]
    assert release(slab, lead).amount_minor == 166_50
    with pytest.raises(Refused, match="No stage with a date is due"):
        release(slab, lead)


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ((" ", 100, None), "rows-0-name"),
        (("x" * 121, 100, None), "name"),
        (("A", "NaN", None), "rows-0-share_percent"),
        (("A", "-1", None), "rows-0-share_percent"),
        (("A", "100.01", None), "rows-0-share_percent"),
        (("A", 99, None), ""),
        (("A", 100, date(1066, 10, 14)), "rows-0-due_on"),
    ],
)
def test_a_slip_in_a_stage_is_refused_at_its_field(row: Any, field: str, slab: LineItem, lead: User):
    with pytest.raises(Refused) as fault:
        set_stages(slab, lead, row)
    assert fault.value.field == field and not RetentionStage.objects.exists()


def test_no_stage_and_a_thousand_are_refused(slab: LineItem, lead: User):
    for rows in ((), (("A", "0.1", None),) * 1_000):
        with pytest.raises(Refused):
            set_stages(slab, lead, *rows)


@pytest.mark.parametrize(
    ("minor", "more", "field"),
    [
        (0, {}, "amount"),
        (-1, {}, "amount"),
        (LARGEST_MINOR + 1, {}, "amount"),
        (1, {"released_on": TODAY + timedelta(days=1)}, "released_on"),
        (1, {"released_on": TODAY - timedelta(days=1)}, "released_on"),
        (1, {"note": "x" * 301}, "note"),
    ],
)
def test_a_slip_in_a_release_is_refused_at_its_field(
    minor: int, more: dict[str, Any], field: str, slab: LineItem, lead: User
):
    with pytest.raises(Refused) as fault:
        release(slab, lead, minor, **more)
    assert fault.value.field == field and not RetentionRelease.objects.exists()


def test_a_queried_invoice_holds_nothing(slab: LineItem, lead: User):
    entered = builders.approved(slab, 1_000, number="AR-2", retention=50)
    assert kept(slab).held_minor == 550_00
    invoices.query(entered, "wrong line", by=lead, now=NOW, today=TODAY)
    assert kept(slab).held_minor == 500_00


def test_more_released_than_is_still_held_is_shown_and_releases_no_more(slab: LineItem, lead: User):
    """The invoice that held it is queried after the release: the vendor owes it back."""
    entered = slab.invoice_lines.get().invoice
    release(slab, lead, 500_00)
    invoices.query(entered, "not ours", by=lead, now=NOW, today=TODAY)
    assert (kept(slab).held_minor, kept(slab).plan) == (-500_00, ())
    with pytest.raises(Refused, match="Nothing is held"):
        release(slab, lead, 1)


def test_foreign_retention_is_released_at_the_rates_it_was_held_at(project: Project, lead: User):
    """Worked by hand: 50 € held at 0.86 and 50 € at 0.90 are £88; half of what is held in euro is half of it in pounds."""
    line = builders.line(project, budget=20_000)
    builders.let(line, 20_000, retention=5, currency="EUR", rate=Decimal("0.86"))
    for number, rate in (("AR-1", "0.86"), ("AR-2", "0.90")):
        builders.approved(line, 1_000, number=number, currency="EUR", rate=Decimal(rate), retention=50)
    assert (kept(line).held_quoted_minor, kept(line).held_minor) == (100_00, 88_00)
    assert release(line, lead, 50_00).amount_minor == 44_00
    assert release(line, lead, 50_00).amount_minor == 44_00
    assert kept(line).held_minor == 0


def test_retention_that_no_agreement_explains_stands_under_its_vendor(project: Project, lead: User):
    line = builders.line(project)
    builders.approved(line, 1_000, vendor="Stranger", retention=50)
    (row,) = retained.by_agreement(project)
    assert (row.vendor, row.agreement_id, row.held_minor, row.currency) == ("Stranger", None, 50_00, "GBP")


def test_the_held_sum_is_what_the_lines_withheld_less_the_releases(slab: LineItem, lead: User):
    other = builders.line(slab.project, "L0102", budget=5_000)
    builders.let(other, 5_000, vendor="Beta", retention=10)
    builders.approved(other, 1_000, vendor="Beta", number="B-1", retention=100)
    release(slab, lead, 123_45)
    held = sum(row.held_minor for row in retained.by_agreement(slab.project))
    lines = LineItem.objects.filter(project=slab.project)
    assert held == sum(line.retention_minor for line in lines) - 123_45 == 476_55


def test_paying_the_invoice_leaves_its_retention_held(slab: LineItem, lead: User):
    entered = slab.invoice_lines.get().invoice
    payments.pay(entered, paid_on=TODAY, by=lead, now=NOW, today=TODAY)
    assert kept(slab).held_minor == 500_00


@given(deeds=st.lists(st.one_of(st.none(), st.integers(1, 300_00)), max_size=8))
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_held_is_never_below_zero_whatever_is_asked(deeds: list[int | None], slab: LineItem, lead: User):
    """None takes the last release back. Oracle: a plain list of what stands, beside the rows."""
    standing: list[RetentionRelease] = []
    for row in RetentionRelease.objects.filter(reverses=None, reversal=None):
        retention.take_back(row, reason="begin anew", by=lead, now=NOW, today=TODAY)
    for minor in deeds:
        if minor is None:
            if standing:
                retention.take_back(standing.pop(), reason="slip", by=lead, now=NOW, today=TODAY)
        elif sum(row.amount_minor for row in standing) + minor <= 500_00:
            standing.append(release(slab, lead, minor))
        else:
            with pytest.raises(Refused):
                release(slab, lead, minor)
        assert kept(slab).held_minor == 500_00 - sum(row.amount_minor for row in standing) >= 0
        assert sum(due.amount_minor for due in kept(slab).planned()) == kept(slab).held_minor
