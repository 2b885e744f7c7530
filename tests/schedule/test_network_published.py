"""Published critical path examples, and the errors that are printed in some of them. Each names its source in the file."""

from datetime import date, timedelta

import pytest

from schedule.calc import network as engine
from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, Link, Network
from tests.reference_values import reference

MONDAY = date(2026, 1, 5)
ON_NODES = ["cpm-01", "cpm-05", "cpm-07", "cpm-08", "cpm-10", "cpm-14", "cpm-15"]


def on_nodes(inputs) -> Network:
    links = inputs["links"]
    return Network(
        MONDAY,
        activities=tuple(
            Activity(id_, days, after=tuple(Link(k["from"], k["type"], k["lag"]) for k in links if k["to"] == id_))
            for id_, days in inputs["activities"].items()
        ),
    )


def on_arrows(arcs) -> Network:
    """An arrow waits on all that end where it begins."""
    return Network(
        MONDAY,
        activities=tuple(
            Activity(id_, arc["duration"], after=tuple(Link(k) for k, other in arcs.items() if other["j"] == arc["i"]))
            for id_, arc in arcs.items()
        ),
    )


def row(solution: engine.Solution, id_: str) -> list[int]:
    numbers, outcome = solution.numbers[id_], solution.of(id_)
    return [numbers.es, numbers.ef, numbers.ls, numbers.lf, outcome.total_float, outcome.free_float]


def agrees(solution: engine.Solution, expected) -> None:
    assert list(solution.critical) == expected["critical"]
    assert (solution.finish - MONDAY).days + 1 == expected["duration"]
    for id_, figures in expected.get("rows", {}).items():
        assert row(solution, id_)[: len(figures)] == figures


@pytest.mark.parametrize("id_", ON_NODES)
def test_published_network(id_: str):
    item = reference("cpm", id_)
    agrees(engine.solve_network(on_nodes(item["inputs"])), item["expected"])


def test_published_arrow_network_with_its_slack():
    item = reference("cpm", "cpm-03")
    agrees(engine.solve_network(on_arrows(item["inputs"]["arcs"])), item["expected"])


def test_published_arrow_network_with_three_floats():
    """Independent float = max(0, earliest start of what waits - latest finish of what was waited on - duration)."""
    item = reference("cpm", "cpm-12")
    arcs, expected = item["inputs"]["arcs"], item["expected"]
    solution = engine.solve_network(on_arrows(arcs))
    agrees(solution, expected)
    for id_, arc in arcs.items():
        outcome, numbers = solution.of(id_), solution.numbers
        after = [numbers[k].es for k, other in arcs.items() if other["i"] == arc["j"]]
        before = [numbers[k].lf for k, other in arcs.items() if other["j"] == arc["i"]]
        own = max(0, min(after, default=expected["duration"]) - max(before, default=0) - arc["duration"])
        assert outcome.total_float == expected["total_float"][id_]
        assert outcome.free_float == expected["free_float"][id_]
        assert own == expected["independent_float"][id_]


def test_an_activity_is_not_worked_back_from_the_end_when_another_waits_on_it():
    """A circulated worksheet of this network does that with G, which comes before I: it prints a latest finish of 30."""
    solution = engine.solve_network(on_nodes(reference("cpm", "cpm-01")["inputs"]))
    assert (solution.numbers["G"].lf, solution.of("G").total_float) == (24, 1)


def test_a_ladder_is_held_by_its_start_link_too():
    """A published page gives A the late dates 2 and 7, from its finish link alone."""
    solution = engine.solve_network(on_nodes(reference("cpm", "cpm-08")["inputs"]))
    assert (solution.numbers["A"].ls, solution.numbers["A"].lf) == (0, 5)


def test_what_drives_a_start_is_told():
    solution = engine.solve_network(on_nodes(reference("cpm", "cpm-15")["inputs"]))
    assert solution.drives("set_tank") == ("pour",)  # the cure, not the levelling
    assert solution.drives("fill_test") == ("elec",)  # its finish, not the setting
    assert solution.drives("survey") == ()


def test_a_cure_in_calendar_days_between_works_in_working_days():
    item = reference("cpm", "cpm-cal-01")
    given, expected = item["inputs"], item["expected"]
    holidays = tuple((date.fromisoformat(day),) * 2 for day in given["holidays"])
    crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}), closed=holidays)
    activities = (
        Activity("form", given["form_wd"]),
        Activity("pour", given["pour_wd"], after=(Link("form"),)),
        Activity("cure", given["cure_calendar_days"] - 1, elapsed=True, after=(Link("pour"),)),
        Activity("set tank", given["set_tank_wd"], after=(Link("cure"),)),
    )
    found = engine.solve_network(Network(date.fromisoformat(given["start"]), {"crew": crew}, "crew", activities))
    assert str(found.of("form").early_finish) == expected["form_finish"]
    assert str(found.of("pour").early_finish) == expected["pour"]
    assert str(found.of("set tank").early_start) == expected["earliest_load"]
    assert str(found.of("set tank").early_finish) == expected["set_tank_finish"]


@pytest.mark.parametrize(("elapsed", "key"), [(True, "calendar_lag"), (False, "working_day_lag")])
def test_a_cure_as_a_lag(elapsed: bool, key: str):
    """The trap: counted on the crew's calendar the cure takes four idle days more. The lag counts from the pour day."""
    item = reference("calendar", "cal-03")
    pour = date.fromisoformat(item["inputs"]["pour"])
    crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}))
    lag = item["inputs"]["lag"] - 1  # a lag of none starts the day after
    activities = (Activity("pour", 1), Activity("load", 1, after=(Link("pour", "FS", lag, elapsed),)))
    found = engine.solve_network(Network(pour, {"crew": crew}, "crew", activities))
    assert str(found.of("load").early_start) == item["expected"][key]


@pytest.mark.parametrize(("holidays", "key"), [(True, "finish"), (False, "finish_without_holiday")])
def test_ten_days_across_a_holiday(holidays: bool, key: str):
    item = reference("calendar", "cal-02")
    given = item["inputs"]
    closed = tuple((date.fromisoformat(day),) * 2 for day in given["holidays"]) if holidays else ()
    crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}), closed=closed)
    activities = (Activity("work", given["duration"]), Activity("next", 1, after=(Link("work"),)))
    found = engine.solve_network(Network(date.fromisoformat(given["start"]), {"crew": crew}, "crew", activities))
    assert str(found.of("work").early_finish) == item["expected"][key]
    if holidays:
        assert str(found.of("next").early_start) == item["expected"]["next_start"]


def test_free_float_with_a_lag_is_told_by_the_navys_rule():
    """Free float = earliest start of what waits - lag - earliest finish. Source: as cpm-07 in the file."""
    solution = engine.solve_network(on_nodes(reference("cpm", "cpm-07")["inputs"]))
    waits = solution.of("1080").early_start - timedelta(days=3)
    assert (waits - solution.of("1070").early_finish).days - 1 == solution.of("1070").free_float == 0
