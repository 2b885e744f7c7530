"""The sheet of a hold point as PDF: one page, with everything somebody on site has to know."""

import json
import re

import pytest
import typst

from projects.models import Project, User
from reports.pdf import gate_words, setting
from schedule.selectors import holds as reads
from schedule.services import holds
from tests import builders
from tests.builders import TODAY

LONG = "Membrane laps, patches and pipe collars, each with its tape at the far corner of the bay"


@pytest.fixture
def build(project: Project) -> Project:
    builders.calendar(project)
    builders.activity(project, "A01", 1, name="Pre-pour inspection, bay 2", notice_days=2, attended_by="Inspector")
    builders.activity(project, "A02", 1, ["A01"], name="Pour bay 2", covers=True)
    return project


def sheet(build: Project, checks: int = 9, *, signers: int = 3, words: str = LONG) -> dict:
    rows = tuple(
        holds.CheckDraft(f"{n} {words}", "150 mm laps, no holes", evidence_named="walk-round") for n in range(checks)
    )
    roles = tuple(f"Role {n} with a long name" for n in range(signers))
    hold = builders.hold_point(build, checks=rows, signers=roles, cost=41_000, title="Before the pour")
    read = reads.one(build, hold.pk, today=TODAY)
    return gate_words.paper(read, reads.checks_of(build, read), project=build, on=TODAY)


def pages(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def made(paper: dict) -> bytes:
    return setting.as_pdf(paper, on=TODAY, template="gate.typ")


def test_nine_checks_with_long_words_fit_on_one_page(build: Project):
    assert pages(made(sheet(build))) == 1


def test_many_checks_go_on_to_further_pages_and_the_count_of_pages_sees_it(build: Project):
    assert pages(made(sheet(build, 40, signers=12))) > 1


def test_the_sheet_has_what_is_stopped_the_cost_the_notice_and_who_signs(build: Project):
    paper = sheet(build, 2)
    about = {row["label"]: row["words"] for row in paper["about"]}
    assert about["May not start before it is released:"] == "A02 Pour bay 2, Mon 1 Feb 2027"
    assert about["When:"].startswith("Inspector: planned for Fri 29 Jan 2027, and had to be asked by Tue 26 Jan 2027")
    assert paper["cost"] == "If it was covered wrong, it costs £41,000." and paper["title"] == "H01 Before the pour"
    assert [one["words"] for one in paper["signers"]] == ["Name, date, signature"] * 3 and len(paper["checks"]) == 2


def test_what_was_shown_before_stands_on_it(build: Project):
    from schedule.services import proofs

    hold = builders.hold_point(build, checks=("Bars",))
    told = {"by": builders.lead_of(build), "now": builders.NOW, "today": TODAY}
    proofs.prove(hold.checks.get(), proofs.Found(True, "as drawn"), **told)
    proofs.sign(hold, role="Engineer", name="Ina Inspect", **told)
    read = reads.one(build, hold.pk, today=TODAY)
    paper = gate_words.paper(read, reads.checks_of(build, read), project=build, on=TODAY)
    assert paper["checks"][0]["before"] == "passes, as drawn, 29 Jan"
    assert paper["signers"] == [{"role": "Engineer", "words": "Ina Inspect, Fri 29 Jan 2027"}]


def test_the_pdf_says_that_it_can_be_read_aloud(build: Project):
    """Source: ISO 14289-1 (PDF/UA-1), 6.7 and 7.1."""
    pdf = made(sheet(build))
    assert b"<pdfuaid:part>1</pdfuaid:part>" in pdf and b"/StructTreeRoot" in pdf


def headings(paper: dict) -> list[str]:
    found = typst.query(
        str(setting.HERE / "gate.typ"), "heading", root=str(setting.HERE), sys_inputs={"paper": json.dumps(paper)},
        font_paths=[str(setting.HERE / "fonts")], ignore_system_fonts=True,
    )  # fmt: skip
    return [str(heading["body"]) for heading in json.loads(found)]


def test_words_are_never_taken_for_commands(build: Project):
    paper = sheet(build, 1)
    odd = headings(paper | {"title": '#panic("no") *bold* $x$ @label'})
    assert len(odd) == len(headings(paper)) and "#panic" in odd[0]


@pytest.mark.parametrize("role", ["lead", "owner", "viewer"])
def test_every_member_may_print_it(build: Project, role: str, request: pytest.FixtureRequest):
    hold = builders.hold_point(build)
    answer = builders.signed_in(request.getfixturevalue(role)).get(
        f"/p/{build.slug}/sequence/holds/{hold.pk}/sheet.pdf"
    )
    assert (
        answer.status_code == 200
        and answer["Content-Type"] == "application/pdf"
        and answer.content.startswith(b"%PDF-")
    )


def test_an_outsider_and_a_hold_point_of_another_build_are_not_found(build: Project, outsider: User, lead: User):
    hold = builders.hold_point(build)
    address = f"/p/{build.slug}/sequence/holds/{hold.pk}/sheet.pdf"
    assert builders.signed_in(outsider).get(address).status_code == 404
    elsewhere = outsider.memberships.get().project
    assert builders.signed_in(outsider).get(address.replace(build.slug, elsewhere.slug)).status_code == 404
