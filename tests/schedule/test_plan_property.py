"""Whatever is done to a plan in whatever order, its kept dates are what its network comes to, and no circle is ever kept."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from projects.faults import Refused
from projects.models import Project, TrailEntry
from schedule.models import Activity, Link, WorkCalendar
from schedule.services import activities, calendars, plan, progress, undoing
from schedule.services.activities import ActivityDraft, LinkDraft
from schedule.services.calendars import CalendarDraft, ClosureDraft
from tests import builders
from tests.builders import NOW, TODAY

TOLD: dict[str, Any] = {"by": None, "now": NOW, "today": TODAY}
CODES = ("A", "B", "C", "D", "E")
code = st.sampled_from(CODES)
links = st.lists(
    st.builds(LinkDraft, code, st.sampled_from(["FS", "SS", "FF", "SF"]), st.integers(-2, 3), st.booleans()), max_size=2
)
days = st.integers(0, 6)
errand = st.one_of(
    st.tuples(st.just("add"), code, days, links, st.booleans()),
    st.tuples(st.just("change"), code, days, links, st.booleans()),
    st.tuples(st.just("remove"), code),
    st.tuples(st.just("report"), code, st.integers(0, 12), st.none() | st.integers(0, 12)),
    st.tuples(st.just("close"), st.integers(-5, 20), st.integers(0, 6)),
    st.tuples(st.just("week"), st.sets(st.integers(1, 7), min_size=1)),
    st.tuples(st.just("take back")),
)


def draft(of: str, lasts: int, after: list[LinkDraft], elapsed: bool) -> ActivityDraft:
    return ActivityDraft(of, f"Work {of}", lasts, elapsed=elapsed, after=tuple(after))


def run(project: Project, deed: tuple[Any, ...]) -> None:
    name, *told = deed
    calendar = WorkCalendar.objects.get(project=project)
    if name == "add":
        activities.add(project, draft(*told), **TOLD)
    elif name == "close":
        first = TODAY + timedelta(days=told[0])
        calendars.close(calendar, ClosureDraft(first, first + timedelta(days=told[1]), "away"), **TOLD)
    elif name == "week":
        calendars.change(calendar, replace(calendars.draft_of(calendar), weekdays=frozenset(told[0])), **TOLD)
    elif name == "take back":
        undoing.take_back(TrailEntry.objects.filter(project=project).order_by("-pk")[0], **TOLD)
    else:
        _on_one(project, name, told)


def _on_one(project: Project, name: str, told: list[Any]) -> None:
    row = Activity.objects.filter(project=project, code=told[0]).first()
    if row is None:
        return
    if name == "change":
        activities.change(row, draft(*told), **TOLD)
    elif name == "remove":
        activities.remove(row, reason="not needed", **TOLD)
    else:
        began, lasted = TODAY - timedelta(days=told[1]), told[2]
        ended: date | None = None if lasted is None else began + timedelta(days=lasted)
        progress.report(row, started_on=began, finished_on=ended, **TOLD)


def circle_in(project: Project) -> bool:
    """Whether links that count lead back to where they began, found by taking away what waits for nothing."""
    rows = Link.objects.filter(waiting__project=project, waiting__removed_on=None, before__removed_on=None)
    left = set(rows.values_list("waiting__code", "before__code"))
    while left:
        waiting = {one for one, _before in left}
        free = {link for link in left if link[1] not in waiting}
        if not free:
            return True
        left -= free
    return False


@pytest.mark.django_db
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(deeds=st.lists(errand, min_size=2, max_size=8))
def test_the_plan_never_drifts_and_never_circles(lead: Any, deeds: list[tuple[Any, ...]]):
    project = builders.project(lead)
    calendars.add(project, CalendarDraft("Trades", frozenset({1, 2, 3, 4, 5})), **TOLD)
    for deed in deeds:
        before = state(project)
        try:
            run(project, deed)
        except Refused:
            assert state(project) == before  # nothing of a refused deed is kept
        assert plan.drifted(project) == {} and not circle_in(project)


def state(project: Project) -> list[Any]:
    rows = Activity.objects.filter(project=project)
    found = list(rows.values_list("code", "version", "removed_on", "started_on", "finished_on", *plan.KEPT))
    return [
        found,
        Link.objects.filter(waiting__project=project).count(),
        TrailEntry.objects.filter(project=project).count(),
    ]


def test_the_search_for_a_circle_finds_one(project: Project):
    builders.activity(project, "A")
    builders.activity(project, "B", 1, ["A"])
    assert not circle_in(project)
    first, second = Activity.objects.filter(project=project)
    Link.objects.create(waiting=first, before=second)
    assert circle_in(project)
