"""The sentence that answers, the picture of what moves and the message to send, held against hand-worked answers."""

from dataclasses import dataclass, replace
from datetime import date
from types import SimpleNamespace
from typing import Any

import pytest

from schedule import charts_whatif
from schedule import wording_whatif as wording
from schedule.calc.alter import Alteration
from schedule.calc.network import Activity, Link
from schedule.calc.steps import Step
from schedule.selectors.network import Read
from schedule.selectors.questions import Booked, Ground, asked
from tests.schedule.test_whatif import HAND, KNOWN, MONDAY

PROJECT: Any = SimpleNamespace(name="Hall", currency="GBP", locale="en-GB")
NAMES = {code: told.name for code, told in KNOWN.items()}


@dataclass(frozen=True)
class Case:
    """What is changed in the plan of `test_whatif`, and what that is in words."""

    alteration: Alteration
    cost: int
    words: str


LATE, EARLY = Alteration(durations={"fit": 6}), Alteration(durations={"fit": 4})
CASES = [
    Case(Alteration(), 0, "The opening stays on Fri 19 Feb 2027; nothing else moves."),
    Case(Alteration(), 5_00, "The opening stays on Fri 19 Feb 2027; nothing else moves; it costs £5."),
    Case(Alteration(), -5_00, "The opening stays on Fri 19 Feb 2027; nothing else moves; it saves £5."),
    Case(Alteration(durations={"yard": 7}), 0,
         "The opening stays on Fri 19 Feb 2027; 4 of 8 working days of float of yard Yard slab are used."),
    Case(Alteration(durations={"yard": 4}), 0,
         "The opening stays on Fri 19 Feb 2027; 1 of 8 working days of float of yard Yard slab is used."),
    Case(LATE, 0, "The opening moves 3 days to Mon 22 Feb 2027: £2,700 for the days."),
    Case(LATE, 5_00, "The opening moves 3 days to Mon 22 Feb 2027: £2,700 for the days and £5 besides, £2,705 in all."),
    Case(LATE, -5_00, "The opening moves 3 days to Mon 22 Feb 2027: £2,700 for the days, less £5 saved besides; £2,695 more in all."),
    Case(LATE, -3_000_00,
         "The opening moves 3 days to Mon 22 Feb 2027: £2,700 for the days, less £3,000 saved besides; £300 less in all."),
    Case(EARLY, 0, "The opening comes 1 day forward to Thu 18 Feb 2027: £900 saved on the days."),
    Case(EARLY, 1_000_00,
         "The opening comes 1 day forward to Thu 18 Feb 2027: £900 saved on the days, and it costs £1,000; £100 more in all."),
    Case(EARLY, 100_00,
         "The opening comes 1 day forward to Thu 18 Feb 2027: £900 saved on the days, and it costs £100; £800 less in all."),
    Case(EARLY, -100_00,
         "The opening comes 1 day forward to Thu 18 Feb 2027: £900 saved on the days and £100 besides, £1,000 in all."),
]  # fmt: skip


def ground(target: date | None = date(2027, 2, 17), cost_of_day: int = 900_00) -> Ground:
    return Ground(
        read=Read(HAND, dict.fromkeys(NAMES, 1), NAMES),
        told=KNOWN,
        open=tuple(NAMES),
        carried=frozenset(),
        deliveries={},
        holds=(Booked(1, "H1", "Before the pour", "look", date(2027, 2, 4)),),
        target=target,
        cost_of_day_minor=cost_of_day,
        today=MONDAY,
    )


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.words[:60])
def test_one_sentence_says_what_it_comes_to(case: Case):
    found = asked(ground(), case.alteration, cost_minor=case.cost)
    assert wording.sentence(found.answer, ground(), PROJECT) == case.words


def test_without_a_target_it_is_the_finish_and_without_a_cost_the_days_are_not_priced():
    plain = ground(None, 0)
    found = asked(plain, LATE, cost_minor=5_00)
    assert wording.sentence(found.answer, plain, PROJECT) == "The finish moves 3 days to Mon 22 Feb 2027; it costs £5."
    assert wording.target(found.answer) == ""


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (4, "Against the target: 2 days late as things stand, 1 day late with this."),
        (3, "Against the target: 2 days late as things stand, on the day with this."),
        (2, "Against the target: 2 days late as things stand, 1 day early with this."),
        (5, "Against the target nothing changes: 2 days late."),
    ],
)
def test_it_is_held_against_the_target_apart(days: int, words: str):
    assert wording.target(asked(ground(), Alteration(durations={"fit": days})).answer) == words


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (Step("away", "visits", (MONDAY, MONDAY)), "visits: closed from Mon 1 Feb 2027 to Mon 1 Feb 2027"),
        (Step("late", "fit", (1,)), "fit Fit comes 1 day late"),
        (Step("length", "fit", (8,)), "fit Fit takes 8 days"),
        (Step("start", "fit", (MONDAY,)), "fit Fit: not before Mon 1 Feb 2027"),
        (Step("misses", "look", (2,)), "look Look misses 2 visits"),
        (Step("split", "fit", (1, 3, 4)), "fit Fit in two parts, of 1 and 4 days, with 3 between"),
        (Step("day", "crew", (MONDAY,)), "crew: works on Mon 1 Feb 2027"),
        (Step("weekday", "crew", (6,)), "crew: works every Saturday as well"),
        (Step("out", "sign"), "sign Sign is left out"),
        (Step("after", "fit", ("FS", 0, 0, "yard")), "fit Fit waits for yard Yard slab (FS)"),
        (Step("after", "fit", ("SS", 2, 0, "yard")), "fit Fit waits for yard Yard slab (SS, 2 working days between)"),
        (Step("after", "fit", ("FS", 2, 1, "yard")), "fit Fit waits for yard Yard slab (FS, 2 calendar days between)"),
    ],
    ids=lambda value: value.kind if isinstance(value, Step) else "",
)
def test_each_step_is_a_sentence(step: Step, words: str):
    assert wording.step(step, ground(), "en-GB") == words


def test_the_message_says_that_it_is_asked_only_and_whose_day_would_move():
    found = asked(ground(), Alteration(slips={"look": 1}))
    assert wording.message(found, ground(), PROJECT, ["Look misses a visit"]).splitlines() == [
        "Hall: asked only, nothing is changed yet.",
        "- Look misses a visit",
        "",
        wording.sentence(found.answer, ground(), PROJECT),
        "",
        "Days that would move:",
        "- Inspector: Look moves from Thu 4 Feb 2027 to Tue 9 Feb 2027.",
        "- Concrete: Pour moves from Fri 5 Feb 2027 to Wed 10 Feb 2027.",
        "- Steel: Fit moves from Mon 15 Feb 2027 to Thu 18 Feb 2027.",
    ]


def test_the_picture_has_each_move_twice_and_the_target_as_a_line():
    figure = charts_whatif.moves(asked(ground(), Alteration(slips={"look": 1})).answer, ground(), PROJECT)
    assert figure is not None
    stands, later = figure["data"]
    assert (stands["name"], len(stands["y"])) == ("As it stands", 5)
    assert later["name"] == "Would be later" and later["x"] == [1, 1, 1, 7, 7]  # the fitting goes over a weekend
    first = MONDAY.toordinal() + 3 - 2  # two days of room before the look on Thu 4
    assert later["base"][1] == date(2027, 2, 9).toordinal() - first
    assert [line["x0"] for line in figure["layout"]["shapes"]] == [date(2027, 2, 18).toordinal() - first]
    assert figure["table"]["rows"][1] == ["look Look", "4 Feb", "9 Feb", "5 days later"]


def test_what_comes_forward_is_hatched_and_nothing_is_drawn_where_nothing_moves():
    figure = charts_whatif.moves(asked(ground(None), EARLY).answer, ground(None), PROJECT)
    assert figure is not None and figure["layout"]["shapes"] == []
    assert [trace["name"] for trace in figure["data"]] == ["As it stands", "Would be earlier"]
    assert charts_whatif.moves(asked(ground(), Alteration()).answer, ground(), PROJECT) is None


def test_a_picture_has_a_dozen_rows_at_most():
    chain = [Activity(f"s{n:02}", 1, after=(Link(f"s{n - 1:02}"),) if n else ()) for n in range(30)]
    many = replace(ground(), read=Read(replace(HAND, activities=tuple(chain)), {}, {}))
    figure = charts_whatif.moves(asked(many, Alteration(slips={"s00": 5})).answer, many, PROJECT)
    assert figure is not None
    assert [row[0] for row in figure["table"]["rows"]] == ["The opening", *(f"s{n:02}" for n in range(11))]


def test_hold_points_of_work_that_moves_are_named():
    assert [hold.code for hold in asked(ground(), Alteration(slips={"look": 1})).holds] == ["H1"]
    assert asked(ground(), Alteration(slips={"sign": 1})).holds == ()
