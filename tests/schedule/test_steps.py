"""Steps of a what-if stand in an address, come back from it the same, and make one alteration together."""

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import steps
from schedule.calc.alter import Alteration
from schedule.calc.network import Activity, BadNetwork, Link, Network
from schedule.calc.steps import BadStep, Step

DAY = date(2027, 2, 1)
PLAN = Network(
    start=DAY,
    activities=(
        Activity("A1", 2, started_on=DAY, finished_on=DAY),
        Activity("A2", 4),
        Activity("M", 0),
    ),
)
DATES = st.dates(date(1900, 1, 1), date(2499, 12, 31))
VALUES = {
    "away": st.tuples(DATES, DATES).map(lambda pair: tuple(sorted(pair))),
    "late": st.tuples(st.integers(1, 3650)),
    "length": st.tuples(st.integers(0, 3650)),
    "start": st.tuples(DATES),
    "misses": st.tuples(st.integers(1, 3650)),
    "split": st.tuples(st.integers(1, 3650), st.integers(0, 3650), st.integers(1, 3650)),
    "day": st.tuples(DATES),
    "weekday": st.tuples(st.integers(1, 7)),
    "out": st.just(()),
    "after": st.tuples(
        st.sampled_from(["FS", "SS", "FF", "SF"]),
        st.integers(-99, 99),
        st.integers(0, 1),
        st.sampled_from(["A1", "é 2"]),
    ),
}
ABOUT = st.text(min_size=1, max_size=60).filter(lambda text: text.strip())
STEPS = st.sampled_from(sorted(VALUES)).flatmap(lambda kind: st.builds(Step, st.just(kind), ABOUT, VALUES[kind]))


def test_every_kind_is_tried():
    assert set(VALUES) == set(steps.KINDS)


@settings(max_examples=150, deadline=None)
@given(STEPS)
def test_a_step_comes_back_from_an_address_as_it_was(step: Step):
    assert steps.read(step.token) == step


@pytest.mark.parametrize(
    "token",
    ["", "late", "late|A1", "late|0|A1", "late|x|A1", "late|-1|A1", "late|9999|A1", "late|٣|A1", "late|2|", "no|2|A1", "weekday|8|K",
     "away|2027-02-02|2027-02-01|K", "away|2027-02-30|2027-03-01|K", "start|9999-12-31|M",
     "split|0|1|1|A2", "after|XX|0|0|A1|A2", "after|FS|0|2|A1|A2"],
)  # fmt: skip
def test_what_is_no_step_is_refused(token: str):
    with pytest.raises(BadStep):
        steps.read(token)


def made(*tokens: str) -> Alteration:
    return steps.together([steps.read(token) for token in tokens], PLAN)


@pytest.mark.parametrize(
    ("token", "alteration"),
    [
        ("away|2027-02-01|2027-02-09|Visits", Alteration(closures=(("Visits", DAY, date(2027, 2, 9)),))),
        ("late|3|A2", Alteration(durations={"A2": 7})),
        ("late|3|M", Alteration(slips={"M": 3})),
        ("length|8|A2", Alteration(durations={"A2": 8})),
        ("start|2027-02-09|A2", Alteration(not_before={"A2": date(2027, 2, 9)})),
        ("start|2027-02-09|M", Alteration(not_before={"M": date(2027, 2, 10)})),
        ("misses|2|A2", Alteration(slips={"A2": 2})),
        ("split|1|5|3|A2", Alteration(splits={"A2": (1, 5, 3)})),
        ("day|2027-02-06|Crane", Alteration(working=(("Crane", date(2027, 2, 6)),))),
        ("weekday|6|Crane", Alteration(working=(("Crane", 6),))),
        ("out|A2", Alteration(remove=("A2",))),
        ("after|SS|-2|1|M|A2", Alteration(links=(("A2", Link("M", "SS", -2, True)),))),
    ],
)
def test_each_step_makes_its_alteration(token: str, alteration: Alteration):
    assert made(token) == alteration


def test_steps_add_up_in_the_order_they_are_given():
    assert made("length|8|A2", "late|2|A2", "late|1|A2").durations == {"A2": 11}
    assert made("late|2|A2", "length|8|A2").durations == {"A2": 8}
    assert made("weekday|6|K", "weekday|6|K").working == (("K", 6),)
    assert made("late|2|A2", "after|FS|0|0|A2|M", "out|A2", "misses|1|A2") == Alteration(remove=("A2",))


@pytest.mark.parametrize(("token", "said"), [("late|1|X", '"X" is none'), ("late|1|A1", '"A1" is done')])
def test_what_cannot_be_asked_about_is_refused_by_name(token: str, said: str):
    with pytest.raises(BadNetwork, match=said):
        made(token)


OWN = st.sampled_from(["A2", "M"])
ALTERATIONS = st.builds(
    Alteration,
    durations=st.dictionaries(OWN, st.integers(0, 50), max_size=2),
    remove=st.lists(OWN, unique=True, max_size=2).map(tuple),
    links=st.lists(st.tuples(OWN, st.builds(Link, OWN, st.sampled_from(["FS", "SF"]), st.integers(-5, 5), st.booleans())),
                   max_size=2, unique=True).map(tuple),
    not_before=st.dictionaries(OWN, st.dates(DAY, date(2028, 1, 1)), max_size=2),
    slips=st.dictionaries(OWN, st.integers(1, 9), max_size=2),
    working=st.lists(st.tuples(st.just("K"), st.integers(1, 7)), unique=True, max_size=3).map(tuple),
)  # fmt: skip


@settings(max_examples=120, deadline=None)
@given(ALTERATIONS)
def test_an_alteration_told_as_steps_is_the_same_when_put_together(alteration: Alteration):
    found = steps.together(steps.apart(alteration, PLAN), PLAN)
    gone = set(alteration.remove)
    kept = {
        name: {code: value for code, value in getattr(alteration, name).items() if code not in gone}
        for name in ("durations", "not_before", "slips")
    }
    links = tuple((code, link) for code, link in alteration.links if not {code, link.before} & gone)
    assert found == replace(alteration, **kept, links=links)
