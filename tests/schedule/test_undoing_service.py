"""Taking deeds on the plan back: each puts the plan as it stood, and none overwrites what somebody did since."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from projects.faults import Refused
from projects.models import Project, TrailEntry
from schedule.models import Activity, Closure, Link, WorkCalendar
from schedule.services import activities, calendars, drafting, plan, undoing
from schedule.services.activities import ActivityDraft, LinkDraft
from schedule.services.calendars import ClosureDraft
from tests import builders
from tests.builders import NOW, TODAY

TOLD: dict[str, Any] = {"by": None, "now": NOW, "today": TODAY}


@pytest.fixture
def chain(project: Project) -> Project:
    builders.calendar(project)
    builders.activity(project, "A01", 3)
    builders.activity(project, "A02", 1, [LinkDraft("A01", lag_days=2, lag_elapsed=True)])
    builders.activity(project, "A03", 4, ["A02"])
    return project


def get(project: Project, code: str) -> Activity:
    return Activity.objects.get(project=project, code=code)


def standing(project: Project) -> list[Any]:
    """Everything the plan says, but for versions."""
    rows = Activity.objects.filter(project=project, removed_on=None)
    links = Link.objects.filter(waiting__removed_on=None, before__removed_on=None, waiting__project=project)
    told = [sorted(drafting.told(drafting.draft_of(row)).items(), key=str) for row in rows]
    dates = list(rows.values_list("code", *plan.KEPT))
    whole = [calendars.told(calendars.draft_of(row)) for row in WorkCalendar.objects.filter(project=project)]
    return [told, dates, links.count(), whole]


def newest(project: Project) -> TrailEntry:
    return TrailEntry.objects.filter(project=project).order_by("-pk")[0]


DEEDS: dict[str, Callable[[Project], Any]] = {
    "add": lambda project: builders.activity(project, "A09", 2, ["A03"]),
    "add many": lambda project: activities.add_many(
        project, [ActivityDraft("B1", "One", 1, after=(LinkDraft("B2"),)), ActivityDraft("B2", "Two", 1)], **TOLD
    ),
    "change": lambda project: activities.change(
        get(project, "A02"), replace(drafting.draft_of(get(project, "A02")), days=9, name="Other", after=()), **TOLD
    ),
    "remove": lambda project: activities.remove(get(project, "A02"), reason="not needed", **TOLD),
    "close": lambda project: calendars.close(
        WorkCalendar.objects.get(project=project), ClosureDraft(TODAY, date(2027, 2, 3), "away"), **TOLD
    ),
    "change calendar": lambda project: calendars.change(
        WorkCalendar.objects.get(project=project),
        calendars.CalendarDraft("Sundays", frozenset({7}), "US", "n", (ClosureDraft(TODAY, TODAY),), (TODAY,)),
        **TOLD,
    ),
    "add calendar": lambda project: builders.calendar(project, "Crane", "6"),
}


@pytest.mark.parametrize("deed", DEEDS)
def test_a_deed_that_is_taken_back_leaves_the_plan_as_it_stood(chain: Project, deed: str):
    before = standing(chain)
    DEEDS[deed](chain)
    done = newest(chain)
    assert standing(chain) != before
    undoing.take_back(done, **TOLD)
    assert standing(chain) == before and plan.drifted(chain) == {}
    assert newest(chain).summary == f"Took back: {done.summary}"


@pytest.mark.parametrize("deed", [name for name in DEEDS if name != "close"])
def test_twice_is_refused_and_changes_nothing(chain: Project, deed: str):
    DEEDS[deed](chain)
    done = newest(chain)
    undoing.take_back(done, **TOLD)
    before = standing(chain)
    with pytest.raises(Refused):
        undoing.take_back(done, **TOLD)
    assert standing(chain) == before


def test_a_removed_calendar_comes_back(chain: Project):
    crane = builders.calendar(chain, "Crane", "6", closures=[(TODAY, TODAY, "wind")])
    before = standing(chain)
    calendars.remove(crane, **TOLD)
    undoing.take_back(newest(chain), **TOLD)
    assert standing(chain) == before


def test_what_somebody_changed_since_is_not_overwritten(chain: Project):
    DEEDS["change"](chain)
    done = newest(chain)
    row = get(chain, "A02")
    activities.change(row, replace(drafting.draft_of(row), days=5), **TOLD)
    with pytest.raises(Refused, match="A02 was changed since"):
        undoing.take_back(done, **TOLD)
    assert get(chain, "A02").days == 5


def test_a_closure_that_went_with_a_later_change_is_not_taken_back(chain: Project):
    DEEDS["close"](chain)
    done = newest(chain)
    DEEDS["change calendar"](chain)
    with pytest.raises(Refused, match="not there any more"):
        undoing.take_back(done, **TOLD)
    assert Closure.objects.count() == 1


def test_what_was_added_and_has_begun_stays(chain: Project):
    DEEDS["add"](chain)
    done = newest(chain)
    Activity.objects.filter(code="A09").update(started_on=TODAY)
    with pytest.raises(Refused, match="has begun"):
        undoing.take_back(done, **TOLD)
    assert get(chain, "A09").removed_on is None


def test_taking_back_may_not_make_a_circle(chain: Project):
    activities.remove(get(chain, "A02"), reason="not needed", **TOLD)
    done, row = newest(chain), get(chain, "A01")
    Link.objects.filter(waiting__code="A03").exclude(before__code="A02").delete()
    activities.change(row, replace(drafting.draft_of(row), after=(LinkDraft("A03"),)), **TOLD)
    with pytest.raises(Refused, match="in a circle"):
        undoing.take_back(done, **TOLD)
    assert get(chain, "A02").removed_on == TODAY and plan.drifted(chain) == {}


def test_a_deed_on_something_else_is_not_taken_back_here(chain: Project):
    other = TrailEntry.objects.filter(project=chain).exclude(subject__in=("activity", "calendar"))[0]
    with pytest.raises(Refused, match="by hand"):
        undoing.take_back(other, **TOLD)
