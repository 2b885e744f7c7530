"""The whole invented scenario: 89 activities on seven calendars, its dates, floats and questions.

Source: the scenario's own figures, worked out apart from this program.
"""

import pytest

from schedule.calc import alter
from schedule.calc import network as networks
from tests.schedule import skerrywick
from tests.schedule.skerrywick import ROWS, SCENARIO

SEEN = {"plan": networks.solve_network(skerrywick.plan()), "now": networks.solve_network(skerrywick.forecast())}


def told(solution: networks.Solution, id_: str) -> tuple[str, str, str, int]:
    found = solution.of(id_)
    latest = skerrywick.latest_finish(solution, id_)
    return str(found.early_start), str(found.early_finish), str(latest), found.total_float


@pytest.mark.parametrize("when", SEEN)
@pytest.mark.parametrize("id_", ROWS)
def test_dates_and_floats_of_an_activity(when: str, id_: str):
    row = ROWS[id_][when]
    expected = (row["start"], row["finish"], row["latest_finish"], row["float_working_days"])
    assert told(SEEN[when], id_) == expected


def test_the_opening_in_both():
    checks = SCENARIO["check_values"]
    assert (str(SEEN["plan"].finish), str(SEEN["now"].finish)) == (
        checks["planned_opening"],
        checks["forecast_opening"],
    )


@pytest.mark.parametrize("what_if", SCENARIO["what_ifs"], ids=lambda row: row["question"])
def test_what_if(what_if):
    changed = alter.apply(skerrywick.forecast(), skerrywick.alteration(what_if))
    finish = networks.solve_network(changed).finish
    assert str(finish) == what_if["opening"]
    assert (finish - SEEN["now"].finish).days == what_if["days_against_present_forecast"]
    assert (finish - changed.finish_by).days == what_if["days_against_target"]
