"""Calendars: what they let work on, what a closure moves, what is refused, and regions by name.

Dates are worked by hand: the plan starts on Fri 29 January 2027. Public holidays of Scotland in 2027: as its government lists bank
holidays (from memory: 1, 4 January, 26 March, 3 May, 31 May, 2 August, 30 November, 27 and 28 December).
"""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry
from schedule import regions, wording_calendars
from schedule.calc.calendars import Calendar
from schedule.models import Activity, Closure, Plan, WorkCalendar
from schedule.selectors import calendars as reads
from schedule.services import activities, calendars, drafting, effects, plan, starting
from schedule.services.calendars import CalendarDraft, ClosureDraft
from tests import builders
from tests.builders import NOW, TODAY

TOLD: dict[str, Any] = {"by": None, "now": NOW, "today": TODAY}


@pytest.fixture
def trades(project: Project) -> WorkCalendar:
    return builders.calendar(project)


@pytest.fixture
def dig(project: Project, trades: WorkCalendar) -> Activity:
    """Three days from Friday: Fri, Mon, Tue 2 February."""
    return builders.activity(project, "A01", 3)


def finish(project: Project) -> date | None:
    return Plan.objects.get(project=project).finish_on


class TestClosing:
    def test_a_closure_moves_what_rests_on_the_calendar(self, project: Project, trades: WorkCalendar, dig: Activity):
        closure = ClosureDraft(date(2027, 2, 1), date(2027, 2, 3), "crew away")
        _row, effect = effects.of(project, lambda: calendars.close(trades, closure, **TOLD))
        assert finish(project) == date(2027, 2, 5) and plan.drifted(project) == {}
        assert (effect.days, effect.moved) == (3, ("A01",))

    def test_the_trail_says_when_and_why(self, project: Project, trades: WorkCalendar):
        calendars.close(trades, ClosureDraft(date(2027, 2, 1), date(2027, 2, 3), "crew away"), **TOLD)
        row = TrailEntry.objects.get(project=project, subject="calendar", verb="closed")
        assert row.summary == "Closed the calendar Trades from Mon 1 Feb 2027 to Wed 3 Feb 2027: crew away"

    def test_to_rehearse_writes_nothing(self, project: Project, trades: WorkCalendar, dig: Activity):
        before = TrailEntry.objects.count()
        closure = ClosureDraft(date(2027, 2, 1), date(2027, 2, 3))
        effect = effects.rehearsed(project, lambda: calendars.close(trades, closure, **TOLD))
        assert effect.finish_after == date(2027, 2, 5) and finish(project) == date(2027, 2, 2)
        assert not Closure.objects.exists() and TrailEntry.objects.count() == before

    @pytest.mark.parametrize(
        ("field", "closure"),
        [
            ("last_on", ClosureDraft(date(2027, 2, 3), date(2027, 2, 1))),
            ("last_on", ClosureDraft(date(2027, 2, 3), date(2037, 2, 3))),
            ("first_on", ClosureDraft(date(1027, 2, 3), date(1027, 2, 3))),
            ("reason", ClosureDraft(date(2027, 2, 3), date(2027, 2, 3), "w" * 201)),
        ],
    )
    def test_what_is_no_closure_is_refused(
        self, project: Project, trades: WorkCalendar, dig: Activity, field: str, closure: ClosureDraft
    ):
        with pytest.raises(Refused) as caught:
            calendars.close(trades, closure, **TOLD)
        assert caught.value.field == field and not Closure.objects.exists() and finish(project) == date(2027, 2, 2)


class TestChanging:
    def test_the_first_calendar_becomes_the_projects_own_and_the_next_does_not(self, project: Project):
        first = builders.calendar(project, "Sundays", "7")
        builders.calendar(project, "Trades")
        assert Plan.objects.get(project=project).calendar == first
        assert builders.activity(project, "A01").early_start_on == date(2027, 1, 31)

    def test_weekdays_and_extra_days_move_dates(self, project: Project, trades: WorkCalendar, dig: Activity):
        draft = CalendarDraft("Trades", frozenset({1}), extra_days=(date(2027, 1, 30),))
        calendars.change(trades, draft, **TOLD)
        row = Activity.objects.get()
        assert (row.early_start_on, row.early_finish_on) == (date(2027, 1, 30), date(2027, 2, 8))  # Sat, Mon, Mon

    def test_public_holidays_are_not_worked(self, project: Project, trades: WorkCalendar):
        builders.activity(project, "A01", 2, not_before_on=date(2027, 3, 25))
        calendars.change(trades, replace(calendars.draft_of(trades), region="GB-SCT"), **TOLD)
        assert finish(project) == date(2027, 3, 29)  # Thu, not Good Friday, Mon: no bank holiday on Easter Monday there

    def test_the_second_of_two_is_told_what_stands(self, project: Project, trades: WorkCalendar):
        draft = CalendarDraft("Trades", frozenset({6}))
        calendars.change(trades, draft, version=trades.version, **TOLD)
        with pytest.raises(Stale) as caught:
            calendars.change(trades, replace(draft, weekdays=frozenset({7})), version=trades.version, **TOLD)
        assert caught.value.theirs["weekdays"] == ["6"] and WorkCalendar.objects.get().weekdays == "6"

    def test_a_closure_made_meanwhile_is_not_lost_to_an_old_form(self, project: Project, trades: WorkCalendar):
        calendars.close(trades, ClosureDraft(date(2027, 2, 1), date(2027, 2, 3)), **TOLD)
        with pytest.raises(Stale):
            calendars.change(trades, CalendarDraft("Trades", frozenset({1})), version=trades.version, **TOLD)
        assert Closure.objects.count() == 1

    @pytest.mark.parametrize(
        ("field", "draft"),
        [
            ("name", CalendarDraft(" ", frozenset({1}))),
            ("name", CalendarDraft("trades", frozenset({1}))),
            ("name", CalendarDraft("n" * 81, frozenset({1}))),
            ("weekdays", CalendarDraft("New", frozenset())),
            ("weekdays", CalendarDraft("New", frozenset({8}))),
            ("region", CalendarDraft("New", frozenset({1}), "ZZ")),
            ("region", CalendarDraft("New", frozenset({1}), "HolidayBase")),
            ("extra_days", CalendarDraft("New", frozenset({1}), extra_days=(date(1027, 1, 1),))),
            ("last_on", CalendarDraft("New", frozenset({1}), closures=(ClosureDraft(TODAY, date(2027, 1, 1)),))),
        ],
    )
    def test_what_cannot_stand_is_refused(
        self, project: Project, trades: WorkCalendar, field: str, draft: CalendarDraft
    ):
        with pytest.raises(Refused) as caught:
            calendars.add(project, draft, **TOLD)
        assert caught.value.field == field and WorkCalendar.objects.count() == 1


class TestRemoving:
    def test_one_that_is_worked_by_stays(self, project: Project, trades: WorkCalendar, dig: Activity):
        crane = builders.calendar(project, "Crane", "6")
        builders.activity(project, "A02", calendar="Crane")
        with pytest.raises(Refused, match="A02"):
            calendars.remove(crane, **TOLD)
        with pytest.raises(Refused, match="project itself"):
            calendars.remove(trades, **TOLD)
        assert WorkCalendar.objects.count() == 2

    def test_one_that_only_work_taken_out_went_by_goes(self, project: Project, trades: WorkCalendar):
        crane = builders.calendar(project, "Crane", "6")
        lift = builders.activity(project, "A02", calendar="Crane")
        activities.remove(lift, reason="no lift", **TOLD)
        calendars.remove(crane, **TOLD)
        assert [row.name for row in WorkCalendar.objects.all()] == ["Trades"]

    def test_a_calendar_of_another_project_is_not_there(self, project: Project, trades: WorkCalendar):
        other = builders.calendar(builders.project(builders.person("stranger")), "Theirs")
        with pytest.raises(Refused, match="not there"):
            calendars.work_by(project, other, **TOLD)


class TestStarting:
    def test_the_start_moves_everything(self, project: Project, trades: WorkCalendar, dig: Activity):
        starting.set_start(project, starts_on=date(2027, 2, 8), calendar="Trades", **TOLD)
        assert Activity.objects.get().early_start_on == date(2027, 2, 8) and plan.drifted(project) == {}

    def test_the_second_of_two_is_told(self, project: Project, trades: WorkCalendar):
        seen = Plan.objects.get(project=project).version
        starting.set_start(project, starts_on=date(2027, 2, 8), calendar="", version=seen, **TOLD)
        with pytest.raises(Stale) as caught:
            starting.set_start(project, starts_on=date(2027, 2, 9), calendar="", version=seen, **TOLD)
        assert caught.value.theirs["starts_on"] == date(2027, 2, 8)

    def test_a_calendar_that_is_not_there_is_refused(self, project: Project, trades: WorkCalendar):
        with pytest.raises(Refused) as caught:
            starting.set_start(project, starts_on=TODAY, calendar="Nobody's", **TOLD)
        assert caught.value.field == "calendar"


class TestWords:
    @pytest.mark.parametrize(
        ("weekdays", "words"),
        [
            ({1, 2, 3, 4, 5}, "Monday to Friday"),
            ({2, 4}, "Tuesday and Thursday"),
            ({6}, "Saturday"),
            ({1, 2, 3, 4, 5, 6, 7}, "every day"),
            ({1, 2, 4, 5}, "Monday, Tuesday, Thursday and Friday"),
        ],
    )
    def test_weekdays_are_said_as_people_do(self, weekdays: set[int], words: str):
        assert wording_calendars.weekdays(frozenset(weekdays), "en-GB") == words

    def test_the_place_is_named(self):
        told = wording_calendars.rules(Calendar("c", frozenset({1, 2, 3, 4, 5}), "US"), "en-GB")
        assert told == "Monday to Friday, without the public holidays of the United States"

    @pytest.mark.parametrize(
        ("typed", "code"),
        [
            ("Scotland", "GB-SCT"),
            ("scotland, united kingdom (GB-SCT)", "GB-SCT"),
            ("gb", "GB"),
            ("United States", "US"),
            ("it-bz", "IT-BZ"),
            ("", ""),
            ("Atlantis", None),
            ("HolidayBase", None),
        ],
    )
    def test_a_place_is_understood_by_name_and_by_code(self, typed: str, code: str | None):
        assert regions.understood(typed) == code

    def test_every_offered_place_is_understood_as_it_is_offered(self):
        labels = [(code, regions.label_of(code)) for code, _name in regions.offered()]
        assert len(labels) > 300 and [code for code, label in labels if regions.understood(label) != code] == []

    def test_the_holidays_of_a_place_are_listed_from_today(self):
        found = reads.holidays("GB-SCT", today=TODAY)
        assert [year for year, _days in found] == [2027, 2028]
        assert found[0][1][0] == (date(2027, 3, 26), "Good Friday")


class TestPage:
    def test_it_says_who_works_by_what(self, project: Project, trades: WorkCalendar, dig: Activity):
        builders.calendar(
            project,
            "Crane",
            "6",
            closures=[(date(2027, 1, 2), date(2027, 1, 2), "past"), (date(2027, 2, 6), date(2027, 2, 6), "wind")],
        )
        builders.activity(project, "A02", calendar="Crane")
        page = reads.page(project, today=TODAY)
        own, crane = page.calendars
        assert own.is_own and not crane.is_own and (own.users, crane.users, page.without) == (0, 1, 1)
        assert crane.coming == ((date(2027, 2, 6), date(2027, 2, 6), "wind"),)
        assert [week.worked for week in crane.weeks] == [1, 0, 1, 1, 1, 1, 1, 1]

    def test_it_takes_four_queries(self, project: Project, trades: WorkCalendar, django_assert_num_queries: Any):
        for number in range(5):
            builders.calendar(project, f"Crew {number}")
        with django_assert_num_queries(4):
            reads.page(project, today=TODAY)


def test_a_draft_survives_the_trail(project: Project):
    row = builders.calendar(
        project, "Crane", "6", region="GB", note="quay", closures=[(TODAY, TODAY, "wind")], extra_days=(TODAY,)
    )
    draft = calendars.draft_of(row)
    assert calendars.from_told(calendars.told(draft)) == draft


def test_an_activity_survives_the_trail(project: Project, trades: WorkCalendar):
    builders.activity(project, "A01")
    row = builders.activity(
        project, "A02", 4, [activities.LinkDraft("A01", "SS", -2, True)], calendar="Trades", not_before_on=TODAY
    )
    draft = drafting.draft_of(row)
    assert drafting.from_told(drafting.told(draft)) == draft
