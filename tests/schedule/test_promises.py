"""The week's promises: made, kept or missed, closed and counted; what is refused, and what the pages say.

Fri 29 Jan 2027 is today, in the week of Mon 25 Jan.
"""

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from reports.demo import scenario
from schedule.calc.promises import Share
from schedule.models import Miss, Promise, PromiseWeek
from schedule.selectors import promises as reads
from schedule.services import needs
from schedule.services import promises as services
from schedule.services.promises import PromiseDraft
from tests import builders
from tests.builders import NOW, TODAY, signed_in

TOLD = {"now": NOW, "today": TODAY}
THIS = date(2027, 1, 25)
#: The demo's words for causes, and ours.
CAUSES = {
    "late answer from engineer": "answer", "crew short": "crew", "material late": "material", "weather": "weather",
    "earlier work unfinished": "work", "inspector absent": "inspector", "plant booking": "plant",
    "decision not made": "decision",
}  # fmt: skip


@pytest.fixture
def project(project: Project) -> Project:
    """A frame is set today and grouted on Mon 1 Feb; a tank is made until Thu 11 Mar."""
    builders.calendar(project)
    builders.activity(project, "A01", 1, trade="Steel", name="Set frame")
    builders.activity(project, "A02", 1, ["A01"], trade="Steel", name="Grout")
    builders.activity(project, "A03", 30, trade="Tank", name="Make tank")
    return project


@pytest.fixture
def client(lead: User) -> Client:
    return signed_in(lead)


def promised(project: Project, what: str = "Bolts drilled", week: date = THIS, **more: object) -> Promise:
    draft = PromiseDraft(week, what, **more)
    return services.promise(project, draft, by=builders.lead_of(project), **TOLD)


def mark(row: Promise, kept: bool | None, cause: str = "") -> Promise:
    return services.mark(row, kept=kept, cause=cause, by=builders.lead_of(row.project), **TOLD)


def close(project: Project, week: date = THIS) -> PromiseWeek:
    return services.close(project, week, by=builders.lead_of(project), **TOLD)


# --- Making and marking ---------------------------------------------------------------------------------------


def test_an_activity_is_promised_in_its_own_words_for_its_week(project: Project):
    row = promised(project, "", TODAY, activity_id=project.activities.get(code="A01").pk)
    assert (row.what, row.who, row.week_on) == ("Set frame", "Steel", THIS)
    assert TrailEntry.objects.filter(project=project, subject="promise", subject_id=row.pk).count() == 1


def test_a_promise_of_nothing_and_of_an_activity_that_is_not_there_are_refused(project: Project):
    for draft, field in ((PromiseDraft(THIS), "what"), (PromiseDraft(THIS, "x", activity_id=10**6), "activity")):
        with pytest.raises(Refused) as fault:
            services.promise(project, draft, by=builders.lead_of(project), **TOLD)
        assert fault.value.field == field
    assert not Promise.objects.exists()


def test_a_miss_has_one_cause_and_what_is_kept_has_none(project: Project):
    row = promised(project)
    with pytest.raises(Refused, match="stood in the way"):
        mark(row, False)
    assert mark(row, False, "crew").cause == "crew"
    assert mark(row, True, "crew").cause == ""
    assert mark(row, None).kept is None


def test_what_was_never_promised_is_taken_off_and_put_back(project: Project, lead: User):
    row = promised(project)
    services.remove(row, by=lead, **TOLD)
    assert reads.week(project, TODAY, TODAY).rows == ()
    services.put_back(row, by=lead, **TOLD)
    assert [one.what for one in reads.week(project, TODAY, TODAY).rows] == ["Bolts drilled"]


# --- Closing --------------------------------------------------------------------------------------------------


def test_a_week_is_closed_once_every_promise_is_told_and_then_stays(project: Project, lead: User):
    kept, missed = promised(project, "One"), promised(project, "Two")
    mark(kept, True)
    with pytest.raises(Refused, match="Say first whether it was kept: Two"):
        close(project)
    mark(missed, False, "weather")
    row = close(project)
    assert (row.promised, row.kept, row.causes) == (2, 1, ["weather"])
    for deed in (
        lambda: close(project), lambda: mark(kept, False, "crew"), lambda: promised(project),
        lambda: services.remove(missed, by=lead, **TOLD),
    ):  # fmt: skip
        with pytest.raises(Refused, match="is closed"):
            deed()


def test_a_week_without_promises_or_not_begun_is_not_closed(project: Project):
    with pytest.raises(Refused, match="Nothing was promised"):
        close(project)
    mark(promised(project, week=date(2027, 2, 1)), True)
    with pytest.raises(Refused, match="has not begun"):
        close(project, date(2027, 2, 1))


@pytest.mark.parametrize(
    ("promised_", "kept", "causes", "field"),
    [
        (0, 0, [], "promised"),
        (5, 6, [], "kept"),
        (5, 3, ["crew"], "causes"),
        (5, 3, ["crew", "crew", "crew"], "causes"),
        (5, 4, ["gremlins"], "causes"),
    ],
)
def test_a_week_counted_on_paper_has_to_agree(
    project: Project, lead: User, promised_: int, kept: int, causes: list[str], field: str
):
    with pytest.raises(Refused) as fault:
        services.count_week(project, THIS, promised_, kept, causes, by=lead, **TOLD)
    assert fault.value.field == field and not PromiseWeek.objects.exists()


def test_a_week_with_promises_written_down_is_not_counted_on_paper(project: Project, lead: User):
    promised(project)
    with pytest.raises(Refused, match="Promises are written down"):
        services.count_week(project, THIS, 1, 1, [], by=lead, **TOLD)


class AnyWeek(TestCase):
    @settings(max_examples=10)
    @given(st.lists(st.one_of(st.just(""), st.sampled_from(Miss.values)), min_size=1, max_size=12))
    def test_a_closed_week_says_what_was_marked(self, marks: list[str]):
        """Of each promise "" is kept, a cause is missed."""
        project = builders.project(builders.person("lead"))
        for place, cause in enumerate(marks):
            mark(promised(project, f"Promise {place}"), not cause, cause)
        row = close(project)
        assert (row.promised, row.kept, row.causes) == (len(marks), marks.count(""), [one for one in marks if one])


# --- Figures --------------------------------------------------------------------------------------------------


def count_demo(project: Project) -> None:
    for week in scenario.read()["weekly_promises"]:
        causes = [CAUSES[text] for text in week["reasons_for_misses"]]
        services.count_week(
            project, date.fromisoformat(week["week_starting"]), week["promised"], week["done"], causes,
            by=builders.lead_of(project), **TOLD,
        )  # fmt: skip


def test_the_weeks_of_the_demo(project: Project, django_assert_num_queries):
    count_demo(project)
    with django_assert_num_queries(2):
        seen = reads.figures(project, TODAY)
    stated = scenario.read()["weekly_promises"]
    assert [week.share * 100 for week in seen.weeks if week.share] == [week["percent_done"] for week in stated]
    assert seen.kept == Share(72, 99)
    assert seen.causes[0] == ("crew short", 6) and sum(number for _cause, number in seen.causes) == 27


def test_only_the_last_eight_weeks_are_shown(project: Project, lead: User):
    for back in range(10):
        services.count_week(project, THIS - timedelta(weeks=back), 2, 2, [], by=lead, **TOLD)
    seen = reads.figures(project, TODAY)
    assert len(seen.weeks) == 8 and seen.weeks[-1].first_on == THIS


def test_what_is_due_today_is_not_counted_as_missing_yet(project: Project, lead: User):
    activity = project.activities.get(code="A02")
    for by_on in (TODAY, TODAY - timedelta(days=1)):
        needs.add(activity, what="Grout", kind="material", by_on=by_on, by=lead, **TOLD)
    seen = reads.figures(project, TODAY)
    assert seen.ready == Share(0, 1)
    assert seen.early.days == (3, 3) and seen.early.late == Share(2, 2)  # raised Friday for Monday


# --- The pages ------------------------------------------------------------------------------------------------


def at(name: str, project: Project, *args: object) -> str:
    return reverse(f"schedule:{name}", args=[project.slug, *args])


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_work_that_begins_or_ends_in_the_week_can_be_promised_with_a_tap(client: Client, project: Project):
    """The grout waits for the frame, and is promised all the same; the tank is made all through the next week."""
    seen = words(client.get(at("promises", project) + "?week=2027-02-03"))
    assert "Nothing is promised for the week of Mon 1 Feb 2027 yet." in seen
    assert "A02 Grout" in seen and "Still in the way: A01 Set frame" in seen and "A03" not in seen
    sent = {"week": "2027-02-03", "activity": project.activities.get(code="A02").pk}
    seen = words(client.post(at("make_promise", project), sent, follow=True))
    assert "Promised: Grout." in seen and "1 promise for the week of Mon 1 Feb 2027." in seen


def test_a_promise_in_words_is_kept_missed_and_opened_again(client: Client, project: Project):
    client.post(at("new_promise", project) + "?week=2027-01-25", {"what": "Bolts drilled", "who": "Steel"})
    row = Promise.objects.get()
    assert "Kept: Bolts drilled." in words(client.post(at("promise_kept", project, row.pk), follow=True))
    client.post(at("unmark_promise", project, row.pk))
    assert "Name the one thing" in words(client.get(at("promise_missed", project, row.pk)))
    assert client.post(at("promise_missed", project, row.pk), {"cause": ""}).status_code == 422
    seen = words(client.post(at("promise_missed", project, row.pk), {"cause": "crew"}, follow=True))
    assert "not kept" in seen and "crew short" in seen
    seen = words(client.post(at("close_week", project), {"week": "2027-01-25"}, follow=True))
    assert "Week of Mon 25 Jan 2027: 0 of 1 promises kept, 0%." in seen
    assert "is closed; its count stays" in words(client.post(at("promise_kept", project, row.pk), follow=True))


def test_a_week_on_paper_is_entered(client: Client, project: Project):
    zeros = {f"cause_{cause}": 0 for cause in Miss.values}
    sent = zeros | {"week_on": "2027-01-20", "promised": 15, "kept": 14, "cause_weather": 2}
    answer = client.post(at("count_week", project), sent)
    assert answer.status_code == 422 and "1 were not kept, and 2 causes are named" in words(answer)
    client.post(at("count_week", project), sent | {"cause_weather": 1})
    row = PromiseWeek.objects.get()
    assert (row.week_on, row.promised, row.kept, row.causes) == (date(2027, 1, 18), 15, 14, ["weather"])


def test_the_figures_stand_on_the_page(client: Client, project: Project):
    count_demo(project)
    seen = words(client.get(at("promises", project)))
    assert "Week of Mon 25 Jan 2027: 13 of 16 promises kept, 81.2%." in seen
    assert "72 of 99 (72.7%)" in seen and "The same as a table" in seen


@pytest.mark.parametrize("asked", ["", "?week=rubbish", "?week=9999-12-31", "?week=0001-01-01", "?week=2150-12-31"])
def test_any_week_may_be_asked_for(client: Client, project: Project, asked: str):
    assert client.get(at("promises", project) + asked).status_code == 200


@pytest.mark.parametrize("sent", [{}, {"activity": "x"}, {"activity": "99999999"}, {"week": "x", "activity": "-1"}])
def test_a_tap_that_makes_no_sense_promises_nothing(client: Client, project: Project, sent: dict[str, str]):
    answer = client.post(at("make_promise", project), sent, follow=True)
    assert answer.status_code == 200 and not Promise.objects.exists()


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_others_read_and_change_nothing(project: Project, who: str, request: pytest.FixtureRequest):
    row = promised(project)
    client = signed_in(request.getfixturevalue(who))
    seen = words(client.get(at("promises", project)))
    assert "Bolts drilled" in seen and "Take it off" not in seen and "Add a promise" not in seen
    for name in ("promise_kept", "promise_missed", "unmark_promise", "remove_promise", "put_back_promise"):
        assert client.post(at(name, project, row.pk)).status_code == 403
    for name in ("new_promise", "make_promise", "close_week", "count_week"):
        assert client.post(at(name, project)).status_code == 403


def test_a_promise_of_another_project_is_not_found(project: Project, outsider: User):
    row = promised(project)
    elsewhere = Project.objects.exclude(pk=project.pk).get()
    client = signed_in(outsider)
    for name in ("promise_kept", "promise_missed", "unmark_promise", "remove_promise", "put_back_promise"):
        assert client.post(at(name, elsewhere, row.pk)).status_code == 404
    assert Promise.objects.get().kept is None
