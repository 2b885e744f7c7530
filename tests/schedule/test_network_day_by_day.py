"""The engine against a walk from day to day, on small networks with everything in them. Source: our rules, ADR 0402."""

from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import network as engine
from schedule.calc.network import Network
from tests.schedule.day_by_day import DayByDay
from tests.schedule.networks import networks


def agree(network: Network) -> None:
    found, walked = engine.solve_network(network), DayByDay(network)
    for activity in network.activities:
        outcome = found.of(activity.id)
        assert (outcome.early_start, outcome.early_finish) == walked.early_dates(activity.id)
        assert outcome.float_to_finish == walked.total_float(activity.id)
        assert outcome.free_float == walked.free_float(activity.id)
        latest = walked.latest_by(activity.id, walked.end)
        assert (outcome.own_late_start, outcome.own_late_finish) == walked.late_dates(activity.id, latest)
        assert (outcome.late_start, outcome.late_finish) == (outcome.own_late_start, outcome.own_late_finish)


@settings(max_examples=120, deadline=None)
@given(networks())
def test_early_and_late_dates_and_floats(network: Network):
    agree(network)


@settings(max_examples=120, deadline=None)
@given(networks(progressed=True))
def test_with_progress(network: Network):
    agree(network)


@settings(max_examples=80, deadline=None)
@given(networks(), st.integers(-40, 40))
def test_late_dates_to_a_day_to_finish_by(network: Network, days: int):
    network = replace(network, finish_by=network.start + timedelta(days=days))
    found, walked = engine.solve_network(network), DayByDay(network)
    for activity in network.activities:
        outcome, latest = found.of(activity.id), walked.latest_by(activity.id, network.finish_by.toordinal() + 1)
        assert (outcome.late_start, outcome.late_finish) == walked.late_dates(activity.id, latest)
        assert outcome.total_float == walked.float_until(activity.id, latest)
        assert outcome.float_to_finish == walked.total_float(activity.id)
