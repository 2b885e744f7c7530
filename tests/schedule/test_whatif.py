"""What would be otherwise: the scenario's questions to the minor unit, and what waits, can be done meanwhile and is to be told."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import network, whatif
from schedule.calc.alter import Alteration
from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, BadNetwork, Link, Network
from schedule.calc.whatif import Told
from tests.schedule import skerrywick
from tests.schedule.skerrywick import SCENARIO

#: The scenario as a page asks it: without a day to finish by, worked out once.
STANDS = replace(skerrywick.forecast(), finish_by=None)
SOLVED = network.solve_network(STANDS)
TARGET = date.fromisoformat(SCENARIO["about"]["opening_target"])
A_DAY = SCENARIO["cost_of_one_day"]["used_for_days_that_move_opening"] * 100


def asked(alteration: Alteration, **more: Any) -> whatif.Answer:
    return whatif.answer(STANDS, alteration, target=TARGET, cost_of_day_minor=A_DAY, before=SOLVED, **more)


@pytest.mark.parametrize("what_if", SCENARIO["what_ifs"], ids=lambda row: row["question"])
def test_the_scenarios_questions_are_answered_in_days_and_money(what_if: dict[str, Any]):
    """Source: the invented scenario, whose figures were worked out apart from this program."""
    found = asked(skerrywick.alteration(what_if), cost_minor=what_if["direct_cost"] * 100)
    assert (str(found.finish_after), found.days, found.late_after) == (
        what_if["opening"],
        what_if["days_against_present_forecast"],
        what_if["days_against_target"],
    )
    assert (found.days_minor, found.net_minor) == (what_if["time_cost"] * 100, what_if["net_effect"] * 100)
    assert found.late_before == SCENARIO["check_values"]["days_late"]


def test_a_missed_visit_says_how_much_float_it_uses():
    """Source: by hand from the scenario: after 2 February the inspector may come on 4 February; the work after it has room."""
    found = asked(Alteration(slips={"A29": 1}))
    assert found.tightest is not None and found.tightest.code == "A29"
    assert (found.tightest.before.early_start, found.tightest.after.early_start) == (date(2027, 2, 2), date(2027, 2, 4))
    assert found.tightest.eaten == 1
    assert [move.code for move in whatif.waits(found)][:2] == ["A29", "A30"]


# --- A plan small enough to follow by hand: Mon 1 Feb 2027 is its first day ---------------------------------------

CREW = Calendar("crew", frozenset({1, 2, 3, 4, 5}))
VISITS = Calendar("visits", frozenset({2, 4}))
MONDAY = date(2027, 2, 1)
HAND = Network(
    start=MONDAY,
    calendars={"crew": CREW, "visits": VISITS},
    default_calendar="crew",
    activities=(
        Activity("dig", 2),  # Mon 1, Tue 2
        Activity("look", 1, "visits", (Link("dig"),)),  # Thu 4
        Activity("pour", 1, after=(Link("look"),)),  # Fri 5
        Activity("cure", 7, elapsed=True, after=(Link("pour"),)),  # Sat 6 to Fri 12
        Activity("fit", 5, after=(Link("cure"),)),  # Mon 15 to Fri 19
        Activity("yard", 3, after=(Link("dig"),)),  # Wed 3 to Fri 5
        Activity("paint", 2, after=(Link("yard"),)),  # Mon 8, Tue 9
        Activity("sign", 1, after=(Link("yard"),)),  # Mon 8
    ),
)
KNOWN = {
    "dig": Told("Dig", trade="Groundwork", area="Hall"),
    "look": Told("Look", "inspection", trade="Fees", attended_by="Inspector", notice_days=2),
    "pour": Told("Pour", "pour", trade="Concrete", area="Hall", covers=True),
    "cure": Told("Cure", "cure", trade="Concrete"),
    "fit": Told("Fit", trade="Steel", area="Hall"),
    "yard": Told("Yard slab", trade="Concrete", area="Yard"),
    "paint": Told("Paint", trade="Paint", area="Hall"),
    "sign": Told("Sign", trade="Signs", area="Road"),
}


def by_hand(alteration: Alteration, **more: Any) -> whatif.Answer:
    told = {"target": date(2027, 2, 17), "cost_of_day_minor": 90_000} | more
    return whatif.answer(HAND, alteration, **told)


def test_no_change_comes_to_nothing():
    found = by_hand(Alteration())
    assert (found.days, found.days_minor, found.net_minor, found.moved, found.touched) == (0, 0, 0, (), ())
    assert (found.late_before, found.late_after) == (2, 2)
    assert (whatif.waits(found), found.eaters, found.tightest) == ((), (), None)
    assert whatif.meanwhile(found, KNOWN, today=MONDAY) == () == whatif.calls(found, KNOWN, today=MONDAY)


def test_an_inspector_away_moves_what_waits_and_costs_the_days():
    """By hand: Thu 4 and Tue 9 are closed, so the look is on Thu 11, pour Fri 12, cure to Fri 19, fit Mon 22 to Fri 26."""
    found = by_hand(Alteration(closures=(("visits", date(2027, 2, 3), date(2027, 2, 9)),)), cost_minor=12_345)
    assert (found.finish_before, found.finish_after, found.days) == (date(2027, 2, 19), date(2027, 2, 26), 7)
    assert (found.days_minor, found.net_minor, found.late_after) == (630_000, 642_345, 9)
    assert [(move.code, move.start_days) for move in whatif.waits(found)] == [
        ("look", 7),
        ("pour", 7),
        ("cure", 7),
        ("fit", 7),
    ]
    assert [move.code for move in found.touched] == ["look"]


def test_days_won_are_money_saved():
    """By hand: fitting in three days ends on Wed 17 instead of Fri 19."""
    found = by_hand(Alteration(durations={"fit": 3}), cost_minor=100_000)
    assert (found.days, found.days_minor, found.net_minor, found.late_after) == (-2, -180_000, -80_000, 0)


def test_an_answer_without_a_target_has_none_to_be_late_for():
    found = by_hand(Alteration(), target=None)
    assert (found.late_before, found.late_after) == (None, None)


def test_float_is_eaten_by_what_is_late_and_named_tightest_first():
    """By hand: the yard has 9 days to Fri 19 less its own end; painting follows. Four days more leave it 4 less."""
    found = by_hand(Alteration(durations={"yard": 7}))
    before = {move.code: (move.float_before, move.float_after) for move in found.eaters}
    assert found.days == 0
    assert before == {"yard": (8, 4), "paint": (8, 4), "sign": (9, 5)}
    assert [move.code for move in found.eaters] == ["paint", "yard", "sign"]
    assert found.tightest is not None and (found.tightest.code, found.tightest.eaten) == ("yard", 4)


def test_what_can_be_done_meanwhile_is_of_the_same_trade_or_place_and_does_not_hang_on_it():
    """The concrete crew waits for the inspector: the yard is theirs, painting is in the hall, the sign is nobody's here."""
    found = by_hand(Alteration(closures=(("visits", date(2027, 2, 3), date(2027, 2, 9)),)))
    rows = whatif.meanwhile(found, KNOWN, today=MONDAY)
    assert [(row.code, row.same_trade, row.same_area) for row in rows] == [
        ("yard", True, False),
        ("paint", False, True),
    ]


def test_nothing_that_has_begun_or_lies_far_off_is_pulled_forward():
    begun = replace(HAND, data_on=date(2027, 2, 3), activities=tuple(
        replace(one, started_on=MONDAY, finished_on=date(2027, 2, 2)) if one.id == "dig"
        else replace(one, started_on=date(2027, 2, 3)) if one.id == "yard"
        else replace(one, not_before=date(2027, 4, 1)) if one.id == "paint" else one
        for one in HAND.activities
    ))  # fmt: skip
    late = Alteration(slips={"look": 1})
    found = whatif.answer(begun, late, target=None, cost_of_day_minor=0)
    assert whatif.meanwhile(found, KNOWN, today=date(2027, 2, 3)) == ()


def test_whom_to_call_is_told_with_the_last_day_of_their_notice():
    """By hand: the look was on Thu 4; two working days before that is Tue 2. Concrete asks for no notice: the eve.

    Nobody is called for the curing, and of the look the inspector, not the trade it is paid from."""
    found = by_hand(Alteration(slips={"look": 1}))
    rows = whatif.calls(found, KNOWN, today=MONDAY)
    assert [(row.who, row.code, row.by_on, row.short) for row in rows] == [
        ("Inspector", "look", date(2027, 2, 2), False),
        ("Concrete", "pour", date(2027, 2, 4), False),
        ("Steel", "fit", date(2027, 2, 12), False),
    ]
    late = whatif.calls(found, KNOWN, today=date(2027, 2, 3))[0]
    assert (late.by_on, late.short) == (date(2027, 2, 3), True)


def test_nobody_is_called_about_what_is_more_than_three_weeks_off():
    found = by_hand(Alteration(slips={"look": 1}))
    assert {row.code for row in whatif.calls(found, KNOWN, today=date(2027, 1, 14))} == {"look"}
    assert whatif.calls(found, KNOWN, today=date(2027, 1, 13)) == ()


def test_work_that_is_put_in_and_left_out_is_named():
    found = by_hand(Alteration(add=(Activity("dry", 3, "crew", (Link("cure"),)),), remove=("sign",)))
    assert (found.added, found.removed) == (("dry",), ("sign",))


def test_split_work_is_told_from_the_start_of_its_first_part_to_the_end_of_its_second():
    """By hand: one day on Mon 15, then three days between and four days: Fri 19, Mon 22 to Wed 24."""
    found = by_hand(Alteration(splits={"fit": (1, 3, 4)}))
    (move,) = found.touched
    assert (move.after.early_start, move.after.early_finish) == (date(2027, 2, 15), date(2027, 2, 24))
    assert (move.start_days, move.finish_days, found.days, found.added) == (0, 5, 5, ())
    assert whatif.waits(found) == ()


def test_what_is_not_there_is_refused_by_name():
    with pytest.raises(BadNetwork, match='"roof" is none of the activities'):
        by_hand(Alteration(durations={"roof": 3}))


# --- Whatever is asked --------------------------------------------------------------------------------------------

IDS = [one.id for one in HAND.activities]
SPANS = st.tuples(st.sampled_from(["crew", "visits"]), st.dates(MONDAY, date(2027, 3, 9)), st.integers(0, 15))
CLOSURES = st.lists(SPANS, min_size=1, max_size=3).map(
    lambda rows: tuple((name, first, first + timedelta(days=days)) for name, first, days in rows)
)


@settings(max_examples=80, deadline=None)
@given(CLOSURES)
def test_a_closure_never_brings_the_finish_forward(closures: tuple[tuple[str, date, date], ...]):
    """Of networks in which work follows on a finish or a start; where a finish is held, work may have to begin earlier."""
    found = by_hand(Alteration(closures=closures))
    assert found.days >= 0
    assert all(move.start_days >= 0 and move.finish_days >= 0 for move in found.moved)


@settings(max_examples=80, deadline=None)
@given(
    st.dictionaries(st.sampled_from(IDS), st.integers(1, 20), max_size=3),
    st.integers(0, 10**7),
    st.integers(-(10**7), 10**7),
)
def test_money_is_days_times_the_cost_of_one_and_the_direct_cost(durations: dict[str, int], day: int, direct: int):
    """The move of the finish is held against one that is walked from day to day."""
    found = by_hand(Alteration(durations=durations), cost_of_day_minor=day, cost_minor=direct)
    days = walked({one.id: durations.get(one.id, one.duration) for one in HAND.activities}) - walked({})
    assert (found.days, found.net_minor) == (days.days, days.days * day + direct)


def walked(lengths: dict[str, int]) -> date:
    """The finish by walking from day to day: independent of the engine; finish to start only."""
    ends: dict[str, date] = {}
    for one in HAND.activities:
        worked = range(7) if one.elapsed else (1, 3) if one.calendar == "visits" else range(5)
        on = max([ends[link.before] for link in one.after], default=MONDAY - timedelta(days=1))
        left = lengths.get(one.id, one.duration)
        while left:
            on += timedelta(days=1)
            left -= on.weekday() in worked
        ends[one.id] = on
    return max(ends.values()) if lengths else walked({one.id: one.duration for one in HAND.activities})
