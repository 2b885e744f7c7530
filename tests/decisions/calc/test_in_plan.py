"""What options do to a network: worked by hand, and against paths followed one by one (ADR 0406)."""

import json
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from decisions.calc import compare, in_plan
from decisions.calc.facts import AdjustFacts, DecisionFacts, ItemFact, OptionFacts, PlanEffect
from reports.calc_names import CALCULATIONS, answer
from schedule.calc.alter import Alteration
from schedule.calc.calendars import Calendar
from schedule.calc.network import Activity, Link, Network
from units.reading import Unreadable

START = date(2027, 2, 1)  # a Monday
CREW = Calendar("crew", frozenset({1, 2, 3, 4, 5}))


def hall() -> Network:
    """Slab 9 days and frame 4, then set 2, Monday to Friday: done on Monday 15 February, the frame with 5 days of float."""
    works = (
        Activity("slab", 9),
        Activity("frame", 4),
        Activity("set", 2, after=(Link("slab"), Link("frame"))),
    )
    return Network(START, activities=works, calendars={"crew": CREW}, default_calendar="crew")


@pytest.mark.parametrize(
    ("change", "effect"),
    [
        (Alteration(), PlanEffect(date(2027, 2, 15))),
        # three of five days; the frame then ends on Tuesday 9th and may until Thursday 11th: two calendar days
        (Alteration(durations={"frame": 7}), PlanEffect(date(2027, 2, 15), 0, 5, 3, 2)),
        # all five, and three working days more: Thursday 18th
        (Alteration(durations={"frame": 12}), PlanEffect(date(2027, 2, 18), 3, 5, 5, 0)),
        # four days shorter: Tuesday 9th, six calendar days earlier, and nothing has lost any float
        (Alteration(durations={"slab": 5}), PlanEffect(date(2027, 2, 9), -6, 0, 0, 0)),
        # steel comes on the 10th: the frame takes 10, 11, 12 and 15 February, the setting 16 and 17
        (Alteration(not_before={"frame": date(2027, 2, 10)}), PlanEffect(date(2027, 2, 17), 2, 5, 5, 0)),
        # two days of a check before the setting, after the frame: frame and check fit in the float
        (
            Alteration(add=(Activity("check", 2, after=(Link("frame"),)),), links=(("set", Link("check")),)),
            PlanEffect(date(2027, 2, 15), 0, 5, 2, 0),
        ),
        (Alteration(remove=("slab",)), PlanEffect(date(2027, 2, 8), -7, 0, 0, 0)),
    ],
)
def test_changes_as_worked_by_hand(change: Alteration, effect: PlanEffect):
    assert in_plan.effects(hall(), [change]) == (effect,)


def test_the_day_to_finish_by_plays_no_part():
    change = Alteration(durations={"frame": 7})
    late = replace(hall(), finish_by=date(2027, 2, 4))
    assert in_plan.effects(late, [change]) == in_plan.effects(hall(), [change])


DAYS = st.integers(1, 6)


@st.composite
def networks(draw: st.DrawFn) -> tuple[dict[str, int], dict[str, list[str]]]:
    days = {f"a{place}": draw(DAYS) for place in range(draw(st.integers(2, 7)))}
    names = list(days)
    return days, {
        name: draw(st.lists(st.sampled_from(names[:place]), unique=True, max_size=2)) if place else []
        for place, name in enumerate(names)
    }


def _longest(days: dict[str, int], after: dict[str, list[str]]) -> dict[str, int]:
    """The longest way through each activity, by following every path."""
    before = {name: [other for other in after if name in after[other]] for name in after}

    @cache
    def into(name: str) -> int:
        return days[name] + max(map(into, after[name]), default=0)

    @cache
    def out(name: str) -> int:
        return days[name] + max(map(out, before[name]), default=0)

    return {name: into(name) + out(name) - days[name] for name in days}


@given(networks(), st.data())
@settings(max_examples=120, deadline=None)
def test_effects_agree_with_paths_followed_one_by_one(found, data):
    """Oracle: on every-day calendars the finish is the longest path, and a float is the finish less the longest way through."""
    days, after = found
    changed = {name: data.draw(DAYS) for name in data.draw(st.sets(st.sampled_from(list(days)), min_size=1))}
    works = tuple(Activity(name, days[name], after=tuple(map(Link, after[name]))) for name in days)
    seen = in_plan.effects(Network(START, activities=works), [Alteration(durations=changed)])[0]
    was, now = _longest(days, after), _longest(days | changed, after)
    finish = max(was.values())
    assert seen.finish == START + timedelta(days=max(now.values()) - 1)
    assert seen.moved_days == max(now.values()) - finish
    floats = {name: (finish - was[name], max(0, finish - now[name])) for name in days}
    used = max(had - has for had, has in floats.values())
    assert seen.float_used == max(0, used)
    assert not used > 0 or seen.float_days in {had for had, has in floats.values() if had - has == used}
    assert seen.float_left == min(max(now.values()) - now[name] for name in changed)


# --- in the comparison ------------------------------------------------------------------------------------------


def option(key: str, plan: PlanEffect | None, **more: object) -> OptionFacts:
    return OptionFacts(key, items=(ItemFact("work", 1_000_00),), plan=plan, **more)  # type: ignore[arg-type]


def test_days_are_the_move_of_the_finish():
    """At 900 a day: 3 days later cost 2,700, 6 earlier spare 5,400; float costs nothing."""
    effects = (PlanEffect(START, 3, 5, 5), PlanEffect(START, -6), PlanEffect(START, 0, 5, 3))
    facts = DecisionFacts(tuple(option(f"o{n}", effect) for n, effect in enumerate(effects)), 900_00)
    seen = compare.compare(facts).options
    assert [(o.days_later, o.float_used, o.cost_of_days_minor) for o in seen] == [
        (3, 5, 2_700_00),
        (-6, 0, -5_400_00),
        (0, 3, 0),
    ]


def test_a_correction_has_the_float_that_the_option_leaves():
    """14 days of correction on 4 of float: a tenth of 10 × 900."""
    adjust = AdjustFacts(Decimal("0.1"), days=14)
    seen = compare.compare(DecisionFacts((option("a", PlanEffect(START, 0, 9, 5, 4), adjust=adjust),), 900_00))
    assert seen.options[0].correction_minor == 900_00


def test_days_are_no_input_where_the_network_gives_them():
    facts = DecisionFacts((option("a", PlanEffect(START, 3)), option("b", None, extra_days=2)), 900_00)
    inputs = {(flip.option, flip.input) for flip in compare.compare(facts).flips}
    assert ("b", "days.extra") in inputs and ("a", "days.extra") not in inputs and ("a", "items[0].amount") in inputs


# --- as a document ----------------------------------------------------------------------------------------------

DOCUMENT = {
    "cost_of_day": 900,
    "network": {
        "start": "2027-02-01",
        "calendars": {"crew": {"weekdays": [1, 2, 3, 4, 5]}},
        "default_calendar": "crew",
        "activities": [
            {"id": "slab", "duration": 9},
            {"id": "frame", "duration": 4},
            {"id": "set", "duration": 2, "after": [{"id": "slab"}, {"id": "frame"}]},
        ],
    },
    "options": [
        {"id": "A", "items": [{"name": "steel", "amount": 100}], "changes": {"duration": {"frame": 12}}},
        {
            "id": "B",
            "items": [{"name": "steel", "amount": 100}],
            "changes": {
                "add": [{"id": "check", "duration": 2, "after": [{"id": "frame"}]}],
                "links": [{"id": "set", "after": "check"}],
            },
        },
        {"id": "C", "changes": {"remove": ["slab"]}},
        {"id": "D"},
    ],
}


def sent(document: object) -> dict:
    return json.loads(answer("compare", json.dumps(document).encode()))


def test_the_document_says_what_becomes_of_the_opening():
    found = [(o["finish"], o["days_later"], o["float_used"], o["cost_of_days"]) for o in sent(DOCUMENT)["options"]]
    assert found == [
        ("2027-02-18", 3, 5, "2700.00"),
        ("2027-02-15", 0, 2, "0.00"),
        ("2027-02-08", -7, 0, "-6300.00"),
        ("2027-02-15", 0, 0, "0.00"),
    ]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"duration": {"zz": 1}}, 'options[0].changes.duration: "zz" is none of the activities'),
        ({"links": [{"id": "slab", "after": "set"}]}, "options[0].changes: these wait on each other in a circle: "),
        ({"add": [{"id": "slab", "duration": 1}]}, 'options[0].changes.add: "slab" is there already'),
        ({"remove": ["slab", "frame", "set"]}, None),
    ],
)
def test_changes_that_do_not_fit_are_named(changes: dict, told: str | None):
    document = DOCUMENT | {"options": [{"id": "A", "changes": changes}]}
    if told is None:
        assert sent(document)["options"][0]["finish"] == "2027-02-01"  # nothing left to do
        return
    with pytest.raises(Unreadable) as fault:
        sent(document)
    assert str(fault.value).startswith(told)


@pytest.mark.parametrize("value", [None, True, -1, 1.5, "", "x", [], {}, [[]], {"a": 1}, 10**30, "2027-02-30"])
def test_whatever_is_sent_is_answered_or_refused(value: object):
    from tests.reports.calc.examples import places, put

    for path in places(DOCUMENT):
        document = put(json.loads(json.dumps(DOCUMENT)), path, value)
        try:
            CALCULATIONS["compare"].work_out(CALCULATIONS["compare"].document.read(document))
        except Unreadable as fault:
            assert fault.mend
