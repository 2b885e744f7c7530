"""Money by month follows the dates of the work that it pays for (ADR 0407); worked by hand where a figure stands."""

from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from budget import wording_cash
from budget.models import LineItem
from budget.selectors import cash
from decisions.services import plan
from projects.models import Project, User
from schedule.models import Activity
from schedule.services import progress
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db
OPENING = date(2027, 5, 21)


@pytest.fixture
def hall(project: Project) -> Project:
    project.opens_on = OPENING
    project.starts_on = TODAY
    project.save(update_fields=["opens_on", "starts_on"])
    return project


def tie(activity: Activity, *lines: LineItem) -> None:
    plan.tie_lines(activity, lines, by=builders.lead_of(activity.project), now=NOW)


def by_month(project: Project) -> dict[int, int]:
    months = cash.outlook(project, today=TODAY).months
    return {month.first.month: month.total_minor for month in months if month.total_minor}


def test_the_rest_of_a_line_goes_with_its_work(hall: Project):
    """Every day is worked: 10 days from 25 February are 4 in February and 6 in March."""
    builders.calendar(hall, "All days", "1234567")
    line = builders.line(hall, budget=10_000)
    tie(builders.activity(hall, "A1", 10, not_before_on=date(2027, 2, 25)), line)
    assert by_month(hall) == {2: 4_000_00, 3: 6_000_00}


def test_a_line_without_work_is_spread_to_the_opening(hall: Project):
    """10,000 on dated work in March; 11,300 without over the 113 days to 21 May."""
    builders.calendar(hall, "All days", "1234567")
    dated, bare = builders.line(hall, budget=10_000), builders.line(hall, "L0102", budget=11_300)
    tie(builders.activity(hall, "A1", 10, not_before_on=date(2027, 3, 1)), dated)
    assert by_month(hall) == {1: 300_00, 2: 2_800_00, 3: 3_100_00 + 10_000_00, 4: 3_000_00, 5: 2_100_00}
    seen = cash.outlook(hall, today=TODAY)
    assert (seen.rest, seen.rest_dated, seen.dated_lines) == (21_300_00, 10_000_00, 1)
    assert "£11,300 is on lines that no activity pays for" in wording_cash.spread(seen, hall)
    assert bare.pk != dated.pk


def test_money_moves_when_the_work_moves(hall: Project):
    line = builders.line(hall, budget=10_000)
    row = builders.activity(hall, "A1", 5, not_before_on=date(2027, 3, 1))
    tie(row, line)
    assert by_month(hall) == {3: 10_000_00}
    from schedule.services import activities

    later = activities.draft_of(row)
    draft = type(later)(
        **{name: getattr(later, name) for name in later.__slots__} | {"not_before_on": date(2027, 4, 5)}
    )
    activities.change(row, draft, by=builders.lead_of(hall), now=NOW, today=TODAY)
    assert by_month(hall) == {4: 10_000_00}


def test_done_work_is_billed_within_the_usual_term(hall: Project):
    """31 days from 29 January: 3 in January and 28 in February."""
    line = builders.line(hall, budget=3_100)
    row = builders.activity(hall, "A1", 1)
    tie(row, line)
    progress.report(row, started_on=TODAY, finished_on=TODAY, by=builders.lead_of(hall), now=NOW, today=TODAY)
    assert by_month(hall) == {1: 300_00, 2: 2_800_00}


def test_all_of_the_rest_may_have_dates(hall: Project):
    tie(builders.activity(hall, "A1", 5), builders.line(hall, budget=10_000))
    told = wording_cash.spread(cash.outlook(hall, today=TODAY), hall)
    assert told == "£10,000 is not billed yet and has no day; it is spread over the dates of its work in the plan."


@given(
    works=st.lists(st.tuples(st.integers(0, 2), st.integers(1, 60), st.integers(0, 200)), min_size=1, max_size=4),
    billed=st.integers(0, 9_000),
)
@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_the_months_add_up_to_the_cost_to_complete(
    works: list[tuple[int, int, int]], billed: int, lead: User, request: pytest.FixtureRequest
):
    hall = builders.project(lead, name=f"Hall {billed}", opens_on=OPENING, starts_on=TODAY)
    lines = [builders.line(hall, f"L{place}", budget=10_000 + place) for place in range(3)]
    builders.let(lines[0], 9_999, retention=5)
    if billed:
        builders.approved(lines[0], billed, retention=billed // 20)
    for place, (line, days, later) in enumerate(works):
        row = builders.activity(hall, f"A{place}", days, not_before_on=TODAY + timedelta(days=later))
        tie(row, lines[line])
    seen = cash.outlook(hall, today=TODAY)
    assert sum(month.total_minor for month in seen.months) == seen.funds.to_complete
    assert seen.dated_lines <= len({line for line, _days, _later in works})
