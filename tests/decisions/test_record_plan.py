"""A decision and the plan: what it was chosen on, what it puts in, and what reopening takes out (ADR 0406)."""

import json
from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from decisions.models import Decision, OptionPlan, Record, RecordPlan
from decisions.selectors import board as boards
from decisions.selectors import deciding, overview, pages
from decisions.selectors import records as reads
from decisions.services import plan as ties
from decisions.services import record_plan, records
from decisions.services.drafts import OptionDraft, add_option
from projects.faults import Refused, Stale
from projects.models import Project, Role, User
from schedule.models import Activity, Plan
from schedule.services import activities, progress
from schedule.services import plan as sequence
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building

pytestmark = pytest.mark.django_db


@pytest.fixture
def tank(project: Project) -> Decision:
    """Plinth or frame; from Friday 29 January: answer, then the frame set 5 days, beside a slab of 15, then filling 2.

    Every day is worked: the slab ends on 12 February, filling on 14 February. Answered today, the frame is set from the 30th
    to 3 February, with 9 days of float.
    """
    project.starts_on = TODAY
    project.cost_of_day_minor = 900_00
    project.save(update_fields=["starts_on", "cost_of_day_minor"])
    asked = building.tank(project)
    builders.calendar(project, "All days", "1234567")
    answer = builders.activity(project, "A1", 0, kind="decision")
    setting = builders.activity(project, "A2", 5, after=["A1"])
    builders.activity(project, "A3", 15)
    builders.activity(project, "A4", 2, after=["A2", "A3"])
    ties.tie_decision(asked, [answer, setting], by=builders.lead_of(project), now=NOW)
    return asked


def option(asked: Decision, name: str, changes: dict[str, object], amount: int = 14_000, **more: object):
    line = asked.lines.get()
    draft = OptionDraft(name, (building.priced(line, amount=amount),), changes=changes, **more)  # type: ignore[arg-type]
    return add_option(asked, draft, by=builders.lead_of(asked.project), now=NOW, today=TODAY)


def finish(project: Project) -> date | None:
    return Plan.objects.get(project=project).finish_on


def days(project: Project, code: str) -> int:
    return Activity.objects.get(project=project, code=code).days


def reopen(asked: Decision) -> None:
    who = building.as_lead(asked.project)
    records.reopen(asked, reason="wrong steel", by=who["by"], now=NOW, today=TODAY)


def test_an_option_is_compared_by_what_it_does_to_the_opening(tank: Decision):
    """8 days of setting use 3 of 9; 18 use all 9 and move the opening 4 days, 3,600."""
    option(tank, "Kerbs", {"duration": {"A2": 8}})
    option(tank, "Piers", {"duration": {"A2": 18}})
    seen = {row.id: row for row in boards.board(tank, today=TODAY).comparison.options}
    kerbs, piers = seen["C"], seen["D"]
    assert (kerbs.finish, kerbs.days_later, kerbs.float_used, kerbs.cost_of_days_minor) == (date(2027, 2, 14), 0, 3, 0)
    assert (piers.finish, piers.days_later, piers.float_used, piers.cost_of_days_minor) == (
        date(2027, 2, 18),
        4,
        9,
        3_600_00,
    )
    assert (seen["A"].finish, seen["A"].days_later) == (None, 0)  # its days are given by hand


def test_recording_puts_it_into_the_plan_and_reopening_takes_it_out(tank: Decision):
    option(
        tank,
        "Piers",
        {"duration": {"A2": 18}, "add": [{"id": "N1", "name": "Cure", "duration": 1, "after": [{"id": "A4"}]}]},
    )
    before = finish(tank.project)
    made = building.record(tank, "C")
    assert finish(tank.project) == date(2027, 2, 19) and days(tank.project, "A2") == 18
    assert Activity.objects.get(code="N1").name == "Cure"
    answer = Activity.objects.get(code="A1")
    assert (answer.started_on, answer.finished_on) == (TODAY, TODAY)
    assert RecordPlan.objects.get(record=made).changes["duration"] == {"A2": 18}
    reopen(tank)
    assert finish(tank.project) == before and days(tank.project, "A2") == 5
    answer.refresh_from_db()
    assert (answer.started_on, answer.finished_on) == (None, None)
    assert Activity.objects.get(code="N1").removed_on == TODAY
    assert sequence.drifted(tank.project) == {} and record_plan.left_alone(tank) == ()


def test_an_answer_before_its_day_is_compared_as_of_today(tank: Decision):
    """The plan has the answer on 12 February: 18 days from the 13th. Given today, they begin on 30 January."""
    row, by = Activity.objects.get(code="A1"), builders.lead_of(tank.project)
    later = replace(activities.draft_of(row), not_before_on=date(2027, 2, 12))
    activities.change(row, later, by=by, now=NOW, today=TODAY)
    option(tank, "Piers", {"duration": {"A2": 18}})
    seen = {one.id: one for one in boards.board(tank, today=TODAY).comparison.options}
    assert seen["C"].finish == date(2027, 2, 18)
    building.record(tank, "C")
    assert finish(tank.project) == seen["C"].finish


def test_an_answer_alone_is_done_on_the_day_of_the_decision(tank: Decision):
    building.record(tank, "B")
    assert Activity.objects.get(code="A1").finished_on == TODAY
    assert RecordPlan.objects.get().before == {"answer": {"code": "A1", "started": None}}
    reopen(tank)
    assert Activity.objects.get(code="A1").finished_on is None


def test_an_answer_that_is_done_already_is_left(tank: Decision):
    who = building.as_lead(tank.project)
    row = Activity.objects.get(code="A1")
    progress.report(row, started_on=TODAY, finished_on=TODAY, by=who["by"], now=NOW, today=TODAY)
    building.record(tank, "B")
    assert not RecordPlan.objects.exists()
    reopen(tank)
    assert Activity.objects.get(code="A1").finished_on == TODAY


def test_what_somebody_changed_since_is_left_and_named(tank: Decision):
    option(tank, "Piers", {"duration": {"A2": 18}})
    building.record(tank, "C")
    row, by = Activity.objects.get(code="A2"), builders.lead_of(tank.project)
    activities.change(row, replace(activities.draft_of(row), days=16), reason="quicker", by=by, now=NOW, today=TODAY)
    reopen(tank)
    assert days(tank.project, "A2") == 16
    (left,) = record_plan.left_alone(tank)
    assert "A2" in left


def test_a_record_that_waits_changes_the_plan_when_it_is_approved(tank: Decision, owner: User):
    from projects.models import ApprovalLimit

    project = tank.project
    ApprovalLimit.objects.update_or_create(project=project, role=Role.LEAD, defaults={"amount_minor": 1_000_00})
    option(tank, "Piers", {"duration": {"A2": 18}})
    made = building.record(tank, "C")
    assert made.needs_approval and days(project, "A2") == 5 and not RecordPlan.objects.exists()
    told = {"by": owner, "role": Role.OWNER, "now": NOW, "today": TODAY}
    records.approve(made, verdict="approved", note="", **told)
    assert days(project, "A2") == 18 and finish(project) == date(2027, 2, 18)


def test_the_record_keeps_what_it_was_chosen_on(tank: Decision):
    option(tank, "Piers", {"duration": {"A2": 18}})
    made = building.record(tank, "C")
    frozen = json.loads(made.frozen)["options"][2]["plan"]
    assert frozen == {
        "changes": {"duration": {"A2": 18}},
        "fault": "",
        "without": "2027-02-14",
        "finish": "2027-02-18",
        "moved_days": 4,
        "float_days": 9,
        "float_used": 9,
    }
    page = reads.record_page(tank.project, made.pk)
    assert page.intact
    time = next(group for group in page.sheet.groups if group.title == "Time")
    words = [row.cells[2].value for row in time.rows]
    assert words == [date(2027, 2, 18), "uses all 9 working days of float, opening 4 days later", 3_600_00]


def test_older_records_are_shown_without_a_plan(tank: Decision):
    """A record from before the plan was compared has no `plan` in it; the page lays it out all the same."""
    made = building.record(tank, "A")
    assert "plan" not in made.frozen
    page = reads.record_page(tank.project, made.pk)
    assert page.intact and not any(group.title == "Time" for group in page.sheet.groups)


def test_what_is_confirmed_is_what_was_shown(tank: Decision):
    option(tank, "Piers", {"duration": {"A2": 18}})
    choice, who = building.choose(tank, "C"), building.as_lead(tank.project)
    shown = records.rehearse(tank, choice, **who)
    assert shown.option["plan"]["finish"] == "2027-02-18" and shown.answer == "A1 Work A1"
    assert days(tank.project, "A2") == 5 and Activity.objects.get(code="A1").finished_on is None
    row, by = Activity.objects.get(code="A3"), who["by"]
    activities.change(row, replace(activities.draft_of(row), days=16), reason="rain", by=by, now=NOW, today=TODAY)
    with pytest.raises(Stale):
        records.record(tank, choice, seen=shown.seen, **who)


def test_changes_that_do_not_fit_any_more_are_told_and_not_recorded(tank: Decision):
    option(tank, "Piers", {"duration": {"A2": 18}})
    row, by = Activity.objects.get(code="A2"), builders.lead_of(tank.project)
    activities.remove(row, reason="not built", by=by, now=NOW, today=TODAY)
    content = pages.decision_page(Decision.objects.get(pk=tank.pk), today=TODAY).content
    assert "A2" in content["options"][2]["plan"]["fault"]
    with pytest.raises(Refused, match="A2"):
        building.record(tank, "C")
    assert not Record.objects.exists()


def test_days_that_are_saved_are_told_and_not_counted(tank: Decision):
    """The slab of 15 done in 10 opens 5 days earlier: 4,500 spared, of which the savings book knows nothing."""
    option(tank, "Quick slab", {"duration": {"A3": 10}})
    made = building.record(tank, "C")
    outcome = json.loads(made.frozen)["options"][2]["outcome"]
    assert (outcome["days_later"], outcome["cost_of_days_minor"]) == (-5, -4_500_00)
    assert [row.amount_minor for row in made.savings.all()] == [6_000_00]  # 20,000 quoted first, 14,000 now


def test_an_option_that_leaves_the_plan_again(tank: Decision):
    from decisions.services.drafts import edit_option

    row = option(tank, "Piers", {"duration": {"A2": 18}})
    draft = OptionDraft("Piers", (building.priced(tank.lines.get(), amount=14_000),), extra_days=2)
    edit_option(row, draft, version=row.version, by=builders.lead_of(tank.project), now=NOW, today=TODAY)
    assert not OptionPlan.objects.exists()


# --- until when -------------------------------------------------------------------------------------------------


def page_of(asked: Decision) -> pages.DecisionPage:
    return pages.decision_page(Decision.objects.get(pk=asked.pk), today=TODAY)


def test_the_three_dates_of_a_decision(tank: Decision):
    """Both quotes hold for 30 days. Setting may start on 30 January at the earliest, and on 8 February at the latest.

    The answer falls on 29 January; after 7 February, or after 27 January with 11 days of lead time, the opening moves.
    """
    deadline = page_of(tank).deadline
    assert deadline is not None and deadline.ties.stated
    dates = deadline.dates
    assert dates.best_price_until == TODAY + timedelta(days=30)
    assert (dates.no_harm_until, dates.too_late_after, dates.first) == (TODAY, date(2027, 2, 7), "A2")
    option(tank, "Long lead", {}, lead_days=11)
    dates = deciding.deadlines([boards.board(tank, today=TODAY)], today=TODAY)[tank.pk].dates
    assert dates.by_option["C"] == date(2027, 1, 27) == dates.too_late_after


def test_work_of_its_lines_waits_where_nothing_is_tied(tank: Decision):
    by = builders.lead_of(tank.project)
    ties.tie_decision(tank, [], by=by, now=NOW)
    assert page_of(tank).deadline.dates.too_late_after is None  # type: ignore[union-attr]
    ties.tie_lines(Activity.objects.get(code="A2"), [tank.lines.get()], by=by, now=NOW)
    deadline = page_of(tank).deadline
    assert deadline is not None and not deadline.ties.stated
    assert deadline.dates.too_late_after == date(2027, 2, 7)


def test_work_that_follows_the_answer_waits_where_only_the_answer_is_tied(tank: Decision):
    ties.tie_decision(tank, [Activity.objects.get(code="A1")], by=builders.lead_of(tank.project), now=NOW)
    deadline = page_of(tank).deadline
    assert deadline is not None and [work.code for work in deadline.ties.works] == ["A2"]


def test_what_waiting_costs(tank: Decision):
    """An answer on 5 February lets setting start on the 6th, 7 days late; on the 12th it ends on the 17th, 5 days late."""
    one, two, *_more = page_of(tank).waiting
    assert (one.on, one.float_used, one.float_days, one.moved_days) == (date(2027, 2, 5), 7, 9, 0)
    assert (two.float_used, two.moved_days, two.days_minor) == (9, 5, 4_500_00)


def test_a_decision_without_work_waits_for_its_quotes_alone(project: Project):
    page = page_of(building.tank(project))
    assert page.deadline is not None and page.deadline.dates.too_late_after is None
    assert [len(point.expired) for point in page.waiting] == [0, 0, 0, 0, 2, 2, 2, 2]


@pytest.mark.parametrize("count", [1, 4])
def test_the_list_takes_the_plan_once(tank: Decision, count: int, django_assert_max_num_queries):
    setting, by = Activity.objects.get(code="A2"), builders.lead_of(tank.project)
    for place in range(count):
        other = builders.decision(builders.line(tank.project, f"L9{place}"))
        ties.tie_decision(other, [setting], by=by, now=NOW)
    with django_assert_max_num_queries(18):
        found = overview.choices(tank.project, today=TODAY)
    assert all(row.deadline.dates.too_late_after for row in found.open)


def test_the_page_of_an_open_decision_takes_few_queries(tank: Decision, django_assert_max_num_queries):
    option(tank, "Piers", {"duration": {"A2": 18}})
    asked = Decision.objects.select_related("project").get(pk=tank.pk)
    with django_assert_max_num_queries(16):
        pages.decision_page(asked, today=TODAY)


def test_the_pages_say_it(tank: Decision, lead: User):
    option(tank, "Piers", {"duration": {"A2": 18}})
    client = builders.signed_in(lead)
    shown = client.get(reverse("decisions:decision", args=[tank.project.slug, tank.pk])).content.decode()
    for words in ("Too late after", "No harm until", "uses all 9 working days of float, opening 4 days later",
                  "moves the opening by 5 days: £4,500"):  # fmt: skip
        assert words in shown
    listed = client.get(reverse("decisions:list", args=[tank.project.slug])).content.decode()
    assert "too late after 7 Feb" in " ".join(listed.split())
    address = reverse("decisions:record", args=[tank.project.slug, tank.pk])
    sent = {"option": building.key(tank, "C").pk, "version": tank.version + 1, "reason": "firm ground", "step": "show"}
    preview = client.post(address, sent).content.decode()
    assert "The opening moves from Sun 14 Feb 2027 to Thu 18 Feb 2027, 4 days later." in preview
    assert "A1 Work A1 is done with it." in preview
    assert Client().get(address).status_code == 302
