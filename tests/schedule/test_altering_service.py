"""An alteration goes into the plan as it was answered, and comes out again whole; what somebody changed since is left."""

from datetime import date

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from schedule.calc import alter, difference, network
from schedule.calc.alter import Alteration
from schedule.calc.network import Activity as Work
from schedule.calc.network import Link
from schedule.models import Activity, Closure, WorkCalendar
from schedule.services import activities, altering, plan, progress
from tests import builders
from tests.schedule.altering import TODAY, dates, picture, planned, read

BY = {"now": builders.NOW, "today": TODAY}


@pytest.fixture
def held(project: Project) -> Project:
    planned(project)
    return project


def put(project: Project, lead: User, alteration: Alteration, **more: object) -> dict[str, object]:
    return altering.put_in(project, alteration, reason="because", by=lead, **BY, **more)


def out(project: Project, lead: User, before: dict[str, object]) -> tuple[str, ...]:
    return altering.take_out(project, before, reason="not after all", by=lead, **BY)


ONE_EACH = {
    "longer": Alteration(durations={"A3": 9}),
    "added": Alteration(add=(Work("N1", 2, "Trades", (Link("A3"),)),), links=(("A6", Link("N1")),)),
    "left out": Alteration(remove=("A2",)),
    "linked": Alteration(links=(("A5", Link("A3", "SS", 1)),)),
    "linked otherwise": Alteration(links=(("A6", Link("A4", "FS", 1, True)),)),
    "not before": Alteration(not_before={"A6": date(2027, 3, 1), "A7": date(2027, 3, 9)}),
    "misses visits": Alteration(slips={"A2": 2}),
    "milestone late": Alteration(slips={"A7": 2}),
    "closed": Alteration(closures=(("Visits", date(2027, 2, 1), date(2027, 2, 9)),)),
    "weekday": Alteration(working=(("Trades", 6), ("Visits", date(2027, 2, 3)))),
    "split": Alteration(splits={"A3": (2, 3, 3)}),
    "milestone with days": Alteration(durations={"A7": 2}),
}


@pytest.mark.parametrize("alteration", ONE_EACH.values(), ids=ONE_EACH)
def test_the_plan_comes_to_what_was_answered(held: Project, lead: User, alteration: Alteration):
    answered = network.solve_network(alter.apply(read(held), alteration))
    put(held, lead, alteration)
    kept = {row.code: (row.early_start_on, row.early_finish_on) for row in Activity.objects.filter(removed_on=None)}
    wanted = {code: (one.early_start, one.early_finish) for code, one in answered.activities.items()}
    if "A3 (first part)" in wanted:
        wanted["A3a"] = wanted.pop("A3 (first part)")
    assert kept == wanted
    assert plan.drifted(held) == {}


@pytest.mark.parametrize("alteration", ONE_EACH.values(), ids=ONE_EACH)
def test_what_is_taken_out_leaves_the_plan_as_it_was(held: Project, lead: User, alteration: Alteration):
    network_before, dates_before = picture(read(held)), dates(held)
    before = put(held, lead, alteration)
    assert before and dates(held) != dates_before
    assert out(held, lead, before) == ()
    assert (picture(read(held)), dates(held)) == (network_before, dates_before)


CODES = st.sampled_from([f"A{number}" for number in range(1, 8)])
SOME_DAYS = st.integers(0, 12)
SPANS = st.tuples(st.sampled_from(["Trades", "Visits"]), st.dates(TODAY, date(2027, 3, 9)), st.integers(0, 12))
ALTERATIONS = st.builds(
    Alteration,
    durations=st.dictionaries(CODES, SOME_DAYS, max_size=2),
    remove=st.lists(CODES, max_size=1).map(tuple),
    slips=st.dictionaries(CODES, st.integers(1, 4), max_size=1),
    not_before=st.dictionaries(CODES, st.dates(TODAY, date(2027, 4, 1)), max_size=2),
    closures=st.lists(SPANS, max_size=1).map(
        lambda rows: tuple((name, first, date.fromordinal(first.toordinal() + days)) for name, first, days in rows)
    ),
    working=st.lists(st.tuples(st.sampled_from(["Trades", "Visits"]), st.integers(1, 7)), max_size=1).map(tuple),
    splits=st.dictionaries(
        st.sampled_from(["A3", "A5"]), st.tuples(st.integers(1, 4), SOME_DAYS, st.integers(1, 4)), max_size=1
    ),
)


@pytest.mark.django_db
@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(alteration=ALTERATIONS)
def test_in_and_out_again_is_as_if_nothing_had_been(alteration: Alteration, held: Project, lead: User):
    network_before, dates_before = picture(read(held)), dates(held)
    with transaction.atomic():
        try:
            with transaction.atomic():
                before = put(held, lead, alteration)
        except Refused:
            before = {}
        assert plan.drifted(held) == {}
        assert out(held, lead, before) == ()
        assert (picture(read(held)), dates(held)) == (network_before, dates_before)
        transaction.set_rollback(True)


def test_one_trail_row_tells_the_whole(held: Project, lead: User):
    count = TrailEntry.objects.count()
    before = put(held, lead, Alteration(durations={"A3": 9}, slips={"A2": 1}))
    row = TrailEntry.objects.order_by("-pk")[0]
    assert TrailEntry.objects.count() == count + 1
    assert (row.verb, row.summary) == ("put in", "Put into the plan: A2, A3: because")
    assert row.details["before"] == before and before["changed"]["A3"] == {"days": [5, 9]}


def test_added_work_has_a_name_and_the_first_part_is_like_the_whole(held: Project, lead: User):
    added = Alteration(add=(Work("N1", 2, "", (Link("A3"),)),), splits={"A3": (2, 1, 3)})
    put(held, lead, added, names={"N1": "Second lift"})
    part = Activity.objects.get(code="A3a")
    assert Activity.objects.get(code="N1").name == "Second lift"
    assert (part.name, part.kind, part.covers, part.trade) == ("Work A3, first part", "pour", True, "Concrete")


def test_the_same_code_can_come_in_again_after_it_was_taken_out(held: Project, lead: User):
    out(held, lead, put(held, lead, ONE_EACH["added"]))
    put(held, lead, ONE_EACH["added"])
    assert Activity.objects.filter(code="N1").count() == 1
    assert plan.drifted(held) == {}


def test_what_was_changed_since_is_left_and_named(held: Project, lead: User):
    before = put(held, lead, Alteration(durations={"A3": 9, "A5": 6}, working=(("Trades", 6),)))
    row = Activity.objects.get(code="A3")
    activities.change(row, activities.ActivityDraft(**draft(row) | {"days": 11}), by=lead, **BY)
    WorkCalendar.objects.filter(name="Trades").update(weekdays="12347")
    left = out(held, lead, before)
    assert left == (
        "A3 Work A3: the number of days was changed since and is left.",
        "The weekdays of Trades were changed since and are left.",
    )
    assert [Activity.objects.get(code=code).days for code in ("A3", "A5")] == [11, 4]


def draft(row: Activity) -> dict[str, object]:
    found = activities.draft_of(row)
    return {name: getattr(found, name) for name in activities.PLAIN} | {
        "calendar": found.calendar,
        "after": found.after,
    }


def test_added_work_that_has_begun_stays_with_its_links(held: Project, lead: User):
    before = put(held, lead, Alteration(add=(Work("N1", 2),), links=(("A6", Link("N1")),)))
    progress.report(Activity.objects.get(code="N1"), started_on=TODAY, by=lead, **BY)
    assert out(held, lead, before) == ("N1 N1 has begun and stays in the plan.",)
    assert Link("N1") in next(one for one in read(held).activities if one.id == "A6").after


def test_a_closure_that_was_lifted_since_is_named(held: Project, lead: User):
    before = put(held, lead, ONE_EACH["closed"])
    Closure.objects.filter(first_on=date(2027, 2, 1)).delete()
    assert out(held, lead, before) == ("The closure of Visits from 2027-02-01 was lifted already.",)


def done(project: Project, lead: User, code: str) -> None:
    row = Activity.objects.get(project=project, code=code)
    progress.report(row, started_on=TODAY, finished_on=TODAY, by=lead, **BY)


CIRCLE = (
    "These activities wait for each other in a circle: A6 Work A6 → A5 Work A5 → A6 Work A6. Take one of the links out."
)


@pytest.mark.parametrize(
    ("alteration", "said"),
    [
        (Alteration(durations={"A1": 9}), "A1 is done; what was done stays in the plan."),
        (Alteration(remove=("A1",)), "A1 is done; what was done stays in the plan."),
        (Alteration(durations={"X": 9}), 'The plan cannot be worked out with this: "X" is none of the activities.'),
        (Alteration(slips={"A5": 1}, links=(("A5", Link("A6")),)), CIRCLE),
        (Alteration(links=(("A5", Link("A6")),)), CIRCLE),
        (Alteration(add=(Work("A code too long", 1),)), "“A code too long” is too long a code; give at most 12 signs."),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_and_nothing_changes(
    held: Project, lead: User, alteration: Alteration, said: str
):  # fmt: skip
    done(held, lead, "A1")
    network_before, count = picture(read(held)), TrailEntry.objects.count()
    with pytest.raises(Refused) as fault:
        put(held, lead, alteration)
    assert fault.value.message == said
    assert (picture(read(held)), TrailEntry.objects.count()) == (network_before, count)


def test_nothing_can_be_put_into_no_plan(project: Project, lead: User):
    with pytest.raises(Refused, match="no"):
        put(project, lead, Alteration(durations={"A1": 9}))


def test_two_links_with_lags_of_two_kinds_are_refused_by_name():
    one = Work("b", 1, after=(Link("a", "FS", 2), Link("a", "FS", 3, True)))
    plan_of_two = network.Network(TODAY, activities=(Work("a", 1), one))
    with pytest.raises(difference.TwoLags, match="b would wait for a twice"):
        difference.links_of(plan_of_two)
