"""The What if page: questions in its address, answers on it, and what may be done with kept ones, by whom."""

from datetime import date
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client

from projects.models import Project, User
from schedule.calc.alter import Alteration
from schedule.models import Activity, HoldPoint, Question
from schedule.services import questions
from tests import builders
from tests.schedule.altering import planned

AT = {"now": builders.NOW, "today": builders.TODAY}


@pytest.fixture
def held(lead: User) -> Project:
    made = builders.project(lead, cost_of_day=900, opens_on=date(2027, 2, 19))
    planned(made)
    return made


@pytest.fixture
def at(held: Project) -> str:
    return f"/p/{held.slug}/sequence/what-if/"


@pytest.fixture
def client(lead: User) -> Client:
    return builders.signed_in(lead)


def text(answer: object) -> str:
    return " ".join(answer.content.decode().split())  # type: ignore[attr-defined]


def sentence(client: Client, address: str) -> str:
    page = text(client.get(address))
    return page.partition('<h1 class="sentence">')[2].partition("</h1>")[0].replace("&#x27;", "'")


def test_nothing_is_asked_at_first(client: Client, at: str):
    page = text(client.get(at))
    assert "What happens to the opening if somebody is away" in page and "what-moves" not in page
    assert page.count('name="kind"') == 9


def test_a_plan_without_work_says_what_to_do(client: Client, lead: User):
    empty = builders.project(lead, name="Empty")
    assert "There is nothing to ask about yet." in text(client.get(f"/p/{empty.slug}/sequence/what-if/?c=late|5|A1"))


def test_the_opening_moves_and_the_days_cost(client: Client, at: str):
    """By hand, from Fri 29 Jan: dig to Tue 2 Feb, look Thu 4, pour to Thu 11, cure to Thu 18, steel to Mon 22 Feb.

    Five days more, over the works' holiday: pour to Tue 23 Feb, cure to Tue 2 Mar, steel to Thu 4 Mar.
    """
    words = "The opening moves 10 days to Thu 4 Mar 2027: £9,000 for the days and £1,050 besides, £10,050 in all."
    assert sentence(client, f"{at}?c=late|5|A3&cost=1050") == words
    page = text(client.get(f"{at}?c=late|5|A3&cost=1050"))
    assert "Against the target: 3 days late as things stand, 13 days late with this." in page


def test_the_answer_names_what_waits_who_is_called_and_what_is_booked(
    client: Client, held: Project, at: str, lead: User
):
    row = builders.hold_point(held, "H1", activity="A2", stops=("A3",), title="Before the pour")
    HoldPoint.objects.filter(pk=row.pk).update(booked_for=date(2027, 2, 4))
    page = text(client.get(f"{at}?c=misses|1|A2"))
    assert "A3 Work A3" in page and "Inspector" in page and "call by" in page
    assert (
        "Hold point H1 Before the pour, looked at in A2 Work A2" in page
        and "booked for Thu 4 Feb 2027, move it" in page
    )
    assert "Covering work among it: A3 Work A3." in page and "A message to send" in page


STEPS = {
    "away": {"about": "Visits", "first_on": "2027-02-01", "days": "9"},
    "late": {"about": "A3", "days": "5"},
    "misses": {"about": "A2", "days": "2"},
    "length": {"about": "A3", "days": "0"},
    "crew": {"about": "A3", "days": "3", "more_cost": "1,250.50"},
    "start": {"about": "A6", "day": "2027-03-01"},
    "split": {"about": "A3", "first_days": "2", "between": "0", "second_days": "3"},
    "extra": {"about": "Trades", "weekday": "6"},
    "out": {"about": "A5"},
}
TOKENS = {
    "away": "away|2027-02-01|2027-02-09|Visits", "late": "late|5|A3", "misses": "misses|2|A2", "length": "length|0|A3",
    "crew": "length|3|A3", "start": "start|2027-03-01|A6", "split": "split|2|0|3|A3", "extra": "weekday|6|Trades", "out": "out|A5",
}  # fmt: skip


@pytest.mark.parametrize("kind", STEPS)
def test_each_thing_that_can_happen_makes_an_address_with_an_answer(client: Client, at: str, kind: str):
    sent = client.get(at, {"kind": kind, "c": "late|1|A5", "cost": "100"} | STEPS[kind])
    assert sent.status_code == 302
    asked = parse_qs(urlsplit(sent["Location"]).query)
    assert asked == {"c": ["late|1|A5", TOKENS[kind]], "cost": ["1350.50" if kind == "crew" else "100.00"]}
    assert sentence(client, sent["Location"]).startswith("The opening ")


@pytest.mark.parametrize(
    ("kind", "told", "said"),
    [
        ("away", {"days": "", "first_on": "2027-02-01"}, "Say for how many days, or until when."),
        ("away", {"last_on": "2027-01-01", "days": ""}, "This is before the first day."),
        ("late", {"days": "0"}, "Give at least 1."),
        ("late", {"about": "X"}, "X is not one of the available choices."),
        ("misses", {"days": ""}, "Say how many."),
        ("start", {"day": ""}, "Give a date."),
        ("split", {"between": "-1"}, "Give at least 0."),
        ("extra", {"day": "2027-02-06"}, "Give a weekday or one day, not both and not neither."),
        ("extra", {"weekday": ""}, "Give a weekday or one day, not both and not neither."),
        ("out", {"about": ""}, "Choose an activity."),
    ],
)
def test_what_is_amiss_is_said_at_its_field_and_nothing_else_is_lost(
    client: Client, at: str, kind: str, told: dict[str, str], said: str
):
    answer = client.get(at, {"kind": kind, "c": "late|1|A5"} | STEPS[kind] | told)
    page = text(answer)
    assert answer.status_code == 200 and said in page and 'value="late|1|A5"' in page
    assert page.count('<details class="opens" name="what-happens" open>') == 1


def test_links_from_an_activity_a_delivery_and_a_calendar_start_the_question(client: Client, held: Project, at: str):
    key = Activity.objects.get(code="A3").pk
    page = text(client.get(f"{at}?activity={key}"))
    assert page.count('<option value="A3" selected>') == 7
    assert client.get(f"{at}?activity={key}&late=5")["Location"] == f"{at}?c=late%7C5%7CA3"
    visits = held.calendars.get(name="Visits").pk
    assert '<option value="Visits" selected>' in text(client.get(f"{at}?calendar={visits}"))


def test_a_number_of_another_project_starts_nothing(client: Client, at: str, lead: User):
    other = builders.project(lead, name="Other")
    builders.calendar(other, "Secret days")
    key = builders.activity(other, "Z9").pk
    page = text(client.get(f"{at}?activity={key}&calendar={other.calendars.get().pk}"))
    assert "Z9" not in page and "Secret days" not in page


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("c=nonsense", "A part of the address could not be read and is left out."),
        ("c=late|5|X", "&quot;X&quot; is none of the activities"),
        ("c=after|FS|0|0|A6|A3", "wait for each other in a circle"),
        ("c=away|2027-02-01|2027-02-09|Nobody", "no calendar is called &quot;Nobody&quot;"),
        ("c=weekday|6|weekdays", "The opening"),
        ("c=late|5|A3&cost=lots", "This is not an amount"),
        ("c=late|5|A3&question=999999", "No"),
        ("activity=99999999999999999999&calendar=x&late=x&question=x", "What happens"),
    ],
)
def test_a_spoilt_address_says_what_is_wrong(client: Client, at: str, query: str, said: str):
    answer = client.get(f"{at}?{query}")
    assert answer.status_code in (200, 404) and said in text(answer)


def test_a_question_is_kept_from_its_address(client: Client, at: str):
    sent = client.post(f"{at}keep/?c=late|5|A3&cost=1050", {"title": "Rain", "note": "wet"}, follow=True)
    row = Question.objects.get()
    assert (row.title, row.note, row.cost_minor, row.changes) == ("Rain", "wet", 105_000, {"duration": {"A3": 10}})
    assert "“Rain” is kept" in text(sent) and "1 kept question" in text(sent)


def test_a_question_without_a_title_is_not_kept(client: Client, at: str):
    answer = client.post(f"{at}keep/?c=late|5|A3", {"title": ""})
    assert answer.status_code == 422 and "Give it a title." in text(answer) and not Question.objects.exists()


def kept(project: Project, lead: User, **told: object) -> Question:
    alteration = told.pop("alteration", Alteration(durations={"A3": 10}))
    return questions.keep(project, alteration, **({"title": "Rain"} | told), by=lead, **AT)


def test_a_kept_question_is_opened_at_its_address(client: Client, held: Project, at: str, lead: User):
    row = kept(held, lead, cost_minor=105_000)
    assert client.get(f"{at}{row.pk}/")["Location"] == f"{at}?c=length%7C10%7CA3&cost=1050.00"


def test_work_that_a_question_puts_in_stays_in_it(client: Client, held: Project, at: str, lead: User):
    from schedule.calc.network import Activity as Work
    from schedule.calc.network import Link

    more = Alteration(add=(Work("N1", 9, "Trades", (Link("A4"),)),), links=(("A6", Link("N1")),))
    row = kept(held, lead, alteration=more)
    address = client.get(f"{at}{row.pk}/")["Location"]
    assert address == f"{at}?c=after%7CFS%7C0%7C0%7CN1%7CA6&question={row.pk}"
    assert "moves" in sentence(client, address)


def test_a_kept_question_goes_into_the_plan_with_a_reason_and_out_again(
    client: Client, held: Project, at: str, lead: User
):
    row = kept(held, lead)
    asked = text(client.get(f"{at}{row.pk}/put-in/"))
    assert "The opening moves from" in asked and Activity.objects.get(code="A3").days == 5
    assert "Say why" in text(client.post(f"{at}{row.pk}/put-in/", {"reason": ""}))
    done = text(client.post(f"{at}{row.pk}/put-in/", {"reason": "it rained"}, follow=True))
    assert "“Rain” is in the plan. The opening moves from" in done and f"{at}{row.pk}/take-out/" in done
    assert Activity.objects.get(code="A3").days == 10
    assert "in the plan since Fri 29 Jan 2027" in text(client.get(at))
    client.post(f"{at}{row.pk}/take-out/")
    assert Activity.objects.get(code="A3").days == 5


def test_what_was_changed_since_is_named_when_it_is_taken_out(client: Client, held: Project, at: str, lead: User):
    row = kept(held, lead)
    client.post(f"{at}{row.pk}/put-in/", {"reason": "it rained"})
    Activity.objects.filter(code="A3").update(days=12)
    assert "the number of days was changed since" in text(client.post(f"{at}{row.pk}/take-out/", follow=True))


def test_a_question_goes_off_the_list_and_back(client: Client, held: Project, at: str, lead: User):
    row = kept(held, lead)
    gone = text(client.post(f"{at}{row.pk}/remove/", follow=True))
    assert "kept question" not in gone and f"{at}{row.pk}/bring-back/" in gone
    client.post(f"{at}{row.pk}/bring-back/")
    assert "1 kept question" in text(client.get(at))


def test_a_question_that_has_no_answer_any_more_says_why(client: Client, held: Project, at: str, lead: User):
    kept(held, lead)
    Activity.objects.filter(code="A3").update(removed_on=builders.TODAY)
    page = text(client.get(at))
    assert "no answer" in page and "&quot;A3&quot; is none of the activities" in page


def test_everybody_on_the_build_may_ask_and_the_lead_alone_keeps(held: Project, at: str, lead: User):
    row = kept(held, lead)
    for role in ("owner", "bookkeeper", "viewer"):
        other = builders.signed_in(builders.member(held, builders.person(role), role).user)
        page = text(other.get(f"{at}?c=late|5|A3"))
        assert "The opening moves" in page and "Keep the question" not in page and "Put it into" not in page
        for below in (
            "keep/",
            f"{row.pk}/put-in/",
            f"{row.pk}/take-out/",
            f"{row.pk}/remove/",
            f"{row.pk}/bring-back/",
        ):
            assert other.post(at + below, {"title": "x", "reason": "x"}).status_code == 403
    assert Question.objects.get().kept_on is None


def test_the_page_takes_few_queries_however_many_questions(
    client: Client, held: Project, at: str, lead: User, django_assert_max_num_queries
):
    for number in range(8):
        kept(held, lead, title=f"Question {number}")
    client.get(at)
    for address in (at, f"{at}?c=late|5|A3"):
        with django_assert_max_num_queries(11):
            client.get(address)


def test_a_delivery_on_its_way_is_named(client: Client, held: Project, at: str, lead: User):
    work = builders.activity(held, "D1", 5, ["A1"], kind="delivery")
    builders.delivery(held, "D1", "Tank shell")
    page = text(client.get(f"{at}?c=late|5|D1"))
    assert str(work.early_finish_on) == "2027-02-09"
    assert "Tank shell: on site Fri 19 Feb 2027 instead of Tue 9 Feb 2027" in page
