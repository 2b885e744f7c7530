"""Random errands with changes among those with quotes and decisions: the ledger stays true and nothing is paid twice.

After every step budget plus movements is the likely final, every kept figure is what its sources say, and nothing written
earlier was edited; what the contingency has paid out is the sum of the agreed changes that it pays; no open piece and no
effect stands in two changes in force; no change in force lies on a line that is not let.
"""

from collections.abc import Callable
from decimal import Decimal

import pytest
from django.db import transaction
from django.db.models import Count, Sum
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from budget.models import (
    AgreementGap,
    AgreementLine,
    Change,
    ChangeStep,
    KnockOn,
    LineItem,
    Movement,
    Transfer,
)
from budget.selectors.facts import IN_FORCE
from budget.services import agreements, changes, closing, ledger, lines, quotes
from projects.faults import Refused
from projects.models import Role
from tests.decisions import test_ledger_property as errands
from tests.decisions.test_ledger_property import MONEY, World, pick

POT = 6_000_00


def furnished() -> World:
    """A world with money set aside and two lines let, a cut proposed on one and an open piece of the other priced."""
    world = World()
    draft = lines.LineDraft("T1", "POT", "Set aside", budget_minor=POT, kind=LineItem.Kind.CONTINGENCY)
    lines.add_line(world.project, draft, **world.as_lead)
    for number, scope in ((0, (quotes.ScopeDraft("Grout", "unclear"),)), (1, ())):
        row = quotes.QuotedLine(world.lines[number].pk, 9_000_00, scope)
        given = quotes.QuoteDraft(f"Vendor {number}", "GBP", world.day, (row,))
        made = quotes.log_quote(world.project, given, **world.as_lead)
        agreements.accept_quote(made, role=Role.OWNER, **world.as_lead)
    write_down(world, 1, 2, 20_000_00)  # a cut on the second line
    write_down(world, 0, 0, 20_000_00)  # the open piece of the first, agreed and paid from the contingency
    return world


def write_down(world: World, a: int, b: int, amount: int) -> None:
    line = pick(LineItem.objects.filter(kind="work").order_by("pk"), a)
    gap = pick(AgreementGap.objects.order_by("pk"), b) if b % 3 == 0 else None
    effect = pick(KnockOn.objects.order_by("pk"), b) if b % 7 == 1 else None
    draft = changes.ChangeDraft(
        line_id=line.pk, title=f"Change {amount}", reason=Change.Reason.UNFORESEEN, amount_minor=(amount // 100) * (-1) ** (b % 4 == 2),
        paid_from=(Change.Source.CONTINGENCY, Change.Source.LINE)[b % 2], chance=Decimal(a % 5) / 4, days=b % 5,
        is_ceiling=b % 5 == 0, gap_id=gap.pk if gap else None, knock_on_id=effect.pk if effect else None,
    )  # fmt: skip
    role = (Role.LEAD, Role.OWNER)[a % 2]
    changes.raise_change(world.project, draft, role=role, agree=a % 4 == 0, **world.as_lead)


def some(a: int) -> Change | None:
    return pick(Change.objects.order_by("pk"), a)


def price(world: World, a: int, b: int, amount: int) -> None:
    if made := some(a):
        figures = {"amount_minor": amount // 120, "is_ceiling": b % 2 == 0, "days": b % 4, "chance": Decimal(b % 4) / 4}
        changes.price(made, note="anew", **figures, **world.as_lead)


def agree(world: World, a: int, b: int, amount: int) -> None:
    if made := some(a):
        price = amount // 110 if b % 4 == 0 else None
        changes.agree(made, note="yes", role=Role.OWNER, amount_minor=price, **world.as_lead)


def decline(world: World, a: int, b: int, amount: int) -> None:
    if made := some(a):
        changes.decline(made, note="no", **world.as_lead)


def withdraw(world: World, a: int, b: int, amount: int) -> None:
    if made := some(a):
        changes.withdraw(made, note="", **world.as_lead)


def take_up_again(world: World, a: int, b: int, amount: int) -> None:
    if made := some(a):
        changes.reopen(made, reason="after all", **world.as_lead)


def close(world: World, a: int, b: int, amount: int) -> None:
    if b % 4 == 0:
        closing.close_line(world.lines[a % 3], note="agreed on site", **world.as_lead)
    else:
        closing.reopen_line(world.lines[a % 3], reason="more came", **world.as_lead)


DEEDS: list[Callable[[World, int, int, int], None]] = [
    write_down, write_down, write_down, agree, agree, agree, price, price, decline, withdraw, take_up_again, take_up_again, close,
    errands.log_quote, errands.accept, errands.take_back, errands.own_forecast, errands.open_decision, errands.record,
    errands.answer, errands.reopen, errands.days_pass,
]  # fmt: skip


def check(world: World) -> None:
    rows = list(LineItem.objects.filter(project=world.project))
    assert ledger.unreconciled(world.project) == [] and ledger.drifted(world.project, rows, on=world.day) == []
    errands.remember(world)
    in_force = Change.objects.filter(state__in=IN_FORCE)
    for tie in ("gap", "knock_on"):
        assert not in_force.exclude(**{tie: None}).values(tie).annotate(n=Count("pk")).filter(n__gt=1).exists()
    let = AgreementLine.objects.filter(agreement__reversal=None).values("line_id")
    assert not in_force.exclude(line_id__in=let).exists()
    assert paid_out() == paid_for()
    assert all(row.steps.count() == row.version for row in Change.objects.all())


def paid_out() -> int:
    """What has left the contingency for changes and has not come back."""
    standing = Transfer.objects.filter(cause=Transfer.Cause.DRAW, reverses=None, reversal=None)
    return standing.aggregate(total=Sum("amount_minor", default=0))["total"]


def paid_for() -> int:
    agreed = Change.objects.filter(state=Change.State.AGREED, paid_from=Change.Source.CONTINGENCY, amount_minor__gt=0)
    return agreed.aggregate(total=Sum("amount_minor", default=0))["total"]


STEP = st.tuples(st.integers(0, len(DEEDS) - 1), st.integers(0, 40), st.integers(0, 40), MONEY)


@pytest.mark.django_db
@settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck), phases=set(Phase) - {Phase.explain})
@given(st.lists(STEP, min_size=6, max_size=30))
def test_whatever_happens_to_changes_the_ledger_stays_true(steps: list[tuple[int, int, int, int]]) -> None:
    point = transaction.savepoint()
    try:
        world = furnished()
        check(world)
        for deed, a, b, amount in steps:
            before = Movement.objects.count(), ChangeStep.objects.count(), Transfer.objects.count()
            try:
                DEEDS[deed](world, a, b, amount)
            except Refused:
                assert (Movement.objects.count(), ChangeStep.objects.count(), Transfer.objects.count()) == before
            check(world)
    finally:
        transaction.savepoint_rollback(point)


@pytest.mark.django_db
def test_the_errands_do_reach_the_contingency() -> None:
    """A property that never drew would prove nothing: these steps price a ceiling below, give back and draw again."""
    world = furnished()
    assert paid_out() == paid_for() == 200_00
    price(world, 1, 1, 12_000_00)
    assert paid_out() == 100_00
    take_up_again(world, 1, 0, 0)
    assert paid_out() == 0 and Change.objects.get(code="C01").amount_minor == -200_00
    agree(world, 1, 1, 0)
    assert paid_out() == 100_00
    check(world)
