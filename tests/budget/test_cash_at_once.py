"""Two people at one retention, one source or one arrival at the same moment: one is done, the other told."""

from collections.abc import Callable
from decimal import Decimal

import pytest

from budget.models import Agreement, Arrival, FundingReceipt, FundingSource, LineItem, RetentionRelease
from budget.services import funding, ledger, rates, retention, stages
from projects.models import Project, User
from projects.services.rates import RateSet
from tests import builders
from tests.budget.test_two_at_once import as_when_it_runs, at_once  # noqa: F401  (the first is a fixture for all)
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def told(lead: User) -> dict[str, object]:
    return {"by": lead, "now": NOW, "today": TODAY}


@pytest.fixture
def agreement(project: Project) -> Agreement:
    """500 is held on an invoice of 10,000."""
    line = builders.line(project, budget=20_000)
    made = builders.let(line, 20_000, retention=5)
    builders.approved(line, 10_000, retention=500)
    return made


@pytest.fixture
def loan(project: Project, told: dict[str, object]) -> FundingSource:
    return funding.add_source(project, name="Loan", amount_minor=1_000_00, **told)


def held(model: type, column: str) -> int:
    return sum(getattr(row, column) for row in model.objects.all())


def test_what_is_held_is_released_once(agreement: Agreement, told: dict[str, object]) -> None:
    def give() -> RetentionRelease:
        return retention.release(agreement, amount_quoted_minor=300_00, released_on=TODAY, **told)

    done, refused = at_once(give, give)
    assert len(done) == 1 and "£200 is held of Aridlow" in refused[0]
    assert held(RetentionRelease, "amount_minor") == 300_00


def test_a_source_gives_no_more_than_it_promised(loan: FundingSource, told: dict[str, object]) -> None:
    def receive() -> FundingReceipt:
        return funding.receive(loan, amount_minor=700_00, received_on=TODAY, **told)

    done, refused = at_once(receive, receive)
    assert len(done) == 1 and "Loan has £300 left to give" in refused[0]
    assert held(FundingReceipt, "amount_minor") == 700_00


def test_money_does_not_come_in_from_a_source_that_is_taken_off(loan: FundingSource, told: dict[str, object]) -> None:
    done, refused = at_once(
        lambda: funding.receive(loan, amount_minor=700_00, received_on=TODAY, **told),
        lambda: funding.remove_source(loan, **told),
    )
    assert len(done) == len(refused) == 1
    loan.refresh_from_db()
    assert (loan.removed_on is None) == FundingReceipt.objects.exists()


def test_goods_arrive_once(agreement: Agreement, told: dict[str, object]) -> None:
    def arrive() -> Arrival:
        return stages.arrive(agreement, arrived_on=TODAY, **told)

    done, refused = at_once(arrive, arrive)
    assert len(done) == 1 and "on site already" in refused[0] and Arrival.objects.count() == 1


@pytest.mark.parametrize("kind", ["release", "receipt", "arrival"])
def test_a_slip_is_taken_back_once(
    kind: str, agreement: Agreement, loan: FundingSource, told: dict[str, object]
) -> None:
    made: dict[str, Callable[[], object]] = {
        "release": lambda: retention.release(agreement, amount_quoted_minor=1, released_on=TODAY, **told),
        "receipt": lambda: funding.receive(loan, amount_minor=1, received_on=TODAY, **told),
        "arrival": lambda: stages.arrive(agreement, arrived_on=TODAY, **told),
    }
    undone = {"release": retention.take_back, "receipt": funding.take_back, "arrival": stages.take_back}
    row = made[kind]()
    done, refused = at_once(*[lambda: undone[kind](row, reason="slip", **told)] * 2)
    assert len(done) == 1 and "taken back already" in refused[0]


def test_two_plans_of_stages_get_two_numbers(agreement: Agreement, told: dict[str, object]) -> None:
    plan = [stages.StageDraft("final", "All of it", amount_quoted_minor=20_000_00)]
    done, _refused = at_once(*[lambda: stages.set_payment_stages(agreement, plan, **told)] * 2)
    assert len(done) == 2 and set(agreement.payment_stages.values_list("plan", flat=True)) == {1, 2}


def test_two_rates_of_today_leave_the_books_whole(project: Project, told: dict[str, object]) -> None:
    line = builders.line(project, budget=20_000)
    builders.let(line, 10_000, currency="EUR", rate=Decimal("0.86"))

    def set_to(rate: str) -> Callable[[], RateSet]:
        given = {"currency": "EUR", "rate": Decimal(rate), "rated_on": TODAY}
        return lambda: rates.set_today(project, **given, **told)

    done, _refused = at_once(set_to("0.87"), set_to("0.90"))
    kept = LineItem.objects.get(pk=line.pk)
    assert len(done) == 2 and ledger.unreconciled(project) == []
    assert kept.currency_minor in {100_00, 400_00} and ledger.drifted(project, [kept], on=TODAY) == []
