"""Putting alterations on a network. Source: our rules, ADR 0402."""

from datetime import date

import pytest

from schedule.calc import alter
from schedule.calc import network as engine
from schedule.calc.alter import Alteration
from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, BadNetwork, Link, Network

MONDAY = date(2026, 1, 5)
CREW = Calendar("crew", frozenset({1, 2, 3, 4, 5}))
CRANE = Calendar("crane", frozenset({6}))
FORM = Activity("form", 3)
POUR = Activity("pour", 1, after=(Link("form"),))
STRIP = Activity("strip", 2, after=(Link("pour", "FS", 2, True),))
LIFT = Activity("lift", 1, "crane", (Link("strip"),))
NETWORK = Network(MONDAY, {"crew": CREW, "crane": CRANE}, "crew", (FORM, POUR, STRIP, LIFT))


def altered(**changes) -> Network:
    return alter.apply(NETWORK, Alteration(**changes))


def one(network: Network, id_: str) -> Activity:
    return next(activity for activity in network.activities if activity.id == id_)


def start(network: Network, id_: str) -> str:
    return str(engine.solve_network(network).of(id_).early_start)


def test_an_alteration_of_nothing_changes_nothing():
    assert altered() == NETWORK


def test_what_is_altered_leaves_the_network_as_it_was():
    altered(durations={"form": 9}, closures=(("crew", MONDAY, MONDAY),), remove=("strip",))
    assert NETWORK.activities == (FORM, POUR, STRIP, LIFT)
    assert NETWORK.calendars["crew"] == CREW


def test_durations_and_dates_are_set():
    network = altered(durations={"form": 5}, not_before={"strip": date(2026, 2, 2)})
    assert (start(network, "pour"), start(network, "strip")) == ("2026-01-12", "2026-02-02")


def test_what_waited_on_work_taken_out_waits_on_what_that_waited_on():
    """The lag of the link that left it is kept: strip still waits two days, now after the form."""
    network = altered(remove=("pour",))
    assert one(network, "strip").after == (Link("form", "FS", 2, True),)
    assert start(network, "strip") == "2026-01-12"  # worked 5 to 7, two days, then the weekend


def test_a_chain_taken_out_is_bridged_in_either_order():
    found = {tuple(one(altered(remove=gone), "lift").after) for gone in (("pour", "strip"), ("strip", "pour"))}
    assert found == {(Link("form"),)}


@pytest.mark.parametrize(
    ("came", "left", "bridged"),
    [("FS", "FS", "FS"), ("SS", "FS", "SS"), ("FS", "SS", "FS"), ("FS", "FF", "FF"), ("SF", "FF", "SF"), ("FF", "SS", "FS")],
)  # fmt: skip
def test_a_bridge_goes_from_where_one_link_left_to_where_the_other_held(came, left, bridged):
    middle, last = Activity("b", 1, after=(Link("a", came, 5),)), Activity("c", 1, after=(Link("b", left, 2),))
    network = alter.apply(Network(MONDAY, activities=(FORM, Activity("a", 1), middle, last)), Alteration(remove=("b",)))
    assert one(network, "c").after == (Link("a", bridged, 2),)


def test_an_activity_is_put_in_and_linked():
    proof = Activity("proof", 2, after=(Link("pour"),))
    network = altered(add=(proof,), links=(("strip", Link("proof")),))
    assert start(network, "proof") == "2026-01-09"
    assert start(network, "strip") == "2026-01-13"


def test_a_link_for_a_pair_that_is_linked_takes_the_place_of_what_was_there():
    network = altered(links=(("strip", Link("pour", "SS", 1)), ("strip", Link("pour", "FF", 4))))
    assert one(network, "strip").after == (Link("pour", "SS", 1), Link("pour", "FF", 4))


def test_a_slip_starts_work_that_many_of_its_own_days_later():
    """The crane comes on Saturdays: two missed are two weeks."""
    assert start(NETWORK, "lift") == "2026-01-17"
    assert start(altered(slips={"lift": 2}), "lift") == "2026-01-31"
    assert start(alter.apply(altered(slips={"lift": 1}), Alteration(slips={"lift": 1})), "lift") == "2026-01-31"


def test_a_slip_comes_after_what_moves_work_anyway():
    assert start(altered(slips={"lift": 1}, durations={"form": 8}), "lift") == "2026-01-31"


def test_calendars_are_closed_and_opened():
    closed = (("crane", date(2026, 1, 17), date(2026, 1, 24)),)
    assert start(altered(closures=closed), "lift") == "2026-01-31"
    assert start(altered(working=(("crane", 4),)), "lift") == "2026-01-15"
    assert start(altered(working=(("crane", date(2026, 1, 16)),)), "lift") == "2026-01-16"


def test_split_work_keeps_what_starts_and_what_ends_with_it():
    """Form in 1 day, then 2 days between, then 2 days: what starts with it starts with the first part."""
    beside = Activity("beside", 1, after=(Link("form", "SS"),))
    network = alter.apply(
        Network(MONDAY, {"crew": CREW}, "crew", (FORM, POUR, beside)), Alteration(splits={"form": (1, 2, 2)})
    )
    assert start(network, "beside") == "2026-01-05"
    assert start(network, alter.first_part("form")) == "2026-01-05"
    assert (start(network, "form"), start(network, "pour")) == ("2026-01-08", "2026-01-12")


def test_split_work_in_the_middle_still_waits():
    network = altered(splits={"strip": (1, 1, 1)})
    assert (start(network, alter.first_part("strip")), start(network, "strip")) == ("2026-01-12", "2026-01-14")


@pytest.mark.parametrize(
    ("changes", "said", "place"),
    [
        ({"durations": {"roof": 1}}, '"roof" is none of the activities', "durations"),
        ({"not_before": {"roof": MONDAY}}, '"roof" is none of the activities', "not_before"),
        ({"slips": {"roof": 1}}, '"roof" is none of the activities', "slips"),
        ({"splits": {"roof": (1, 1, 1)}}, '"roof" is none of the activities', "splits"),
        ({"remove": ("roof",)}, '"roof" is none of the activities', "remove"),
        ({"remove": ("pour", "pour")}, '"pour" is none of the activities', "remove"),
        ({"links": (("roof", Link("pour")),)}, '"roof" is none of the activities', "links"),
        ({"links": (("pour", Link("roof")),)}, '"roof" is none of the activities', "links"),
        ({"add": (POUR,)}, '"pour" is there already; give the new one another id', "add"),
        ({"closures": (("sun", MONDAY, MONDAY),)}, 'no calendar is called "sun"', "closures"),
        ({"working": (("sun", 4),)}, 'no calendar is called "sun"', "working"),
    ],
)
def test_what_is_not_there_is_refused_by_name(changes, said, place):
    with pytest.raises(BadNetwork) as fault:
        altered(**changes)
    assert (fault.value.mend, fault.value.path) == (said, (place,))


def test_work_that_has_begun_is_not_split():
    begun = Activity("form", 3, started_on=MONDAY)
    with pytest.raises(BadNetwork, match="has begun and cannot be split"):
        alter.apply(Network(MONDAY, activities=(begun,)), Alteration(splits={"form": (1, 1, 1)}))
