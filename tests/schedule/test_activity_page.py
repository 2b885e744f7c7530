"""One activity: why its dates are so, how far it may slip, and what is reported of it in one tap."""

import re
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from projects.models import Project, User
from schedule.models import Activity, Baseline, WorkCalendar
from schedule.services import calendars
from schedule.services.activities import LinkDraft
from tests import builders
from tests.builders import NOW, TODAY


@pytest.fixture
def client(lead: User) -> Client:
    return builders.signed_in(lead)


@pytest.fixture
def planned(project: Project) -> Project:
    """A01 on Fri 29 Jan, A02 on Mon 1 to Wed 3 Feb; A04 beside it ends on 1 Feb and A03 waits for both."""
    builders.calendar(project)
    builders.activity(project, "A01", 1)
    builders.activity(project, "A02", 3, ["A01"])
    builders.activity(project, "A04", 1, ["A01"])
    builders.activity(project, "A03", 1, ["A02", LinkDraft("A04", "FS", 1)], covers=True)
    return project


def address(project: Project, code: str, below: str = "") -> str:
    return f"/p/{project.slug}/sequence/plan/activities/{project.activities.get(code=code).pk}/{below}"


def words(client: Client, path: str, status: int = 200) -> str:
    answer = client.get(path)
    assert answer.status_code == status
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def test_it_says_what_sets_its_start_and_that_a_slip_moves_the_finish(client: Client, planned: Project):
    said = words(client, address(planned, "A02"))
    assert "A02 Work A02 starts on Mon 1 Feb 2027 and is done on Wed 3 Feb 2027: critical." in said
    assert "because it waits for A01 Work A01." in said and "Every working day it slips moves the finish." in said


def test_its_float_is_told_as_two_days(client: Client, planned: Project):
    """By hand: A03 starts on Thu 4 Feb and waits a day after A04, which may so end on Tue 2 Feb."""
    said = words(client, address(planned, "A04"))
    assert "A04 Work A04 is planned for Mon 1 Feb 2027: 1 working day of float." in said
    assert "It can finish up to Tue 2 Feb 2027 before anything else moves" in said


def test_a_closure_before_it_is_named(client: Client, planned: Project):
    calendar = WorkCalendar.objects.get(project=planned)
    closed = calendars.ClosureDraft(date(2027, 2, 1), date(2027, 2, 2), "crew away")
    calendars.close(calendar, closed, by=None, now=NOW, today=TODAY)
    assert "30 Jan to 2 Feb, are not worked: crew away." in words(client, address(planned, "A02"))


def test_links_say_how_they_hold(client: Client, planned: Project):
    said = words(client, address(planned, "A03"))
    assert "A04 Work A04 when it is finished, 1 working day later" in said and "sets the start" in said
    assert "it is one of the last" in said


def test_to_open_on_the_target_it_would_have_to_be_earlier(client: Client, planned: Project):
    """The finish is Thu 4 Feb; for Tue 2 Feb A02 had to end on Mon 1 Feb, two working days before."""
    Project.objects.update(opens_on=date(2027, 2, 2))
    planned.refresh_from_db()
    builders.activity(planned, "A09", 1)  # settles
    said = words(client, address(planned, "A02"))
    assert "it would have to be finished by Mon 1 Feb 2027, 2 working days earlier." in said


def test_one_tap_starts_it_and_undo_puts_it_back(client: Client, planned: Project):
    page = client.post(address(planned, "A01", "started/"), follow=True).content.decode()
    assert planned.activities.get(code="A01").started_on == TODAY
    assert "A01 Work A01 is under way." in page and "The finish stays on Thu 4 Feb 2027." in page
    undo = re.search(r'action="([^"]+report/undo/)"', page)
    assert undo
    page = client.post(undo[1], follow=True).content.decode()
    assert planned.activities.get(code="A01").started_on is None and "is taken back" in page


def test_one_tap_says_it_is_done(client: Client, planned: Project):
    client.post(address(planned, "A01", "done/"))
    row = planned.activities.get(code="A01")
    assert (row.started_on, row.finished_on) == (TODAY, TODAY)


def test_a_report_moves_what_follows_and_keeps_its_reason(client: Client, planned: Project):
    sent = {"started_on": "2027-01-29", "finished_on": "", "days": "3", "reason": "rock in the dig"}
    page = client.post(address(planned, "A01", "report/"), sent, follow=True).content.decode()
    assert "moves from Thu 4 Feb 2027 to Mon 8 Feb 2027 (+4 days" in page and "rock in the dig" in page


def test_an_open_gate_refuses_the_start_and_offers_to_overrule(client: Client, planned: Project):
    hold = builders.hold_point(planned, activity="A01", stops=("A03",))
    answer = client.post(address(planned, "A03", "started/"))
    page = answer.content.decode()
    row = planned.activities.get(code="A03")
    assert answer.status_code == 422 and row.started_on is None
    assert f"/sequence/holds/{hold.pk}/overrule/{row.pk}/" in page and "May we cover it? Not yet." in page


def test_a_day_to_come_is_refused_at_its_field(client: Client, planned: Project):
    ahead = (TODAY + timedelta(days=3)).isoformat()
    answer = client.post(address(planned, "A01", "report/"), {"started_on": ahead, "days": "1"})
    assert (
        answer.status_code == 422 and "has not come yet" in answer.content.decode() and ahead in answer.content.decode()
    )


@pytest.mark.parametrize("below", ["report/", "started/", "done/", "report/undo/"])
@pytest.mark.parametrize("role", ["viewer", "owner", "bookkeeper"])
def test_only_the_lead_reports(planned: Project, role: str, below: str, request: pytest.FixtureRequest):
    client = builders.signed_in(request.getfixturevalue(role))
    assert client.post(address(planned, "A01", below), {"started_on": "2027-01-29"}).status_code == 403
    assert client.get(address(planned, "A01")).status_code == 200


def test_what_was_taken_out_stays_readable(client: Client, planned: Project):
    Activity.objects.filter(code="A04").update(removed_on=TODAY)
    said = words(client, address(planned, "A04"))
    assert "is not in the plan any more" in said and "Started today" not in said


def test_freezing_needs_a_name_and_keeps_every_date(client: Client, planned: Project):
    path = f"/p/{planned.slug}/sequence/plan/baselines/new/"
    assert client.post(path, {"name": "", "reason": "x"}).status_code == 422 and not Baseline.objects.exists()
    client.post(path, {"name": "First plan", "reason": ""})
    assert Baseline.objects.get().dates.count() == 4
    client.post(address(planned, "A01", "report/"), {"started_on": "2027-01-29", "days": "2", "reason": "rain"})
    assert "First plan: Fri 29 Jan 2027 (3 days later than planned; 2 working days in place of 1 day)." in words(
        client, address(planned, "A01")
    )


def test_an_activity_takes_the_same_questions_however_large_the_plan(client: Client, planned: Project):
    def asked() -> int:
        client.get(address(planned, "A03"))
        with CaptureQueriesContext(connection) as seen:
            client.get(address(planned, "A03"))
        return len(seen)

    few = asked()
    for n in range(12):
        builders.activity(planned, f"B{n}", 1, ["A02"])
    assert asked() == few <= 24
