"""The plan as files: what is taken out can be brought in, after a look, and taken back."""

import io
import re
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from projects import said
from projects.models import Project, User
from schedule.models import Activity
from schedule.services.activities import LinkDraft
from tests import builders
from tests.builders import TODAY


@pytest.fixture
def client(lead: User) -> Client:
    return builders.signed_in(lead)


@pytest.fixture
def chain(project: Project) -> Project:
    builders.calendar(project, closures=[(TODAY, TODAY, "wind")])
    builders.activity(project, "A01", 3, name="=1+1", note="+44 20 7946 0000")
    builders.activity(project, "A02", 1, [LinkDraft("A01", "SS", 2, True)], not_before_on=TODAY)
    return project


def at(project: Project, rest: str) -> str:
    return f"/p/{project.slug}/sequence/plan/{rest}"


def hand_in(client: Client, project: Project, data: bytes, name: str = "plan.csv") -> Any:
    return client.post(at(project, "bring-in/"), {"file": SimpleUploadedFile(name, data)})


def bring_in(client: Client, project: Project, page: Any) -> Any:
    content = re.search(r'name="content" value="([^"]+)"', page.content.decode())
    assert content is not None
    return client.post(at(project, "bring-in/"), {"content": content[1]})


def words(answer: Any) -> list[str]:
    return [str(message) for message in get_messages(answer.wsgi_request)]


@pytest.mark.parametrize("name", ["plan.xlsx", "activities.csv"])
def test_what_was_taken_out_says_what_the_plan_says(client: Client, chain: Project, name: str):
    data = client.get(at(chain, f"out/{name}")).content
    page = hand_in(client, chain, data, name).content.decode()
    assert "The sheet says what the plan says already" in page and 'name="content"' not in page


def test_a_text_that_looks_like_a_formula_stays_text(client: Client, chain: Project):
    import openpyxl

    book = openpyxl.load_workbook(io.BytesIO(client.get(at(chain, "out/plan.xlsx")).content))
    assert book.sheetnames == ["Activities", "Links", "Calendars", "Closures"]
    cell = book["Activities"]["B2"]
    assert (cell.value, cell.data_type) == ("=1+1", "s")
    assert "'=1+1" in client.get(at(chain, "out/activities.csv")).content.decode("utf-8-sig")


def test_links_go_out_in_words_of_the_trade(client: Client, chain: Project):
    lines = client.get(at(chain, "out/links.csv")).content.decode("utf-8-sig").splitlines()
    assert lines == ["Activity,Waits for,How,Days between,Calendar days", "A02,A01,SS,2,yes"]


def test_a_sheet_is_looked_at_brought_in_and_taken_back(client: Client, chain: Project):
    page = hand_in(client, chain, b"Code;Activity;Days;Waits for\r\nA03;Walls;4;A02\r\nA02;Pour;2;A01\r\n")
    shown = page.content.decode()
    assert page.status_code == 200 and "1 new activity, 1 changed, 0 as they stand" in shown and "Days: 1 → 2" in shown
    assert not Activity.objects.filter(code="A03").exists()
    answer = bring_in(client, chain, page)
    assert answer.status_code == 302 and Activity.objects.get(code="A03").days == 4
    assert words(answer)[0].startswith(
        "Brought in plan.csv: 1 new activity, 1 changed, 0 as they stand. The finish moves from"
    )
    client.post(said.undo_of(next(iter(get_messages(answer.wsgi_request)))))
    assert Activity.objects.get(code="A03").removed_on == TODAY and Activity.objects.get(code="A02").days == 1


def test_faults_are_listed_and_nothing_can_be_brought_in(client: Client, chain: Project):
    shown = hand_in(client, chain, b"Code,Days\r\nA03,many\r\n").content.decode()
    assert "Activities, row 2, Days" in shown and "“many” is no whole number" in shown and 'name="content"' not in shown


def test_a_plan_that_changed_meanwhile_is_looked_at_anew(client: Client, chain: Project):
    page = hand_in(client, chain, b"Code,Days,Waits for\r\nA03,1,\r\n")
    builders.activity(chain, "A03", 1, name="A03")
    answer = bring_in(client, chain, page)
    assert answer.status_code == 422 and "says already" in answer.content.decode()


@pytest.mark.parametrize("content", ["", "made up", "e30:1wX:sig"])
def test_cells_that_somebody_altered_are_refused(client: Client, chain: Project, content: str):
    answer = client.post(at(chain, "bring-in/"), {"content": content})
    assert answer.status_code == 302 and words(answer) == ["The page has lost the sheet; choose the file again."]


@pytest.mark.parametrize("data", [b"", b"%PDF-1.7", b"PK\x03\x04 no zip"])
def test_what_is_no_sheet_is_refused_at_its_field(client: Client, chain: Project, data: bytes):
    answer = hand_in(client, chain, data)
    assert answer.status_code == 422 and "field--fault" in answer.content.decode()


def test_a_sheet_without_a_plan_says_what_is_needed(client: Client, chain: Project):
    assert "No sheet holds a plan" in hand_in(client, chain, b"Amount,Vendor\r\n1,2\r\n").content.decode()


@pytest.mark.parametrize(("who", "out", "into"), [("owner", 200, 403), ("bookkeeper", 200, 403), ("viewer", 403, 403)])
def test_who_may_take_out_and_bring_in(chain: Project, who: str, out: int, into: int, request: pytest.FixtureRequest):
    client = builders.signed_in(request.getfixturevalue(who))
    assert {
        client.get(at(chain, f"out/{name}")).status_code for name in ("plan.xlsx", "links.csv", "activities.csv")
    } == {out}
    assert client.get(at(chain, "bring-in/")).status_code == into
