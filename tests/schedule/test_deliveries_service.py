"""Deliveries: what is written, what is refused, and how a report reaches the plan; dates worked by hand.

Fri 29 Jan 2027 is today. The trades work Monday to Friday; the chiller takes ten of their days, then it is installed in two.
"""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.http import Http404

from projects.faults import Refused, Stale
from projects.models import Project, TrailEntry, User
from schedule.models import Activity, Delivery, DeliveryStage
from schedule.selectors import deliveries as reads
from schedule.services import activities, plan, progress
from schedule.services import deliveries as services
from schedule.services.deliveries import DeliveryDraft, StageDraft
from tests import builders
from tests.builders import NOW, TODAY

MON = date(2027, 2, 1)
TOLD = {"now": NOW, "today": TODAY}


@pytest.fixture
def project(project: Project) -> Project:
    """Made from Fri 29 Jan to Thu 11 Feb, installed on Fri 12 and Mon 15 Feb; the opening is to be on Fri 26 Feb."""
    project.opens_on = date(2027, 2, 26)
    project.save(update_fields=["opens_on"])
    builders.calendar(project)
    builders.activity(project, "A01", 10, kind="delivery", name="Chiller made")
    builders.activity(project, "A02", 2, after=["A01"], name="Install chiller", trade="Plumbing")
    return project


def seen(project: Project, today: date = TODAY) -> reads.Arriving:
    return reads.board(project, today).rows[0]


def activity(project: Project, code: str = "A01") -> Activity:
    return project.activities.get(code=code)


def test_what_is_worked_out_for_a_thing_that_is_not_ordered(project: Project):
    """Done by Thu 11 Feb; needed Fri 12; two days less than the 26th for the install: latest Wed 24 Feb."""
    builders.delivery(project, approval_days=7)
    row = seen(project)
    assert (row.expected_on, row.needed_by, row.days_in_hand) == (date(2027, 2, 11), date(2027, 2, 12), 1)
    assert (row.latest_on, row.float_days) == (date(2027, 2, 24), 9)
    assert row.order is not None and row.order_for_work is not None
    assert row.order.order_on == date(2027, 2, 11)  # ten working days to Wed 24 Feb
    assert row.order_for_work.order_on == TODAY  # ten working days to Thu 11 Feb
    assert row.order.begin_on == row.order.order_on - timedelta(days=7)
    assert (row.state, row.days_to_order, row.days_to_plan) == ("soon", 6, -7)


def test_the_makers_calendar_and_the_road_count_where_they_are_given(project: Project):
    """Four of the maker's days, Tuesday to Thursday, then five days on the road: by Wed 24 Feb is made by Fri 19 Feb."""
    builders.calendar(project, "Maker", "234", closures=[(date(2027, 2, 17), date(2027, 2, 17), "moving house")])
    builders.delivery(project, lead_days=4, road_days=5, calendar="Maker")
    row = seen(project)
    assert row.order is not None and row.order.order_on == date(2027, 2, 10)  # Thu 18, Tue 16, Thu 11, Wed 10 Feb


def test_what_is_ordered_has_no_order_date_any_more(project: Project):
    builders.delivery(project, ordered_on=date(2027, 1, 20))
    row = seen(project)
    assert (row.order, row.order_for_work, row.jump, row.days_to_order) == (None, None, None, None)
    assert row.state == "in time" and row.spare_days == 13  # from Thu 11 to Wed 24 Feb


def test_a_board_is_read_in_six_queries_whatever_its_length(project: Project, django_assert_num_queries):
    for number in range(3, 9):
        builders.activity(project, f"A0{number}", number, kind="delivery")
        builders.delivery(project, f"A0{number}", f"Thing {number}", stages=(StageDraft("ordered"),))
    with django_assert_num_queries(6):
        assert len(reads.board(project, TODAY).rows) == 6


def test_the_most_urgent_comes_first_and_what_is_there_last(project: Project, lead: User):
    builders.activity(project, "A03", 15, kind="delivery")
    builders.activity(project, "A04", 1, kind="delivery")
    builders.delivery(project, "A03", "Late")
    there = builders.delivery(project, "A04", "There")
    builders.delivery(project)
    services.report(there, StageDraft("on_site", done_on=TODAY), finish=True, by=lead, **TOLD)
    board = reads.board(project, TODAY)
    assert [row.item for row in board.rows] == ["Late", "Chiller", "There"]
    assert [row.days_to_order for row in board.waited_for] == [10, 13]  # Mon 8 and Thu 11 Feb, for the opening
    assert board.next_order is not None and board.next_order.item == "Chiller"  # work waits for it from today


# --- Writing --------------------------------------------------------------------------------------------------


def test_adding_leaves_the_plan_alone_and_is_told_in_the_trail(project: Project, lead: User):
    before = list(project.activities.values_list("early_finish_on", flat=True))
    made = builders.delivery(project, stages=(StageDraft("ordered"), StageDraft("on_site", due_on=MON, paper="permit")))
    assert list(project.activities.values_list("early_finish_on", flat=True)) == before
    told = TrailEntry.objects.filter(project=project, subject="delivery").get()
    assert (told.subject_id, told.by, told.verb) == (made.pk, lead, "added")
    assert [stage.kind for stage in made.stages.all()] == ["ordered", "on_site"]


@pytest.mark.parametrize(
    ("draft", "field"),
    [
        (DeliveryDraft(" "), "item"),
        (DeliveryDraft("Chiller", lead_days=5_000), "lead_days"),
        (DeliveryDraft("Chiller", road_days=-1), "road_days"),
        (DeliveryDraft("Chiller", ordered_on=MON), "ordered_on"),
        (DeliveryDraft("Chiller", earliest_on=MON, latest_on=TODAY), "latest_on"),
        (DeliveryDraft("Chiller", calendar="nobody"), "calendar"),
        (DeliveryDraft("Chiller", stages=(StageDraft("flown"),)), "kind"),
        (DeliveryDraft("Chiller", stages=(StageDraft("sent", done_on=MON),)), "done_on"),
    ],
)
def test_what_cannot_be_is_refused_at_its_place(project: Project, lead: User, draft: DeliveryDraft, field: str):
    with pytest.raises(Refused) as fault:
        services.add(activity(project), draft, by=lead, **TOLD)
    assert fault.value.field == field and not Delivery.objects.exists()


def test_an_activity_has_one_delivery(project: Project, lead: User):
    builders.delivery(project)
    with pytest.raises(Refused, match="has a delivery already"):
        builders.delivery(project)


def test_what_was_taken_off_may_be_added_anew_or_put_back(project: Project, lead: User):
    made = builders.delivery(project, maker="Frostholm")
    services.remove(made, by=lead, **TOLD)
    assert reads.board(project, TODAY).rows == ()
    services.put_back(made, by=lead, **TOLD)
    assert seen(project).row.maker == "Frostholm"
    services.remove(made, by=lead, **TOLD)
    again = builders.delivery(project, item="Another chiller")
    assert again.pk == made.pk and seen(project).item == "Another chiller"


def test_a_change_writes_stages_anew_and_keeps_what_stood_in_the_trail(project: Project, lead: User):
    made = builders.delivery(project, stages=(StageDraft("ordered"), StageDraft("sent")))
    draft = replace(services.draft_of(made), maker="Frostholm", stages=(StageDraft("ordered", due_on=MON),))
    services.change(made, draft, by=lead, version=1, **TOLD)
    assert [(stage.kind, stage.due_on) for stage in made.stages.all()] == [("ordered", MON)]
    details = TrailEntry.objects.filter(project=project, verb="changed", subject="delivery").get().details
    assert (details["before"]["maker"], details["after"]["maker"]) == ("", "Frostholm")


def test_the_second_of_two_who_change_at_once_is_told(project: Project, lead: User):
    made = builders.delivery(project)
    draft = services.draft_of(made)
    services.change(made, replace(draft, maker="Frostholm"), by=lead, version=1, **TOLD)
    with pytest.raises(Stale) as fault:
        services.change(made, replace(draft, maker="Coldby"), by=lead, version=1, **TOLD)
    assert fault.value.theirs["maker"] == "Frostholm"
    assert Delivery.objects.get().maker == "Frostholm"


# --- Reports --------------------------------------------------------------------------------------------------


def test_on_site_finishes_the_activity_through_progress(project: Project, lead: User):
    made = builders.delivery(project)
    services.report(made, StageDraft("on_site", done_on=TODAY), finish=True, by=lead, **TOLD)
    row = activity(project)
    assert (row.started_on, row.finished_on) == (TODAY, TODAY)
    assert activity(project, "A02").early_start_on == MON  # the next working day
    assert plan.drifted(project) == {}
    assert (seen(project).state, seen(project).arrived_on) == ("there", TODAY)


def test_on_site_without_finishing_leaves_the_activity_to_whoever_reports_it(project: Project, lead: User):
    made = builders.delivery(project)
    services.report(made, StageDraft("on_site", done_on=TODAY), by=lead, **TOLD)
    assert activity(project).finished_on is None and seen(project).arrived_on == TODAY


@pytest.mark.parametrize("begun", [None, date(2027, 1, 29)])
def test_taking_a_report_back_restores_what_stood(project: Project, lead: User, begun: date | None):
    made = builders.delivery(project)
    if begun:
        progress.report(activity(project), started_on=begun, by=lead, **TOLD)
    before = list(project.activities.order_by("code").values_list("started_on", "finished_on", "early_finish_on"))
    services.report(made, StageDraft("on_site", done_on=TODAY), finish=True, by=lead, **TOLD)
    services.take_back(made, "on_site", by=lead, **TOLD)
    after = list(project.activities.order_by("code").values_list("started_on", "finished_on", "early_finish_on"))
    assert after == before and seen(project).arrived_on is None and plan.drifted(project) == {}


def test_the_order_is_reported_and_taken_back(project: Project, lead: User):
    made = builders.delivery(project)
    services.report(made, StageDraft("ordered", done_on=TODAY), by=lead, **TOLD)
    assert Delivery.objects.get().ordered_on == TODAY
    services.take_back(made, "ordered", by=lead, **TOLD)
    assert Delivery.objects.get().ordered_on is None


def test_nothing_reported_is_nothing_to_take_back(project: Project, lead: User):
    with pytest.raises(Refused, match="Nothing was reported"):
        services.take_back(builders.delivery(project), "sent", by=lead, **TOLD)


def test_papers_and_stages_that_are_late_are_named(project: Project, lead: User):
    stages = (StageDraft("sent", due_on=date(2027, 1, 28)), StageDraft("customs", paper="origin statement"))
    made = builders.delivery(project, stages=stages)
    row = seen(project)
    assert ([stage.kind for stage in row.late_stages], row.papers_missing) == (["sent"], ("origin statement",))
    services.report(made, StageDraft("customs", None, TODAY, "origin statement", True), by=lead, **TOLD)
    assert seen(project).papers_missing == () and DeliveryStage.objects.count() == 2


# --- The promised day -----------------------------------------------------------------------------------------


def test_the_promised_day_goes_into_the_plan_with_its_consequence_known_before(project: Project, lead: User):
    """Promised for Thu 18 Feb, five working days later: fifteen days; the install ends on Mon 22 Feb instead of Mon 15."""
    made = builders.delivery(project, promised_on=date(2027, 2, 18))
    assert seen(project).promised_later == 7
    assert reads.finish_with_promise(seen(project)) == (date(2027, 2, 15), date(2027, 2, 22))
    services.put_promise_into_plan(made, reason="A part is late", by=lead, **TOLD)
    assert (activity(project).days, activity(project).early_finish_on) == (15, date(2027, 2, 18))
    assert activity(project, "A02").early_finish_on == date(2027, 2, 22)
    assert seen(project).promised_later == 0 and plan.drifted(project) == {}
    assert TrailEntry.objects.filter(project=project, summary__contains="A part is late").exists()


def test_a_milestone_moves_to_the_promised_day(project: Project, lead: User):
    builders.activity(project, "A03", 0, kind="delivery")
    made = builders.delivery(project, "A03", promised_on=date(2027, 2, 10))
    before = seen(project) if seen(project).pk == made.pk else None
    assert before is not None and reads.finish_with_promise(before)[1] == date(2027, 2, 15)
    services.put_promise_into_plan(made, reason="As promised", by=lead, **TOLD)
    assert activity(project, "A03").early_finish_on == date(2027, 2, 10)


def test_a_promise_that_cannot_be_put_in_is_refused(project: Project, lead: User):
    made = builders.delivery(project)
    with pytest.raises(Refused, match="No day is promised"):
        services.put_promise_into_plan(made, reason="x", by=lead, **TOLD)
    made = services.change(made, DeliveryDraft("Chiller", promised_on=date(2027, 1, 4)), by=lead, **TOLD)
    with pytest.raises(Refused, match="before the work on it begins"):
        services.put_promise_into_plan(made, reason="x", by=lead, **TOLD)


def test_a_calendar_that_does_not_reach_so_far_is_said_and_breaks_nothing(project: Project):
    """Public holidays are known up to 2100; 3,650 Mondays without them take until after that."""
    builders.calendar(project, "Maker", "1", region="GB-ENG")
    builders.delivery(project, lead_days=3_650, calendar="Maker")
    assert "2100" in seen(project).fault and (seen(project).order, seen(project).jump) == (None, None)
    assert seen(project).state == "in time"


def test_a_promise_in_another_century_is_refused(project: Project, lead: User):
    made = builders.delivery(project, promised_on=date(2150, 12, 31))
    before, after = reads.finish_with_promise(seen(project))
    assert before == date(2027, 2, 15) and after is not None and after.year == 2151
    with pytest.raises(Refused, match="between 0 and 3650 days"):
        services.put_promise_into_plan(made, reason="x", by=lead, **TOLD)


def test_a_hold_point_keeps_a_thing_from_being_reported_done(project: Project, lead: User):
    builders.hold_point(project, activity="A02", stops=["A01"])
    made = builders.delivery(project)
    with pytest.raises(Refused):
        services.report(made, StageDraft("on_site", done_on=TODAY), finish=True, by=lead, **TOLD)
    assert seen(project).arrived_on is None and activity(project).started_on is None


def test_what_hung_on_work_that_is_gone_is_not_put_back(project: Project, lead: User):
    made = builders.delivery(project)
    services.remove(made, by=lead, **TOLD)
    activities.remove(activity(project), reason="Bought from stock", by=lead, **TOLD)
    with pytest.raises(Refused, match="not in the plan"):
        services.put_back(made, by=lead, **TOLD)


def test_a_delivery_of_another_project_is_not_found(project: Project, outsider: User):
    made = builders.delivery(project)
    elsewhere = Project.objects.exclude(pk=project.pk).get()
    for read in (reads.row_of, lambda held, pk: reads.one(held, pk, TODAY)):
        with pytest.raises(Http404):
            read(elsewhere, made.pk)
