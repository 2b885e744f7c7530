"""The look-ahead: which work falls into which week, what stands in its way, whom to call; worked by hand.

Fri 29 Jan 2027 is today. Shuttering Mon 1 to Wed 3 Feb is under way since the 28th; the inspector comes on Thu 4; the pour is on
Fri 5 Feb; a pump arrives on Tue 9; the crane lifts on Mon 15.
"""

from datetime import date

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from schedule.calc import ahead as calc
from schedule.calc.calendars import Calendar, is_worked
from schedule.models import Need
from schedule.selectors import ahead as reads
from schedule.services import needs, progress
from schedule.services.activities import LinkDraft
from tests import builders
from tests.builders import NOW, TODAY, signed_in

TOLD = {"now": NOW, "today": TODAY}


@pytest.fixture
def project(project: Project, lead: User) -> Project:
    builders.calendar(project)
    first = builders.activity(project, "A01", 4, trade="Concrete", name="Shuttering")
    progress.report(first, started_on=TODAY, by=lead, **TOLD)  # Fri 29 Jan to Wed 3 Feb
    builders.activity(project, "A02", 1, ["A01"], kind="inspection", attended_by="Inspector", name="Inspection")
    builders.activity(project, "A03", 1, ["A02"], trade="Concrete", name="Pour", covers=True)
    builders.activity(project, "A04", 8, kind="delivery", name="Pump made")
    builders.delivery(project, "A04", "Pump")
    builders.activity(project, "A05", 2, ["A03", "A04"], trade="Plumbing", not_before_on=date(2027, 2, 15))
    return project


@pytest.fixture
def client(lead: User) -> Client:
    return signed_in(lead)


def work(project: Project, code: str, weeks: int = 6) -> reads.Work:
    return next(one for one in reads.works_of(reads.weeks(project, TODAY, weeks)) if one.code == code)


def in_the_way(project: Project, code: str) -> list[tuple[str, str]]:
    return [(one.label, one.what) for one in work(project, code).open]


def add(project: Project, code: str, what: str, by_on: date = TODAY, kind: str = "permit") -> Need:
    activity = project.activities.get(code=code)
    return needs.add(activity, what=what, kind=kind, who="Site lead", by_on=by_on, by=builders.lead_of(project), **TOLD)


def test_work_stands_in_the_weeks_it_touches(project: Project):
    weeks = reads.weeks(project, TODAY, 4)
    starts = [[one.code for one in week.starts] for week in weeks]
    goes_on = [[one.code for one in week.goes_on] for week in weeks]
    assert [week.week.first_on for week in weeks] == [
        date(2027, 1, 25),
        date(2027, 2, 1),
        date(2027, 2, 8),
        date(2027, 2, 15),
    ]
    assert starts == [["A04"], ["A02", "A03"], [], ["A05"]]
    assert goes_on == [["A01"], ["A01", "A04"], ["A04"], []]


def test_what_stands_in_the_way_is_derived_from_the_plan(project: Project):
    assert in_the_way(project, "A01") == []  # under way
    assert in_the_way(project, "A02") == [("earlier work", "A01 Shuttering")]
    assert in_the_way(project, "A03") == [("inspection", "A02 Inspection")]
    assert in_the_way(project, "A05") == [("earlier work", "A03 Pour"), ("material", "Pump")]
    derived = work(project, "A03").open[0]
    assert (derived.who, derived.by_on, derived.overdue) == ("Inspector", date(2027, 2, 4), False)


def test_a_link_from_start_to_start_is_in_the_way_until_the_other_has_begun(project: Project, lead: User):
    builders.activity(project, "A06", 1, [LinkDraft("A04", "SS", 2)])
    builders.activity(project, "A07", 1, [LinkDraft("A01", "SS", 2)])
    builders.activity(project, "A08", 1, [LinkDraft("A04", "FF", 0)])
    assert in_the_way(project, "A06") == [("material", "Pump")]
    assert in_the_way(project, "A07") == [] and in_the_way(project, "A08") == []  # begun; holds the finish alone


def test_an_open_hold_point_is_in_the_way(project: Project):
    builders.hold_point(project, "H01", activity="A02", stops=["A03"])
    kinds = [one.kind for one in work(project, "A03").open]
    assert kinds == ["inspection", "hold"]
    hold = work(project, "A03").open[1]
    assert (hold.who, hold.by_on) == ("Engineer", date(2027, 2, 4))


def test_entered_needs_come_first_and_are_overdue_after_their_day(project: Project):
    add(project, "A03", "Road closed", date(2027, 1, 28))
    add(project, "A03", "Pump booked", TODAY)
    told = [(one.what, one.overdue) for one in work(project, "A03").entered]
    assert told == [("Road closed", True), ("Pump booked", False)]
    assert [need.what for need in reads.overdue(project, TODAY)] == ["Road closed"]


def test_what_is_there_is_in_nobodys_way_and_can_be_taken_back(project: Project, lead: User):
    need = add(project, "A04", "Deposit paid")
    assert not work(project, "A04").ready
    needs.clear(need, by=lead, **TOLD)
    needs.clear(need, by=lead, **TOLD)
    assert work(project, "A04").ready and work(project, "A04").cleared == 1
    assert TrailEntry.objects.filter(project=project, subject="need", verb="cleared").count() == 1
    needs.reopen(need, by=lead, **TOLD)
    assert not work(project, "A04").ready


def test_what_was_never_needed_is_taken_off_and_put_back(project: Project, lead: User):
    need = add(project, "A04", "Deposit paid")
    needs.remove(need, by=lead, **TOLD)
    assert work(project, "A04").ready
    with pytest.raises(Refused, match="taken off"):
        needs.clear(need, by=lead, **TOLD)
    needs.put_back(need, by=lead, **TOLD)
    assert not work(project, "A04").ready


def test_a_need_says_what_and_which_kind(project: Project, lead: User):
    for what, kind, field in ((" ", "permit", "what"), ("Papers", "rumour", "kind")):
        with pytest.raises(Refused) as fault:
            add(project, "A03", what, kind=kind)
        assert fault.value.field == field
    assert not Need.objects.exists()


def test_the_size_of_the_plan_costs_no_queries(project: Project, django_assert_num_queries):
    builders.hold_point(project, "H01", activity="A02", stops=["A03"])
    for number in range(10, 30):
        builders.activity(project, f"A{number}", 2, ["A03"], trade="Steel")
        add(project, f"A{number}", "Bolts")
    with django_assert_num_queries(9):
        assert len(reads.works_of(reads.weeks(project, TODAY))) == 25


def test_a_trade_is_called_two_weeks_one_week_and_the_day_before(project: Project):
    """The plumber begins Mon 15 Feb; concrete begins the pour on Fri 5 Feb, which is a week from today."""
    works = reads.works_of(reads.weeks(project, TODAY))

    def told(today: date) -> list[tuple[str, date, int]]:
        return [(one.work.code, one.call.call_on, one.call.days_before) for one in reads.calls(project, works, today)]

    assert told(TODAY) == [("A03", TODAY, 7)]
    assert told(date(2027, 2, 1)) == [("A05", date(2027, 2, 1), 14), ("A03", date(2027, 2, 4), 1)]
    assert told(date(2027, 2, 8)) == [("A05", date(2027, 2, 8), 7), ("A05", date(2027, 2, 12), 1)]  # Sunday is Friday


@given(st.dates(date(2026, 1, 1), date(2028, 1, 1)), st.frozensets(st.integers(1, 7), min_size=1))
def test_calls_fall_on_days_that_are_worked_and_never_late(start: date, weekdays: frozenset[int]):
    calendar = Calendar("", weekdays)
    for call in calc.calls(start, calendar):
        assert (
            is_worked(calendar, call.call_on) and call.days_before <= (start - call.call_on).days < call.days_before + 7
        )


# --- The pages ------------------------------------------------------------------------------------------------


def at(name: str, project: Project, *args: object) -> str:
    return reverse(f"schedule:{name}", args=[project.slug, *args])


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_the_page_says_how_much_is_ready(client: Client, project: Project):
    add(project, "A03", "Road closed", date(2027, 1, 28))
    seen = words(client.get(at("ahead", project)))
    assert "4 activities begin by Sun 7 Mar 2027, 1 of them ready. 1 need is overdue." in seen
    assert "Calls to make this week" in seen and "begins in a week" in seen


def test_an_empty_plan_says_where_the_weeks_come_from(client: Client, lead: User):
    bare = builders.project(lead, name="Bare")
    assert "Nothing is planned for the coming six weeks." in words(client.get(at("ahead", bare)))


def test_a_need_is_added_cleared_and_undone_with_a_tap_each(client: Client, project: Project):
    activity = project.activities.get(code="A03")
    form = words(client.get(at("new_need", project) + f"?activity={activity.pk}"))
    assert f'<option value="{activity.pk}" selected>' in form and 'value="2027-02-05"' in form
    sent = {"activity": activity.pk, "what": "Pump booked", "kind": "plant", "who": "Site lead", "by_on": "2027-02-02"}
    answer = words(client.post(at("new_need", project), sent, follow=True))
    assert "A03 Pour needs: Pump booked." in answer
    need = Need.objects.get()
    answer = words(client.post(at("clear_need", project, need.pk), follow=True))
    assert "There: Pump booked." in answer and at("reopen_need", project, need.pk) in answer
    client.post(at("reopen_need", project, need.pk))
    assert Need.objects.get().cleared_on is None


def test_a_need_is_changed_and_keeps_the_day_it_was_raised(client: Client, project: Project):
    need = add(project, "A03", "Pump")
    sent = {"what": "Pump and hose", "kind": "plant", "who": "", "by_on": "2027-02-03"}
    client.post(at("edit_need", project, need.pk), sent)
    row = Need.objects.get()
    assert (row.what, row.kind, row.by_on, row.raised_on) == ("Pump and hose", "plant", date(2027, 2, 3), TODAY)


def test_later_weeks_are_short_unless_asked_for(client: Client, project: Project):
    add(project, "A05", "Wrench", date(2027, 2, 14))
    assert "Wrench" not in words(client.get(at("ahead", project)))
    assert "Wrench" in words(client.get(at("ahead", project) + "?whole=1"))


def test_a_trades_page_has_its_window_what_is_before_and_after_and_what_is_missing(client: Client, project: Project):
    seen = words(client.get(at("trade_page", project) + "?trade=Plumbing"))
    assert "Plumbing: on site between Mon 15 Feb 2027 and Tue 16 Feb 2027." in seen
    assert "Pour (5 Feb)" in seen and "Pump" in seen and "not ready" in seen and "A01" not in seen
    assert "£" not in seen  # a trade's page says nothing of money


def test_a_trade_without_work_and_no_trade_at_all(client: Client, project: Project):
    assert "Roofing has no work left in the plan." in words(client.get(at("trade_page", project) + "?trade=Roofing"))
    assert "Which trade?" in words(client.get(at("trade_page", project)))


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_others_read_and_change_nothing(project: Project, who: str, request: pytest.FixtureRequest):
    need = add(project, "A03", "Pump")
    client = signed_in(request.getfixturevalue(who))
    seen = words(client.get(at("ahead", project)))
    assert "Pump" in seen and "It is there" not in seen and "Add a need" not in seen
    for name in ("edit_need", "clear_need", "reopen_need", "remove_need", "put_back_need"):
        assert client.post(at(name, project, need.pk)).status_code == 403
    assert client.get(at("new_need", project)).status_code == 403


def test_a_need_of_another_project_is_not_found(project: Project, outsider: User):
    need = add(project, "A03", "Pump")
    elsewhere = Project.objects.exclude(pk=project.pk).get()
    client = signed_in(outsider)
    for name in ("edit_need", "clear_need", "reopen_need", "remove_need", "put_back_need"):
        assert client.post(at(name, elsewhere, need.pk)).status_code == 404
    assert Need.objects.get().cleared_on is None
