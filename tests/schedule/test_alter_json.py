"""An alteration is kept as plain JSON and read back as the same one; what does not fit is refused with its place."""

import json
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedule.calc import alter_json
from schedule.calc.alter import Alteration
from schedule.calc.network import Activity, Link
from units.reading import Unreadable

CODES = st.text("ABC129", min_size=1, max_size=4)
DAYS = st.integers(0, 400)
DATES = st.dates(date(2026, 1, 1), date(2030, 12, 31))
LINKS = st.builds(Link, CODES, st.sampled_from(["FS", "SS", "FF", "SF"]), st.integers(-9, 9), st.booleans())
ADDED = st.builds(
    Activity, CODES, DAYS, st.sampled_from(["", "Trades"]), st.lists(LINKS, max_size=2).map(tuple),
    st.none() | DATES, st.booleans(),
)  # fmt: skip
SPANS = st.tuples(CODES, DATES, DATES).map(lambda row: (row[0], *sorted(row[1:])))
ALTERATIONS = st.builds(
    Alteration,
    durations=st.dictionaries(CODES, DAYS, max_size=3),
    add=st.lists(ADDED, max_size=2, unique_by=lambda one: one.id).map(tuple),
    remove=st.lists(CODES, max_size=2, unique=True).map(tuple),
    links=st.lists(st.tuples(CODES, LINKS), max_size=2).map(tuple),
    not_before=st.dictionaries(CODES, DATES, max_size=2),
    slips=st.dictionaries(CODES, DAYS, max_size=2),
    closures=st.lists(SPANS, max_size=2).map(tuple),
    working=st.lists(st.tuples(CODES, st.integers(1, 7) | DATES), max_size=2).map(tuple),
    splits=st.dictionaries(CODES, st.tuples(st.integers(1, 9), DAYS, st.integers(1, 9)), max_size=2),
)


@settings(max_examples=120, deadline=None)
@given(ALTERATIONS)
def test_what_is_written_is_read_back_as_the_same(alteration: Alteration):
    kept = json.loads(json.dumps(alter_json.write(alteration)))
    assert alter_json.read(kept) == alteration


def test_nothing_is_written_for_an_alteration_that_does_nothing():
    assert alter_json.write(Alteration()) == {}
    assert alter_json.read({}) == Alteration()


def test_names_of_added_work_are_kept_beside_it():
    added = Alteration(add=(Activity("N1", 2, after=(Link("A12"),)),))
    kept = alter_json.write(added, {"N1": "Second lift"})
    assert kept == {"add": [{"id": "N1", "name": "Second lift", "duration": 2, "after": [{"id": "A12"}]}]}
    assert alter_json.names(kept) == {"N1": "Second lift"} and alter_json.read(kept) == added


@pytest.mark.parametrize(
    ("plain", "said"),
    [
        ([], "input: an object is required"),
        ({"durations": {}}, 'input: "durations" is not known here; did you mean "duration"?'),
        ({"duration": {"A1": 1.5}}, "duration.A1: a whole number from 0 to 10000 is required"),
        ({"duration": {"A1": True}}, "duration.A1: a whole number from 0 to 10000 is required"),
        ({"not_before": {"A1": "soon"}}, "not_before.A1: a date such as 2026-11-25 is required"),
        ({"slips": {"A1": -1}}, "slips.A1: a whole number from 0 to 10000 is required"),
        ({"remove": ["A1", "A1"]}, 'remove[1]: "A1" is there already; each is given once'),
        ({"links": [{"id": "A1"}]}, "links[0].after: a text is required, and nothing is given"),
        ({"links": [{"id": "A1", "after": "A2", "link": "XX"}]}, 'links[0].link: "FS", "SS", "FF" or "SF" is required'),
        ({"closures": [["K"]]}, "closures[0]: a list of a calendar, a first and a last day is required"),
        ({"closures": [["K", "2027-02-02", "2027-02-01"]]},
         "closures[0][2]: the last day is before the first; a day from 2027-02-02 on is required"),
        ({"working": [["K", 8]]}, "working[0][1]: a weekday from 1 to 7 or a date is required"),
        ({"splits": {"A1": [0, 1, 2]}}, "splits.A1[0]: a whole number from 1 to 10000 is required"),
        ({"add": [{"id": "N1", "duration": 1}, {"id": "N1", "duration": 2}]}, 'add[1].id: "N1" is there already; each is given once'),
    ],
)  # fmt: skip
def test_what_does_not_fit_is_refused_with_its_place(plain: object, said: str):
    with pytest.raises(Unreadable) as fault:
        alter_json.read(plain)
    assert str(fault.value) == said
