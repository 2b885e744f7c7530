"""The pages that edit the plan: what is entered is kept, what is refused is shown where it belongs, and one may look first."""

from datetime import date
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.test import Client

from projects import said
from projects.models import Project, TrailEntry, User
from schedule.models import Activity, Closure, Plan, WorkCalendar
from tests import builders
from tests.builders import TODAY


@pytest.fixture
def client(lead: User) -> Client:
    return builders.signed_in(lead)


@pytest.fixture
def chain(project: Project) -> Project:
    builders.calendar(project)
    builders.activity(project, "A01", 3, name="Dig")
    builders.activity(project, "A02", 1, ["A01"], name="Pour")
    return project


def at(project: Project, rest: str) -> str:
    return f"/p/{project.slug}/sequence/plan/{rest}"


def get(project: Project, code: str) -> Activity:
    return Activity.objects.get(project=project, code=code)


def entered(*links: tuple[str, ...], initial: int = 0, **more: Any) -> dict[str, Any]:
    """What the form of an activity sends; a link is (waits for, how, days, calendar days)."""
    sent = {"code": "A03", "name": "Walls", "kind": "work", "days": "4", "save": "1"} | more
    sent |= {"links-TOTAL_FORMS": str(len(links)), "links-INITIAL_FORMS": str(initial)}
    for place, link in enumerate(links):
        sent |= {
            f"links-{place}-{name}": value
            for name, value in zip(("before", "kind", "lag", "elapsed"), link, strict=False)
        }
    return sent


def words(answer: Any) -> list[str]:
    return [str(message) for message in get_messages(answer.wsgi_request)]


def undo(answer: Any) -> str:
    return said.undo_of(next(iter(get_messages(answer.wsgi_request))))


class TestAdding:
    def test_the_form_proposes_the_next_code_and_what_was_used(self, client: Client, chain: Project):
        builders.activity(chain, "A07", trade="Concrete", area="Hall")
        page = client.get(at(chain, "activities/new/")).content.decode()
        assert 'value="A08"' in page and '<option value="A01 · Dig">' in page
        assert '<option value="Concrete">' in page and '<option value="Hall">' in page

    def test_it_is_added_with_its_links_and_says_what_moved(self, client: Client, chain: Project):
        sent = entered(("A02 · Pour", "FS", "", ""), ("dig", "SS", "2", "on"))
        answer = client.post(at(chain, "activities/new/"), sent)
        assert answer.status_code == 302
        rows = get(chain, "A03").waits_for.values_list("before__code", "kind", "lag_days", "lag_elapsed")
        assert list(rows) == [("A02", "FS", 0, False), ("A01", "SS", 2, True)]
        assert words(answer) == ["Added A03 Walls. The finish moves from Wed 3 Feb 2027 to Tue 9 Feb 2027 (+6 days)."]

    def test_undo_takes_it_out_again(self, client: Client, chain: Project):
        way = undo(client.post(at(chain, "activities/new/"), entered(("A02", "FS"))))
        answer = client.post(way)
        assert get(chain, "A03").removed_on == TODAY and Plan.objects.get(project=chain).finish_on == date(2027, 2, 3)
        assert words(answer)[-1].startswith("Took back: Added the activity A03 Walls.")

    def test_a_day_later_than_the_target_bears_its_cost(self, client: Client, chain: Project):
        Project.objects.filter(pk=chain.pk).update(opens_on=date(2027, 2, 5), cost_of_day_minor=90_000)
        answer = client.post(at(chain, "activities/new/"), entered(("A02", "FS")))
        assert words(answer) == [
            "Added A03 Walls. The opening moves from Wed 3 Feb 2027 to Tue 9 Feb 2027 (+6 days, +£3,600)."
        ]

    def test_one_may_look_first(self, client: Client, chain: Project):
        sent = entered(("A02", "FS"))
        del sent["save"]
        answer = client.post(at(chain, "activities/new/"), sent | {"look": "1"})
        page = answer.content.decode()
        assert answer.status_code == 200 and "(+6 days)" in page and 'value="Walls"' in page
        assert not Activity.objects.filter(code="A03").exists()

    def test_a_further_row_is_not_judged(self, client: Client, chain: Project):
        sent = entered(("A01", "FS"), name="")
        del sent["save"]
        answer = client.post(at(chain, "activities/new/"), sent | {"more_rows": "links"})
        page = answer.content.decode()
        assert answer.status_code == 200 and 'name="links-1-before"' in page and "Say what is done" not in page

    @pytest.mark.parametrize(
        ("told", "sent"),
        [
            ("already; give another code", entered(code="A01")),
            ("Say what is done", entered(name="")),
            ("There is no activity", entered(("A99", "FS"))),
            ("Choose what it waits for", entered(("", "FS", "3"))),
            ("twice in the same way", entered(("A01", "FS"), ("A01", "FS", "2"))),
            ("a milestone takes no days", entered(kind="milestone")),
            ("Select a valid choice", entered(kind="party")),
        ],
    )
    def test_a_refusal_keeps_what_was_typed(self, client: Client, chain: Project, told: str, sent: dict[str, Any]):
        answer = client.post(at(chain, "activities/new/"), sent | {"area": "the old net shed"})
        page = answer.content.decode()
        assert answer.status_code == 422 and told in page and "the old net shed" in page
        assert Activity.objects.filter(project=chain).count() == 2


class TestChanging:
    def change(self, chain: Project, **more: Any) -> dict[str, Any]:
        row = get(chain, "A01")
        return entered(name="Dig", days="8", version=str(row.version), reason="rock") | more

    def test_it_says_by_how_much_the_finish_moves_and_undo_brings_it_back(self, client: Client, chain: Project):
        row = get(chain, "A01")
        answer = client.post(at(chain, f"activities/{row.pk}/edit/"), self.change(chain))
        assert words(answer) == [
            "Saved A01 Dig. The finish moves from Wed 3 Feb 2027 to Wed 10 Feb 2027 (+7 days). "
            "2 activities have other dates: A01, A02."
        ]
        client.post(undo(answer))
        assert get(chain, "A01").days == 3 and Plan.objects.get(project=chain).finish_on == date(2027, 2, 3)

    def test_what_moves_dates_asks_why(self, client: Client, chain: Project):
        row = get(chain, "A01")
        answer = client.post(at(chain, f"activities/{row.pk}/edit/"), self.change(chain, reason=""))
        assert answer.status_code == 422 and "say why, for the trail" in answer.content.decode()
        assert get(chain, "A01").days == 3

    def test_a_name_needs_no_reason(self, client: Client, chain: Project):
        row = get(chain, "A01")
        answer = client.post(
            at(chain, f"activities/{row.pk}/edit/"), self.change(chain, reason="", days="3", name="Dig on")
        )
        assert answer.status_code == 302 and get(chain, "A01").name == "Dig on"
        assert words(answer) == ["Saved A01 Dig on. The finish stays on Wed 3 Feb 2027."]

    def test_a_circle_is_refused_with_its_members_and_entries_stay(self, client: Client, chain: Project):
        row = get(chain, "A01")
        sent = self.change(chain) | entered(
            ("A02", "FS"), name="Dig", days="8", reason="rock", version=str(row.version)
        )
        answer = client.post(at(chain, f"activities/{row.pk}/edit/"), sent)
        page = answer.content.decode()
        assert answer.status_code == 422 and "in a circle" in page and "A02 Pour" in page and 'value="8"' in page
        assert get(chain, "A01").days == 3

    def test_the_second_of_two_sees_what_stands(self, client: Client, chain: Project):
        row = get(chain, "A01")
        old = self.change(chain)
        client.post(at(chain, f"activities/{row.pk}/edit/"), self.change(chain, days="5"))
        answer = client.post(at(chain, f"activities/{row.pk}/edit/"), old)
        page = answer.content.decode()
        assert answer.status_code == 422 and "Somebody has changed this activity" in page and "now stands" in page
        assert f'name="version" value="{row.version + 1}"' in page and get(chain, "A01").days == 5

    def test_links_can_be_taken_out(self, client: Client, chain: Project):
        row = get(chain, "A02")
        sent = entered(("A01 · Dig", "FS"), initial=1, name="Pour", days="1", reason="apart", version=str(row.version))
        client.post(at(chain, f"activities/{row.pk}/edit/"), sent | {"links-0-DELETE": "on"})
        assert not get(chain, "A02").waits_for.exists()

    def test_taking_out_asks_why_and_can_be_taken_back(self, client: Client, chain: Project):
        way = at(chain, f"activities/{get(chain, 'A02').pk}/remove/")
        assert client.post(way, {"reason": ""}).status_code == 422
        answer = client.post(way, {"reason": "no pour"})
        assert get(chain, "A02").removed_on == TODAY and client.get(way).status_code == 404
        client.post(undo(answer))
        assert get(chain, "A02").removed_on is None


class TestCalendars:
    def sent(self, **more: Any) -> dict[str, Any]:
        rows = {f"{name}-{count}": "0" for name in ("closures", "extra") for count in ("TOTAL_FORMS", "INITIAL_FORMS")}
        return rows | {"name": "Crane", "weekdays": ["6"], "region": "", "save": "1"} | more

    def test_one_is_added_in_words(self, client: Client, chain: Project):
        sent = self.sent(region="Scotland") | {
            "closures-TOTAL_FORMS": "1",
            "closures-0-first_on": "2027-02-06",
            "closures-0-reason": "wind",
        }
        assert client.post(at(chain, "calendars/new/"), sent).status_code == 302
        page = client.get(at(chain, "calendars/")).content.decode()
        assert "Saturday, without the public holidays of Scotland" in page and "Closed Sat 6 Feb 2027: wind" in page

    def test_a_change_tells_what_moves_before_and_after(self, client: Client, chain: Project):
        row = WorkCalendar.objects.get(project=chain)
        sent = self.sent(name="Trades", weekdays=["1", "2"], version=str(row.version))
        looked = client.post(at(chain, f"calendars/{row.pk}/edit/"), sent | {"look": "1"})
        assert looked.status_code == 200 and "(+6 days)" in looked.content.decode()
        assert WorkCalendar.objects.get(pk=row.pk).weekdays == "12345"
        answer = client.post(at(chain, f"calendars/{row.pk}/edit/"), sent)
        assert "to Tue 9 Feb 2027 (+6 days)" in words(answer)[0]
        client.post(undo(answer))
        assert WorkCalendar.objects.get(pk=row.pk).weekdays == "12345"

    def test_somebody_away_is_told_with_its_consequence(self, client: Client, chain: Project):
        row = WorkCalendar.objects.get(project=chain)
        way = at(chain, f"calendars/{row.pk}/close/")
        sent = {"first_on": "2027-02-01", "last_on": "2027-02-02", "reason": "crew away"}
        looked = client.post(way, sent | {"look": "1"})
        assert "Nothing is saved yet" in looked.content.decode() and not Closure.objects.exists()
        answer = client.post(way, sent)
        assert words(answer)[0].startswith(
            "Trades: closed. The finish moves from Wed 3 Feb 2027 to Fri 5 Feb 2027 (+2 days)."
        )
        client.post(undo(answer))
        assert not Closure.objects.exists() and Plan.objects.get(project=chain).finish_on == date(2027, 2, 3)

    @pytest.mark.parametrize(
        ("told", "more"),
        [
            ("Tick at least one weekday", {"weekdays": []}),
            ("No public holidays are known for this place", {"region": "Atlantis"}),
            ("of this name already", {"name": "trades"}),
            (
                "turn them round",
                {"closures-TOTAL_FORMS": "1", "closures-0-first_on": "2027-02-06", "closures-0-last_on": "2027-02-01"},
            ),
            ("Give the first day", {"closures-TOTAL_FORMS": "1", "closures-0-reason": "wind"}),
        ],
    )
    def test_a_refusal_keeps_what_was_typed(self, client: Client, chain: Project, told: str, more: dict[str, Any]):
        answer = client.post(at(chain, "calendars/new/"), self.sent(note="only at low tide") | more)
        page = answer.content.decode()
        assert answer.status_code == 422 and told in page and "only at low tide" in page
        assert WorkCalendar.objects.filter(project=chain).count() == 1

    def test_the_place_it_rests_by_is_listed_to_be_checked(self, client: Client, chain: Project):
        row = builders.calendar(chain, "Scots", region="GB-SCT")
        page = client.get(at(chain, f"calendars/{row.pk}/edit/")).content.decode()
        assert "Good Friday" in page and "check yours" in page and "Scotland, United Kingdom (GB-SCT)" in page

    def test_one_in_use_stays_and_says_why(self, client: Client, chain: Project):
        row = WorkCalendar.objects.get(project=chain)
        answer = client.post(at(chain, f"calendars/{row.pk}/remove/"))
        assert answer.status_code == 422 and "project itself works by this calendar" in answer.content.decode()
        spare = builders.calendar(chain, "Spare")
        assert client.post(at(chain, f"calendars/{spare.pk}/remove/")).status_code == 302

    def test_the_start_is_moved(self, client: Client, chain: Project):
        version = Plan.objects.get(project=chain).version
        answer = client.post(
            at(chain, "start/"), {"starts_on": "2027-02-08", "calendar": "Trades", "version": str(version)}
        )
        assert words(answer)[0].startswith("Saved the start. The finish moves from Wed 3 Feb 2027 to Thu 11 Feb 2027")


class TestDoors:
    @pytest.mark.parametrize("who", ["owner", "viewer", "bookkeeper"])
    def test_others_read_calendars_and_change_nothing(self, chain: Project, who: str, request: pytest.FixtureRequest):
        client = builders.signed_in(request.getfixturevalue(who))
        page = client.get(at(chain, "calendars/"))
        assert page.status_code == 200 and "/edit/" not in page.content.decode()
        row = get(chain, "A01")
        for way in (
            "activities/new/",
            f"activities/{row.pk}/edit/",
            f"activities/{row.pk}/remove/",
            "calendars/new/",
            "start/",
        ):
            assert client.get(at(chain, way)).status_code == 403 == client.post(at(chain, way)).status_code

    def test_rows_of_another_project_are_not_there(self, client: Client, chain: Project, outsider: User):
        other = Project.objects.exclude(pk=chain.pk).get()
        theirs, calendar = builders.activity(other, "X01"), builders.calendar(other)
        deed = TrailEntry.objects.filter(project=other).latest("pk")
        for way in (f"activities/{theirs.pk}/edit/", f"calendars/{calendar.pk}/close/", f"take-back/{deed.pk}/"):
            assert client.post(at(chain, way)).status_code == 404
