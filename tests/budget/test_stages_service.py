"""Payment stages and arrivals; against the rules of the house (no outside source)."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from budget.models import Agreement, Arrival, PaymentStage
from budget.services import agreements, stages
from budget.services.stages import StageDraft
from projects.faults import Refused
from projects.models import Project, Role, User
from tests import builders
from tests.builders import NOW, TODAY
from units.amounts import LARGEST_MINOR

Kind = PaymentStage.Kind


def let(project: Project, lead: User, amount: int = 10_000, **terms: Any) -> Agreement:
    quote = builders.quote(builders.line(project, budget=amount), amount, **terms)
    return agreements.accept_quote(quote, by=lead, role=Role.OWNER, now=NOW, today=TODAY)


def share(name: str, percent: str, **more: Any) -> StageDraft:
    return StageDraft(**{"kind": Kind.STAGE, "name": name, "share_percent": Decimal(percent)} | more)


def amount(name: str, minor: int) -> StageDraft:
    return StageDraft(Kind.STAGE, name, amount_quoted_minor=minor)


def set_plan(agreement: Agreement, by: User, *rows: StageDraft) -> list[PaymentStage]:
    return stages.set_payment_stages(agreement, rows, by=by, now=NOW, today=TODAY)


def arrive(agreement: Agreement, by: User, on: date = TODAY, **more: Any) -> Arrival:
    return stages.arrive(agreement, arrived_on=on, by=by, now=NOW, today=TODAY, **more)


def test_a_newer_plan_stands_beside_the_older_one(project: Project, lead: User):
    agreement = let(project, lead)
    set_plan(agreement, lead, share("All of it", "100"))
    set_plan(agreement, lead, share("Deposit", "30", kind=Kind.DEPOSIT, due_on=TODAY), share("Rest", "70"))
    rows = list(agreement.payment_stages.values_list("plan", "name"))
    assert rows == [(1, "All of it"), (2, "Deposit"), (2, "Rest")]
    assert project.trail.filter(subject="agreement", verb="set").count() == 2


def test_shares_and_amounts_may_be_mixed_when_they_add_up(project: Project, lead: User):
    """Worked by hand: 1,000 and 90 % of 10,000."""
    agreement = let(project, lead)
    set_plan(agreement, lead, amount("On order", 1_000_00), share("Rest", "90"))
    with pytest.raises(Refused, match="90% and £999.99 in amounts, of £10,000 agreed"):
        set_plan(agreement, lead, amount("On order", 999_99), share("Rest", "90"))


@pytest.mark.parametrize(
    "rows",
    [
        (share("A", "50"), share("B", "49.99")),
        (share("A", "50"), share("B", "50.01")),
        (amount("A", 10_001_00),),
        (amount("A", 0),),
        (share("A", "100"), amount("B", 1)),
    ],
)
def test_what_does_not_add_up_is_refused(rows: tuple[StageDraft, ...], project: Project, lead: User):
    agreement = let(project, lead)
    with pytest.raises(Refused, match="do not add up"):
        set_plan(agreement, lead, *rows)
    assert not PaymentStage.objects.exists()


def test_thirds_of_a_share_add_up(project: Project, lead: User):
    agreement = let(project, lead, 100)
    set_plan(agreement, lead, share("A", "33.33"), share("B", "33.33"), share("C", "33.34"))


def test_amounts_of_a_foreign_agreement_are_in_its_currency(project: Project, lead: User):
    agreement = let(project, lead, 10_000, currency="EUR", rate=Decimal("0.86"))
    set_plan(agreement, lead, amount("All of it", 10_000_00))
    with pytest.raises(Refused, match="of €10,000 agreed"):
        set_plan(agreement, lead, amount("All of it", 8_600_00))


@pytest.mark.parametrize(
    ("row", "field"),
    [
        (share(" ", "100"), "rows-0-name"),
        (share("x" * 121, "100"), "name"),
        (share("A", "100", kind="bribe"), "rows-0-kind"),
        (share("A", "NaN"), "rows-0-share_percent"),
        (share("A", "Infinity"), "rows-0-share_percent"),
        (share("A", "-1"), "rows-0-share_percent"),
        (share("A", "100.01"), "rows-0-share_percent"),
        (share("A", "100", due_on=date(1066, 10, 14)), "rows-0-due_on"),
        (StageDraft(Kind.STAGE, "A"), "rows-0-share_percent"),
        (StageDraft(Kind.STAGE, "A", Decimal(100), 1), "rows-0-share_percent"),
        (amount("A", -1), "rows-0-amount_quoted_minor"),
        (amount("A", LARGEST_MINOR + 1), "rows-0-amount_quoted_minor"),
    ],
)
def test_a_slip_in_a_stage_is_refused_at_its_field(row: StageDraft, field: str, project: Project, lead: User):
    agreement = let(project, lead)
    with pytest.raises(Refused) as fault:
        set_plan(agreement, lead, row)
    assert fault.value.field == field and not PaymentStage.objects.exists()


def test_none_and_a_thousand_stages_are_refused(project: Project, lead: User):
    agreement = let(project, lead)
    for rows in ((), (share("A", "0"),) * 1_000):
        with pytest.raises(Refused):
            set_plan(agreement, lead, *rows)
    assert not PaymentStage.objects.exists()


def test_the_deposit_of_the_quote_is_proposed(project: Project, lead: User):
    agreement = let(project, lead, deposit_percent=Decimal("30"))
    rows = stages.proposed(agreement)
    assert [(row.kind, row.share_percent, row.due_on) for row in rows] == [
        ("deposit", 30, TODAY),
        ("delivery", 70, None),
    ]
    set_plan(agreement, lead, *rows)


@pytest.mark.parametrize("deposit", [None, Decimal(0), Decimal(100)])
def test_without_a_part_to_pay_first_nothing_is_proposed(deposit: Decimal | None, project: Project, lead: User):
    assert stages.proposed(let(project, lead, deposit_percent=deposit)) == ()


def test_goods_arrive_once_and_may_be_taken_back(project: Project, lead: User):
    agreement = let(project, lead)
    first = arrive(agreement, lead)
    with pytest.raises(Refused, match="on site already"):
        arrive(agreement, lead)
    stages.take_back(first, reason="wrong crate", by=lead, now=NOW, today=TODAY)
    assert stages.arrival_of(agreement) is None
    again = arrive(agreement, lead)
    assert stages.arrival_of(agreement) == again and Arrival.objects.count() == 3


def test_an_arrival_is_taken_back_once_and_with_a_reason(project: Project, lead: User):
    row = arrive(let(project, lead), lead)
    for reason, words in (("", "Say why"), ("slip", ""), ("slip", "taken back already")):
        if words:
            with pytest.raises(Refused, match=words):
                stages.take_back(row, reason=reason, by=lead, now=NOW, today=TODAY)
        else:
            stages.take_back(row, reason=reason, by=lead, now=NOW, today=TODAY)


@pytest.mark.parametrize("days", [1, -1])
def test_goods_arrive_between_the_order_and_today(days: int, project: Project, lead: User):
    with pytest.raises(Refused) as fault:
        arrive(let(project, lead), lead, TODAY + timedelta(days=days))
    assert fault.value.field == "arrived_on" and not Arrival.objects.exists()


def test_a_photograph_of_another_project_is_refused(project: Project, lead: User, outsider: User):
    theirs = builders.attachment(outsider.memberships.get().project)
    agreement = let(project, lead)
    with pytest.raises(Refused):
        arrive(agreement, lead, attachment_id=theirs.pk)
    own = builders.attachment(project)
    assert arrive(agreement, lead, attachment_id=own.pk).attachment == own


def test_an_agreement_that_was_taken_back_has_no_stages_and_no_goods(project: Project, lead: User):
    agreement = let(project, lead)
    agreements.reverse_agreement(agreement, reason="crew not free", by=lead, now=NOW, today=TODAY)
    for deed in (lambda: set_plan(agreement, lead, share("A", "100")), lambda: arrive(agreement, lead)):
        with pytest.raises(Refused, match="taken back"):
            deed()
