"""What is reported from the site: dates that push what follows, and the way back."""

from datetime import date, timedelta

import pytest

from projects.faults import Refused
from projects.models import Project, TrailEntry
from schedule.models import Activity
from schedule.services import plan, progress
from tests import builders
from tests.builders import NOW, TODAY


@pytest.fixture
def told(project: Project) -> dict:
    builders.calendar(project)
    builders.activity(project, "A01", 2)
    builders.activity(project, "A02", 1, ["A01"])
    return {"by": builders.lead_of(project), "now": NOW, "today": TODAY}


def row(project: Project, code: str = "A01") -> Activity:
    return project.activities.get(code=code)


def finish(project: Project) -> date:
    return plan.Plan.objects.get(project=project).finish_on


def test_a_longer_activity_pushes_what_follows(project: Project, told: dict):
    """By hand: Fri 29 Jan and four working days on, to Thu 4 Feb; then Fri 5 Feb."""
    progress.report(row(project), started_on=TODAY, days=5, reason="rock", **told)
    assert (row(project).early_finish_on, finish(project)) == (date(2027, 2, 4), date(2027, 2, 5))
    assert plan.drifted(project) == {}


def test_taking_back_puts_dates_and_days_where_they_stood(project: Project, told: dict):
    before = list(Activity.objects.values_list("code", "days", "started_on", "early_start_on", "early_finish_on"))
    progress.report(row(project), started_on=TODAY, days=5, **told)
    progress.take_back(row(project), **told)
    assert (
        list(Activity.objects.values_list("code", "days", "started_on", "early_start_on", "early_finish_on")) == before
    )
    assert TrailEntry.objects.filter(verb="took back", subject_id=row(project).pk).count() == 1


def test_only_the_newest_report_is_taken_back(project: Project, told: dict):
    early = TODAY - timedelta(days=1)
    progress.report(row(project), started_on=early, **told)
    progress.report(row(project), started_on=early, finished_on=TODAY, **told)
    progress.take_back(row(project), **told)
    assert (row(project).started_on, row(project).finished_on) == (early, None)


def test_what_was_changed_since_is_not_taken_back(project: Project, told: dict):
    progress.report(row(project), started_on=TODAY, **told)
    Activity.objects.filter(code="A01").update(days=9)
    with pytest.raises(Refused, match="was changed since"):
        progress.take_back(row(project), **told)
    assert row(project).started_on == TODAY


def test_nothing_reported_is_nothing_to_take_back(project: Project, told: dict):
    with pytest.raises(Refused, match="Nothing was reported"):
        progress.take_back(row(project), **told)


@pytest.mark.parametrize(
    ("started", "finished", "words"),
    [
        (TODAY + timedelta(days=1), None, "has not come yet"),
        (None, TODAY, "Say when"),
        (TODAY, TODAY - timedelta(days=1), "cannot end before it began"),
    ],
)
def test_dates_that_cannot_be_are_refused_and_nothing_is_written(
    project: Project, told: dict, started: date | None, finished: date | None, words: str
):
    with pytest.raises(Refused, match=words):
        progress.report(row(project), started_on=started, finished_on=finished, **told)
    assert row(project).version == 1 and not TrailEntry.objects.filter(verb="reported").exists()
