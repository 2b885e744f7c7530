"""Questions are kept, asked anew, put into the plan with a reason, and taken out again."""

from datetime import date

import pytest

from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from schedule.calc import alter_json
from schedule.calc.alter import Alteration
from schedule.models import Activity, Question
from schedule.services import activities, plan, questions
from tests import builders
from tests.schedule.altering import dates, picture, planned, read

AT = {"now": builders.NOW, "today": builders.TODAY}
LONGER = Alteration(durations={"A3": 9})


@pytest.fixture
def held(project: Project) -> Project:
    planned(project)
    return project


def kept(project: Project, lead: User, alteration: Alteration = LONGER, **told: object) -> Question:
    return questions.keep(project, alteration, **({"title": "The pour takes longer"} | told), by=lead, **AT)


def test_a_question_is_kept_and_changes_nothing(held: Project, lead: User):
    before = picture(read(held)), dates(held)
    row = kept(held, lead, title="  Rain ", note=" heavy ", cost_minor=105_000)
    assert (row.title, row.note, row.cost_minor, row.kept_on) == ("Rain", "heavy", 105_000, None)
    assert alter_json.read(row.changes) == LONGER
    assert (picture(read(held)), dates(held)) == before
    assert TrailEntry.objects.order_by("-pk")[0].summary == "Kept the question Rain"


def test_questions_stand_in_the_order_they_were_kept(held: Project, lead: User):
    rows = [kept(held, lead, title=title) for title in ("One", "Two", "Three")]
    questions.remove(rows[2], by=lead, **AT)
    kept(held, lead, title="Four")
    assert list(Question.objects.values_list("title", "position")) == [
        ("One", 0),
        ("Two", 1),
        ("Three", 2),
        ("Four", 3),
    ]


@pytest.mark.parametrize(
    ("alteration", "title", "said"),
    [
        (LONGER, " ", "Give the question a title"),
        (Alteration(durations={"X": 1}), "X", '"X" is none of the activities'),
    ],
)
def test_what_cannot_be_asked_is_not_kept(held: Project, lead: User, alteration: Alteration, title: str, said: str):
    with pytest.raises(Refused, match=said):
        kept(held, lead, alteration, title=title)
    assert not Question.objects.exists()


def test_a_removed_question_comes_back(held: Project, lead: User):
    row = kept(held, lead)
    for _twice in range(2):
        questions.remove(row, by=lead, **AT)
    assert Question.objects.get().removed_on == builders.TODAY
    questions.bring_back(row, by=lead, now=builders.NOW)
    assert Question.objects.get().removed_on is None
    assert TrailEntry.objects.filter(subject="question").count() == 3


def test_put_in_and_out_again_leaves_the_plan_as_it_was(held: Project, lead: User):
    before = picture(read(held)), dates(held)
    row = kept(held, lead)
    questions.put_in(row, reason="the crew is short", by=lead, **AT)
    assert (Activity.objects.get(code="A3").days, Question.objects.get().kept_on) == (9, builders.TODAY)
    entry = TrailEntry.objects.order_by("-pk")[0]
    assert (entry.subject, entry.subject_id) == ("question", row.pk)
    assert entry.summary == "Put into the plan: A3: The pour takes longer: the crew is short"
    assert questions.take_out(row, by=lead, **AT) == ()
    assert (picture(read(held)), dates(held)) == before
    assert Question.objects.get().kept_on is None and plan.drifted(held) == {}


def test_the_newest_of_two_rounds_is_taken_out(held: Project, lead: User):
    row = kept(held, lead)
    questions.put_in(row, reason="one", by=lead, **AT)
    questions.take_out(row, by=lead, **AT)
    work = Activity.objects.get(code="A3")
    draft = activities.draft_of(work)
    activities.change(work, activities.ActivityDraft(**{name: getattr(draft, name) for name in activities.PLAIN}
                      | {"days": 6, "after": draft.after, "calendar": draft.calendar}), by=lead, **AT)  # fmt: skip
    questions.put_in(row, reason="two", by=lead, **AT)
    questions.take_out(row, by=lead, **AT)
    assert Activity.objects.get(code="A3").days == 6


def test_what_is_in_the_plan_is_not_put_in_twice_and_needs_a_reason(held: Project, lead: User):
    row = kept(held, lead)
    with pytest.raises(Refused, match="Say why"):
        questions.put_in(row, reason=" ", by=lead, **AT)
    with pytest.raises(Refused, match="not in the plan"):
        questions.take_out(row, by=lead, **AT)
    questions.put_in(row, reason="true", by=lead, **AT)
    with pytest.raises(Refused, match="in the plan already"):
        questions.put_in(row, reason="true", by=lead, **AT)


def test_a_question_that_cannot_be_put_in_stays_a_question(held: Project, lead: User):
    row = kept(held, lead, Alteration(not_before={"A3": date(2027, 3, 1)}))
    Activity.objects.filter(code="A3").update(started_on=builders.TODAY, finished_on=builders.TODAY)
    with pytest.raises(Refused, match="A3 is done"):
        questions.put_in(row, reason="true", by=lead, **AT)
    assert Question.objects.get().kept_on is None


def test_a_question_that_cannot_be_read_says_so(held: Project, lead: User):
    row = kept(held, lead)
    Question.objects.update(changes={"duration": "long"})
    with pytest.raises(Refused, match="duration: an object is required"):
        questions.put_in(row, reason="true", by=lead, **AT)
