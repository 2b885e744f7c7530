"""The Sequence page: what it says, what it shows, and that it stays small however large the build is."""

import gzip
import json
import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from projects.models import Project, User
from schedule.models import Activity
from schedule.services import activities
from schedule.services.activities import ActivityDraft, LinkDraft
from tests import builders
from tests.builders import NOW, TODAY

MOST_QUERIES, MOST_BYTES, MANY = 12, 12_000, 1_500


@pytest.fixture
def planned(project: Project) -> Project:
    """Three activities in a row, a day late: done Mon 1 Feb, Tue 2 Feb and Thu 4 Feb; and one that has time."""
    project.opens_on, project.cost_of_day_minor = date(2027, 2, 3), 90_000
    project.save()
    builders.calendar(project)
    builders.activity(project, "A01", 2, trade="Groundworks", area="Hall")
    builders.activity(project, "A02", 1, ["A01"], trade="Concrete", covers=True)
    builders.activity(project, "A03", 2, ["A02"], trade="Concrete")
    builders.activity(project, "A04", 1, trade="Joinery", name="Doors & frames <1>")
    return project


@pytest.fixture
def client(lead: User) -> Client:
    return builders.signed_in(lead)


def page(client: Client, project: Project, asked: str = "", **headers: str) -> str:
    answer = client.get(f"/p/{project.slug}/sequence/{asked}", headers=headers)
    assert answer.status_code == 200
    return answer.content.decode()


def figure(html: str) -> dict[str, Any]:
    found = re.search(r'<script id="sequence-figure" type="application/json">(.*?)</script>', html, re.DOTALL)
    assert found
    return json.loads(found[1])


def words(html: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", html).split())


def test_an_empty_plan_says_how_to_begin(client: Client, project: Project):
    html = page(client, project)
    assert "Nothing is planned yet." in html and "Add a calendar" in html and "Bring in a sheet" in html


def test_a_viewer_is_not_offered_what_they_may_not_do(viewer: User, planned: Project):
    html = page(builders.signed_in(viewer), planned)
    assert "Freeze the plan" not in html and "Add an activity" not in html


def test_the_sentence_tells_the_opening_the_target_and_the_cost(client: Client, planned: Project):
    """By hand: Fri 29 Jan and Mon 1 Feb, Tue 2 Feb, Wed 3 and Thu 4 Feb: one day late, £900."""
    said = "You open on Thu 4 Feb 2027, 1 day after the target; 3 of the 4 activities left are critical; the days cost £900."
    assert said in words(page(client, planned))


def test_without_a_target_nothing_is_late(client: Client, planned: Project):
    Project.objects.update(opens_on=None)
    html = words(page(client, planned))
    assert "The work is finished on Thu 4 Feb 2027" in html and "Cost of the days" not in html


def test_the_picture_inks_the_critical_path_and_draws_the_float_of_the_rest(client: Client, planned: Project):
    drawn = figure(page(client, planned))
    inked = [
        trace
        for trace in drawn["data"]
        if trace.get("marker", {}).get("color") == "token:ink" and trace["type"] == "bar"
    ]
    assert len(inked) == 1 and len(inked[0]["x"]) == 3
    tail = next(trace for trace in drawn["data"] if trace["type"] == "bar" and trace["width"] == 0.06)
    assert tail["x"] == [6]  # from the eve of Sat 30 Jan to Thu 4 Feb


def test_names_in_the_picture_are_made_safe(client: Client, planned: Project):
    drawn = json.dumps(figure(page(client, planned)), ensure_ascii=False)
    assert "Doors &amp; frames &lt;1&gt;" in drawn and "<1>" not in drawn


def test_the_table_tells_what_the_picture_shows(client: Client, planned: Project):
    html = page(client, planned)
    table = words(html[html.index("picture__table") : html.index("</details>", html.index("picture__table"))])
    assert "A04 Doors &amp; frames &lt;1&gt; Fri 29 Jan 2027 Fri 29 Jan 2027 4 working days not started" in table


def test_a_shut_gate_is_named_in_the_picture_and_ahead(client: Client, planned: Project):
    builders.hold_point(planned, activity="A01", stops=("A02",))
    html = page(client, planned)
    assert "gate H01 shut" in json.dumps(
        figure(html)
    ) and "May we cover it? not yet: 1 proof and 1 signature are missing" in words(html)


def test_what_is_still_needed_is_told_with_who_and_when(client: Client, planned: Project):
    builders.need(planned, "A02", "Pump booked", who="Site lead")
    assert "Pump booked plant or lift, Site lead, by 1 Feb" in words(page(client, planned))


@pytest.mark.parametrize(
    ("asked", "codes"),
    [
        ("?what=critical", {"A01", "A02", "A03"}), ("?trade=Joinery", {"A04"}), ("?area=Hall", {"A01"}), ("?words=doors", {"A04"}),
        ("?state=done", set()), ("?by=trade", {"A01", "A02", "A03", "A04"}),
    ],
)  # fmt: skip
def test_each_choice_narrows_the_list(client: Client, planned: Project, asked: str, codes: set[str]):
    html = page(client, planned, asked)
    assert set(re.findall(r'<span class="code">(A\d\d)</span>', html)) == codes


def test_a_group_is_opened_by_its_own_rows_alone(client: Client, planned: Project):
    html = page(client, planned, "?by=trade&open=trade-Concrete", **{"HX-Request": "true", "HX-Target": "in-2"})
    assert '<tbody id="in-2" class="inside">' in html
    assert "A02" in html and "A04" not in html and "<html" not in html


def test_odd_questions_are_answered_plainly(client: Client, planned: Project):
    html = page(client, planned, "?span=%3Cscript%3E&what=x&by=y&calendar=-1&open=zz&from=999999999&words=%25")
    assert "No activity is like that." in html and "<script>alert" not in html


def test_a_frozen_plan_is_measured_against(client: Client, planned: Project):
    client.post(f"/p/{planned.slug}/sequence/plan/baselines/new/", {"name": "First plan", "reason": "agreed"})
    row = planned.activities.get(code="A01")
    client.post(
        f"/p/{planned.slug}/sequence/plan/activities/{row.pk}/report/", {"started_on": "2027-01-29", "days": "3"}
    )
    html = page(client, planned)
    assert "First plan" in html and "1 day later than planned" in words(html)
    assert "planned: " in json.dumps(figure(html))


def many(project: Project, count: int = MANY, trades: int = 18) -> None:
    builders.calendar(project)
    drafts = [
        ActivityDraft(
            f"B{n:04d}", f"Piece of work number {n} in its place", 3 + n % 5, trade=f"Trade {n % trades}", area=f"Area {n % 7}",
            after=(LinkDraft(f"B{n - 9:04d}"),) if n >= 9 else (),
        )
        for n in range(count)
    ]  # fmt: skip
    activities.add_many(project, drafts, by=builders.lead_of(project), now=NOW, today=TODAY)
    builders.hold_point(project, activity="B0001", stops=("B0010",))


def test_1500_activities_stay_swift_and_small(client: Client, project: Project):
    many(project)
    page(client, project)
    for asked in ("", "?span=whole", "?span=six&what=left", "?by=trade", "?by=trade&open=trade-Trade 3"):
        with CaptureQueriesContext(connection) as seen:
            html = page(client, project, asked)
        packed = gzip.compress(json.dumps(figure(html)).encode())
        assert (len(seen) <= MOST_QUERIES, len(packed) < MOST_BYTES) == (True, True), (asked, len(seen), len(packed))
        assert html.count("<tr") < 260
    assert Activity.objects.count() == MANY


def test_what_is_too_much_for_bars_is_folded_and_says_so(client: Client, project: Project):
    many(project, 80, trades=4)
    html = page(client, project, "?span=whole")
    assert "every trade is one band" in html and "<b>Trade 3</b> 20 activities" in json.dumps(figure(html))


def test_the_further_rows_of_a_group_are_on_the_next_page(client: Client, project: Project):
    many(project, 168, trades=2)
    first, second = (page(client, project, f"?by=trade&open=trade-Trade 1{more}") for more in ("", "&from=60"))
    codes = [set(re.findall(r'<span class="code">(B\d+)</span>', html)) for html in (first, second)]
    assert (len(codes[0]), len(codes[1])) == (60, 24) and not codes[0] & codes[1]
    assert "Further activities" in first and "Further activities" not in second


def test_closures_of_the_calendar_are_shaded_and_named(client: Client, planned: Project):
    start = TODAY + timedelta(days=14)
    builders.calendar(planned, "Inspector", "24", closures=[(start, start + timedelta(days=7), "inspector away")])
    pk = planned.calendars.get(name="Inspector").pk
    html = page(client, planned, f"?calendar={pk}")
    assert "inspector away" not in html  # nothing on that calendar, so no picture
    row = planned.activities.get(code="A04")
    Activity.objects.filter(pk=row.pk).update(calendar_id=pk)
    html = page(client, planned, f"?calendar={pk}&span=quarter")
    assert ": inspector away" in html and any(shape["type"] == "rect" for shape in figure(html)["layout"]["shapes"])
