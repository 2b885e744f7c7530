"""What always holds of a critical path, and a graph library as an independent oracle. Source: our rules, ADR 0402."""

from dataclasses import replace
from datetime import date, timedelta

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench.networks import as_graph, made, plain_pass
from schedule.calc import alter, compiling
from schedule.calc import network as engine
from schedule.calc.alter import Alteration
from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, BadNetwork, CircleOfWork, Link, Network
from tests.schedule.networks import CALENDARS, START, networks, plain_networks


def longest_path(network: Network) -> int:
    """The longest way through, where the days of an activity lie on the edges that leave it."""
    graph = nx.DiGraph()
    graph.add_nodes_from(activity.id for activity in network.activities)
    days = {activity.id: activity.duration for activity in network.activities}
    for activity in network.activities:
        graph.add_edge(activity.id, "end", weight=days[activity.id])
        graph.add_edges_from((link.before, activity.id, {"weight": days[link.before]}) for link in activity.after)
    return nx.dag_longest_path_length(graph)


@given(plain_networks())
def test_the_finish_is_the_longest_path(network: Network):
    found = engine.solve_network(network)
    assert max(numbers.ef for numbers in found.numbers.values()) == longest_path(network)


@given(plain_networks())
def test_plain_networks_agree_with_a_pass_over_a_graph(network: Network):
    found, graph = engine.solve_network(network), as_graph(network)
    plain_pass(graph)
    for id_, numbers in found.numbers.items():
        theirs = graph.nodes[id_]
        assert (numbers.es, numbers.ef, numbers.ls, numbers.lf) == tuple(
            theirs[key] for key in ("es", "ef", "ls", "lf")
        )
        assert found.of(id_).total_float == theirs["float"]


@given(plain_networks(), st.sampled_from(["", *CALENDARS]), st.data())
def test_less_work_never_finishes_later_where_links_go_from_finish_to_start(network: Network, name: str, data):
    network = replace(network, calendars=CALENDARS, default_calendar=name)
    chosen = data.draw(st.sampled_from(network.activities))
    days = data.draw(st.integers(0, chosen.duration))
    shorter = alter.apply(network, Alteration(durations={chosen.id: days}))
    assert engine.solve_network(shorter).finish <= engine.solve_network(network).finish


@settings(max_examples=60)
@given(networks(), st.sampled_from(list(CALENDARS)), st.integers(0, 40), st.integers(0, 10))
def test_a_closure_never_brings_the_finish_forward(network: Network, name: str, day: int, days: int):
    first = START + timedelta(days=day)
    closed = alter.apply(network, Alteration(closures=((name, first, first + timedelta(days=days)),)))
    before, after = engine.solve_network(network), engine.solve_network(closed)
    assert after._end >= before._end  # the day after the last one worked; a milestone may be told by the day before


@settings(max_examples=60)
@given(networks(progressed=True), st.randoms())
def test_the_order_in_which_activities_are_given_changes_nothing(network: Network, rolled):
    mixed = list(network.activities)
    rolled.shuffle(mixed)
    other = engine.solve_network(replace(network, activities=tuple(mixed)))
    found = engine.solve_network(network)
    assert all(other.of(activity.id) == found.of(activity.id) for activity in network.activities)
    assert set(other.critical) == set(found.critical)


@settings(max_examples=60)
@given(networks())
def test_something_cannot_slip(network: Network):
    assert engine.solve_network(network).critical


@given(plain_networks(), st.sampled_from(["", *CALENDARS]))
def test_a_path_without_float_leads_from_the_start_to_the_finish(network: Network, name: str):
    found = engine.solve_network(replace(network, calendars=CALENDARS, default_calendar=name))
    id_ = next(id_ for id_ in found.critical if found.of(id_).early_finish == found.finish)
    while drives := found.drives(id_):
        assert set(drives) <= set(found.critical)
        id_ = drives[0]
    assert found.numbers[id_].es == 0


@given(networks(progressed=True))
def test_floats_are_in_order(network: Network):
    for outcome in engine.solve_network(network).activities.values():
        assert 0 <= outcome.free_float <= outcome.total_float == outcome.float_to_finish
        assert outcome.early_start <= outcome.late_start and outcome.early_finish <= outcome.late_finish


@settings(max_examples=60)
@given(networks(progressed=True))
def test_tables_that_begin_earlier_or_grow_change_nothing(network: Network):
    found = engine.solve_network(network)
    wide = compiling.compile_network(network, room=3000)
    for table in {id(table): table for table in wide.tables}.values():
        table.grow(5)
    assert engine.solve(wide).activities == found.activities


def test_a_compiled_network_gives_the_same_each_time():
    compiled = engine.compile(made(200))
    assert engine.solve(compiled).activities == engine.solve(compiled).activities


def test_links_that_outrun_the_start_do_not_lead_before_it():
    """A lead longer than everything before it must not be read from the far end of a table."""
    waiting = tuple(Activity(f"{kind}{elapsed}", 2, after=(Link("a", kind, -90_000, elapsed),))
                    for kind in ("FS", "SS", "FF", "SF") for elapsed in (False,))  # fmt: skip
    milestone = Activity("m", 0, after=(Link("a", "FS", -90_000),))
    found = engine.solve_network(Network(START, activities=(Activity("a", 3), *waiting, milestone)))
    assert {found.of(activity.id).early_start for activity in (*waiting, milestone)} == {START}


def test_a_lead_of_centuries_is_refused_and_not_guessed():
    with pytest.raises(BadNetwork, match="calendars are laid out from 1800 only"):
        engine.solve_network(
            Network(START, activities=(Activity("a", 3), Activity("b", 1, after=(Link("a", "FS", -90_000, True),))))
        )


def test_a_finish_asked_for_long_before_it_can_be_is_told_in_floats_below_zero():
    week = Calendar("week", frozenset({6}))
    chain = [Activity("0", 5)] + [Activity(str(n), 5, after=(Link(str(n - 1)),)) for n in range(1, 100)]
    found = engine.solve_network(Network(START, {"week": week}, "week", tuple(chain), finish_by=START))
    assert found.of("0").total_float == found.of("99").total_float == -500
    assert found.of("0").float_to_finish == 0
    # the last Saturday before the start is 28 November; 500 Saturdays end with it
    assert found.of("0").late_start == date(2026, 11, 28) - timedelta(weeks=499)


def test_a_finish_asked_for_before_all_calendars_is_refused():
    week = Calendar("week", frozenset({6}))
    chain = [Activity("0", 5)] + [Activity(str(n), 50, after=(Link(str(n - 1)),)) for n in range(1, 400)]
    with pytest.raises(BadNetwork) as fault:
        engine.solve_network(Network(START, {"week": week}, "week", tuple(chain), finish_by=START))
    assert fault.value.path in (("finish_by",), ("calendars",))


@pytest.mark.parametrize("years", [0, 1, 5, 90])
def test_a_finish_asked_for_years_before_the_start_is_counted_back_to(years: int):
    by = START.replace(year=START.year - years) - timedelta(days=1)
    found = engine.solve_network(Network(START, activities=(Activity("a", 3),), finish_by=by)).of("a")
    assert (found.late_finish, found.late_start) == (by, by - timedelta(days=2))
    assert found.total_float == (by - START).days - 2


def test_a_circle_is_refused_with_its_members():
    circle = (Activity("a", 1, after=(Link("b"),)), Activity("b", 1, after=(Link("a"),)))
    with pytest.raises(CircleOfWork) as fault:
        engine.compile(Network(START, activities=circle))
    assert fault.value.members in (("a", "b", "a"), ("b", "a", "b"))
    assert "a → b" in str(fault.value)


def test_work_on_a_day_off_keeps_its_real_dates():
    crew = Calendar("crew", frozenset({1, 2, 3, 4, 5}))
    saturday = date(2026, 12, 5)
    done = Activity("done", 3, started_on=saturday, finished_on=saturday)
    ahead = Activity("ahead", 1, after=(Link("done"),))
    found = engine.solve_network(Network(START, {"crew": crew}, "crew", (done, ahead), data_on=saturday))
    assert (found.of("done").early_start, found.of("done").early_finish) == (saturday, saturday)
    assert found.of("ahead").early_start == date(2026, 12, 7)


def test_a_link_that_events_have_overtaken_holds_nothing():
    before = Activity("before", 9)
    begun = Activity("begun", 1, after=(Link("before"),), started_on=START, finished_on=START)
    found = engine.solve_network(Network(START, activities=(before, begun), data_on=START))
    assert (found.of("begun").early_finish, found.of("before").total_float) == (START, 0)
    assert found.of("begun").total_float == 8
