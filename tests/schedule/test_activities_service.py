"""Adding, changing and taking out activities: what is written, what moves, what is refused, and that it can be undone.

Dates are worked by hand on a calendar of Monday to Friday: the plan starts on Fri 29 January 2027 (common practice, no source).
"""

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry
from schedule.calc import alter
from schedule.calc import network as engine
from schedule.models import Activity, HoldPoint, Link, Plan
from schedule.selectors import network as facts
from schedule.services import activities, drafting, plan
from schedule.services.activities import ActivityDraft, LinkDraft
from tests import builders
from tests.builders import NOW, TODAY

TOLD: dict[str, Any] = {"by": None, "now": NOW, "today": TODAY}


@pytest.fixture
def chain(project: Project) -> dict[str, Activity]:
    """Dig (3 days), pour (1), walls (4), one after the other; a fence of 2 days beside them."""
    builders.calendar(project)
    builders.activity(project, "A01", 3, name="Dig")
    builders.activity(project, "A02", 1, ["A01"], name="Pour")
    builders.activity(project, "A03", 4, ["A02"], name="Walls")
    builders.activity(project, "A04", 2, name="Fence")
    return {row.code: row for row in Activity.objects.filter(project=project)}


def again(activity: Activity) -> Activity:
    return Activity.objects.get(pk=activity.pk)


def draft(activity: Activity, **changes: Any) -> ActivityDraft:
    return replace(drafting.draft_of(again(activity)), **changes)


class TestAdding:
    def test_dates_follow_from_links_and_calendar(self, project: Project, chain: dict[str, Activity]):
        dates = {
            row.code: (row.early_start_on, row.early_finish_on) for row in Activity.objects.filter(project=project)
        }
        assert dates == {
            "A01": (date(2027, 1, 29), date(2027, 2, 2)),
            "A02": (date(2027, 2, 3), date(2027, 2, 3)),
            "A03": (date(2027, 2, 4), date(2027, 2, 9)),
            "A04": (date(2027, 1, 29), date(2027, 2, 1)),
        }
        assert Plan.objects.get(project=project).finish_on == date(2027, 2, 9)
        assert again(chain["A04"]).float_days == 6 and not again(chain["A04"]).critical and plan.drifted(project) == {}

    def test_many_may_wait_for_each_other_in_any_order(self, project: Project):
        drafts = [ActivityDraft("B2", "Later", 1, after=(LinkDraft("B1"),)), ActivityDraft("B1", "Sooner", 1)]
        made = activities.add_many(project, drafts, **TOLD)
        assert [row.code for row in made] == ["B2", "B1"] and made[1].early_finish_on < made[0].early_start_on

    def test_nothing_is_written_where_one_of_many_is_refused(self, project: Project):
        drafts = [ActivityDraft("B1", "Good", 1), ActivityDraft("B2", "Bad", 1, after=(LinkDraft("B9"),))]
        with pytest.raises(Refused, match="B2 waits for B9"):
            activities.add_many(project, drafts, **TOLD)
        assert Activity.objects.filter(project=project).count() == 0 == Plan.objects.filter(project=project).count()

    def test_a_trail_row_says_what_was_added(self, project: Project):
        made = builders.activity(project, "B1", name="Dig")
        row = TrailEntry.objects.get(project=project, subject="activity", verb="added")
        assert row.subject_id == made.pk and row.summary == "Added the activity B1 Dig"
        assert [one["code"] for one in row.details["added"]] == ["B1"]

    def test_adding_nothing_leaves_no_trace(self, project: Project):
        assert activities.add_many(project, [], **TOLD) == []
        assert not TrailEntry.objects.filter(project=project, subject="activity").exists()

    @pytest.mark.parametrize(
        ("field", "changes"),
        [
            ("code", {"code": " "}),
            ("code", {"code": "A;1"}),
            ("code", {"code": "A01"}),
            ("code", {"code": "A" * 13}),
            ("name", {"name": ""}),
            ("name", {"name": "n" * 161}),
            ("days", {"days": -1}),
            ("days", {"days": 3_651}),
            ("days", {"days": 1, "kind": "milestone"}),
            ("notice_days", {"notice_days": -1}),
            ("kind", {"kind": "party"}),
            ("calendar", {"calendar": "Nobody's"}),
            ("not_before_on", {"not_before_on": date(1066, 10, 14)}),
            ("after", {"after": (LinkDraft("A09"),)}),
            ("after", {"after": (LinkDraft("A01", "XX"),)}),
            ("after", {"after": (LinkDraft("A01"), LinkDraft("A01", lag_days=2))}),
            ("after", {"after": (LinkDraft("A01", lag_days=4_000),)}),
            ("after", {"after": (LinkDraft("B1"),)}),
        ],
    )
    def test_what_cannot_stand_is_refused_at_its_field(
        self, project: Project, chain: dict[str, Activity], field: str, changes: dict[str, Any]
    ):
        with pytest.raises(Refused) as caught:
            activities.add(project, ActivityDraft(**{"code": "B1", "name": "New", "days": 1} | changes), **TOLD)
        assert caught.value.field == field and Activity.objects.filter(project=project).count() == 4


class TestChanging:
    def test_what_follows_moves(self, project: Project, chain: dict[str, Activity]):
        activities.change(chain["A01"], draft(chain["A01"], days=8), reason="rock", **TOLD)
        assert again(chain["A03"]).early_finish_on == date(2027, 2, 16) == Plan.objects.get(project=project).finish_on
        assert plan.drifted(project) == {}

    def test_the_trail_holds_what_stood_before_and_why(self, project: Project, chain: dict[str, Activity]):
        activities.change(chain["A01"], draft(chain["A01"], days=8), reason="rock", **TOLD)
        row = TrailEntry.objects.get(project=project, subject="activity", verb="changed")
        assert row.summary == "Changed the activity A01 Dig: rock"
        assert (row.details["before"]["days"], row.details["after"]["days"], row.details["reason"]) == (3, 8, "rock")

    def test_a_circle_is_refused_with_its_members_and_nothing_is_changed(
        self, project: Project, chain: dict[str, Activity]
    ):
        with pytest.raises(Refused) as caught:
            activities.change(chain["A01"], draft(chain["A01"], days=9, after=(LinkDraft("A03"),)), **TOLD)
        assert all(name in caught.value.message for name in ("A01 Dig", "A02 Pour", "A03 Walls"))
        assert again(chain["A01"]).days == 3 and not again(chain["A01"]).waits_for.exists()
        assert plan.drifted(project) == {}

    def test_the_second_of_two_is_told_what_stands(self, project: Project, chain: dict[str, Activity]):
        seen = chain["A01"].version
        activities.change(chain["A01"], draft(chain["A01"], days=8), version=seen, **TOLD)
        with pytest.raises(Stale) as caught:
            activities.change(chain["A01"], draft(chain["A01"], days=2), version=seen, **TOLD)
        assert caught.value.theirs["days"] == 8 and caught.value.theirs["version"] == seen + 1
        assert again(chain["A01"]).days == 8

    def test_the_code_stays(self, project: Project, chain: dict[str, Activity]):
        with pytest.raises(Refused) as caught:
            activities.change(chain["A01"], draft(chain["A01"], code="Z01"), **TOLD)
        assert caught.value.field == "code" and again(chain["A01"]).code == "A01"

    def test_an_activity_of_another_project_is_no_place_to_wait_for(self, project: Project, chain: dict[str, Activity]):
        other = builders.project(builders.person("stranger"))
        builders.activity(other, "X01")
        with pytest.raises(Refused, match="X01, which is not in the plan"):
            activities.change(chain["A01"], draft(chain["A01"], after=(LinkDraft("X01"),)), **TOLD)


class TestTakingOut:
    def test_what_followed_waits_for_what_it_waited_for(self, project: Project, chain: dict[str, Activity]):
        activities.remove(chain["A02"], reason="one pour less", **TOLD)
        assert [link.before for link in drafting.draft_of(again(chain["A03"])).after] == ["A01"]
        assert again(chain["A03"]).early_start_on == date(2027, 2, 3) and plan.drifted(project) == {}

    def test_the_bridge_keeps_the_lag_of_what_follows(self, project: Project, chain: dict[str, Activity]):
        activities.change(
            chain["A03"], draft(chain["A03"], after=(LinkDraft("A02", lag_days=2, lag_elapsed=True),)), **TOLD
        )
        activities.remove(chain["A02"], reason="one pour less", **TOLD)
        assert drafting.draft_of(again(chain["A03"])).after == (LinkDraft("A01", "FS", 2, True),)

    @pytest.mark.parametrize("coming", Link.Kind.values)
    @pytest.mark.parametrize("leaving", Link.Kind.values)
    def test_it_moves_dates_as_the_same_what_if_does(self, project: Project, coming: str, leaving: str):
        builders.activity(project, "A", 3)
        gone = builders.activity(project, "B", 2, [LinkDraft("A", coming, 4)])
        builders.activity(project, "C", 5, [LinkDraft("B", leaving, 1, True)])
        network = facts.read(project, Plan.objects.get(project=project), data_on=TODAY).network
        asked = engine.solve_network(alter.apply(network, alter.Alteration(remove=("B",)))).of("C")
        activities.remove(gone, reason="not needed", **TOLD)
        row = Activity.objects.get(project=project, code="C")
        assert (row.early_start_on, row.early_finish_on) == (asked.early_start, asked.early_finish)

    def test_the_trail_says_what_stood_and_which_links_bridge_it(self, project: Project, chain: dict[str, Activity]):
        activities.remove(chain["A02"], reason="one pour less", **TOLD)
        row = TrailEntry.objects.get(project=project, subject="activity", verb="removed")
        assert row.details["before"]["after"] == [["A01", "FS", 0, False]]
        assert row.details["bridged"] == [["A03", "A01", "FS"]]

    def test_what_has_begun_stays(self, project: Project, chain: dict[str, Activity]):
        Activity.objects.filter(pk=chain["A01"].pk).update(started_on=TODAY)
        with pytest.raises(Refused, match="has begun"):
            activities.remove(chain["A01"], reason="no", **TOLD)
        assert again(chain["A01"]).removed_on is None

    @pytest.mark.parametrize("place", ["looked at", "stops"])
    def test_what_a_hold_point_hangs_on_stays(self, project: Project, chain: dict[str, Activity], place: str):
        hold = HoldPoint.objects.create(project=project, code="H1", title="Bars", activity=chain["A01"])
        hold.hold_stops.create(activity=chain["A02"])
        taken = chain["A01"] if place == "looked at" else chain["A02"]
        with pytest.raises(Refused, match="H1 Bars hangs on"):
            activities.remove(taken, reason="no", **TOLD)
        assert again(taken).removed_on is None and Link.objects.filter(waiting=chain["A03"]).count() == 1

    def test_a_code_that_was_taken_out_comes_back_with_its_row(self, project: Project, chain: dict[str, Activity]):
        activities.remove(chain["A02"], reason="one pour less", **TOLD)
        back = activities.add(project, ActivityDraft("A02", "Pour after all", 2), **TOLD)
        assert back.pk == chain["A02"].pk and back.name == "Pour after all" and back.removed_on is None
        assert drafting.draft_of(again(chain["A03"])).after == (LinkDraft("A01"),)  # it does not wait for it by itself
        assert plan.drifted(project) == {}
