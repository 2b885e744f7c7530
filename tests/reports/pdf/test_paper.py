"""The owners' page on paper: what the page says, in a PDF that a screen reader can read."""

import json

import pytest
import typst

from budget.models import LineItem
from budget.selectors import overview
from projects import display
from projects.models import Project
from reports.pdf import setting, words
from reports.selectors import owners
from tests import builders
from tests.builders import TODAY
from tests.decisions import building


@pytest.fixture
def paper(project: Project) -> dict:
    """The paper of a build with a decision taken and a line that is over."""
    building.record(building.tank(project, plinth=20_000, frame=15_000), "B")
    builders.quote(builders.line(project, "L0101", budget=9_000), 9_500)
    return words.paper(owners.content(project, on=TODAY, last=None))


def cells(paper: dict, title: str) -> list[list[str]]:
    """The rows of the tables of one section, as text."""
    (section,) = (section for section in paper["sections"] if section["title"] == title)
    tables = (part for part in section["parts"] if part["kind"] == "table")
    return [[cell["text"] for cell in row] for table in tables for row in [*table["rows"], table["foot"]]]


def headings(paper: dict) -> list[str]:
    """The headings as the typesetter made them."""
    found = typst.query(
        str(setting.HERE / "owners.typ"),
        "heading",
        root=str(setting.HERE),
        sys_inputs={"paper": json.dumps(paper)},
        font_paths=[str(setting.HERE / "fonts")],
        ignore_system_fonts=True,
    )
    return [str(heading["body"]) for heading in json.loads(found)]


def test_the_paper_gives_the_figures_of_money(paper: dict, project: Project):
    seen = overview.overview(project)
    assert paper["figures"][0]["amount"] == display.money(seen.total.likely, project, brief=True)
    assert cells(paper, "By trade")[-1][1:4] == [
        display.money(seen.total.budget, project),
        display.money(seen.total.likely, project),
        display.money(seen.total.over_budget, project, sign=True),
    ]


def test_the_bridge_on_paper_ends_at_the_likely_final(paper: dict, project: Project):
    rows = cells(paper, "How the first budget became the likely final")
    likely = sum(LineItem.objects.exclude(kind=LineItem.Kind.CONTINGENCY).values_list("likely_minor", flat=True))
    assert rows[-1][2] == display.money(likely, project)


def test_a_decision_tells_both_yardsticks_and_what_was_turned_down(paper: dict):
    (section,) = (section for section in paper["sections"] if section["title"] == "Decisions taken")
    (told,) = section["parts"]
    assert told["chosen"] == "B Frame at £15,000" and told["reason"] == "can still be levelled"
    assert [part["text"] for part in told["yardsticks"]] == [
        "£5,000 saved against the original quote",
        "£1,000 under budget",
    ]
    assert told["note"].startswith("A Plinth, the next cheapest, was expected to cost £5,000 more. Taken by Lee Lead")


def test_the_sentence_of_the_paper_has_no_tags(paper: dict):
    assert paper["sentence"].endswith(".") and not {"<", ">", "&"} & set(paper["sentence"])


def test_every_section_becomes_a_heading(paper: dict):
    found = headings(paper)
    assert all(any(section["title"] in heading for heading in found) for section in paper["sections"])


def test_the_pdf_says_that_it_can_be_read_aloud(paper: dict):
    """Source: ISO 14289-1 (PDF/UA-1), 6.7: the part is named in the metadata; 7.1: the document is tagged."""
    made = setting.as_pdf(paper, on=TODAY)
    assert made.startswith(b"%PDF-") and b"<pdfuaid:part>1</pdfuaid:part>" in made and b"/StructTreeRoot" in made


def test_the_same_paper_is_the_same_bytes(paper: dict):
    assert setting.as_pdf(paper, on=TODAY) == setting.as_pdf(paper, on=TODAY)


def test_another_figure_is_other_bytes(paper: dict):
    before = setting.as_pdf(paper, on=TODAY)
    paper["figures"][0]["amount"] = "£1"
    assert setting.as_pdf(paper, on=TODAY) != before


def test_words_are_never_taken_for_commands(paper: dict):
    plain = headings(paper | {"sentence": "Plain"})
    odd = headings(paper | {"sentence": '#panic("no") *bold* $x$ @label <tag> \\ `code`'})
    assert len(odd) == len(plain) and "#panic" in odd[0]


@pytest.mark.parametrize("name", ["Łódź Źrebię", "Ωμέγα", "混凝土", "crew 🐙", "خرسانة", "bell\x07 and zero\x00"])
def test_a_name_in_any_script_gives_a_pdf(paper: dict, name: str):
    assert setting.as_pdf(paper | {"project": name, "sentence": name}, on=TODAY).startswith(b"%PDF-")


def test_a_build_without_a_budget_gives_a_paper_that_says_so(project: Project):
    LineItem.objects.all().delete()
    paper = words.paper(owners.content(project, on=TODAY, last=None))
    assert paper["sections"] == [] and "no budget yet" in paper["sentence"]
    assert setting.as_pdf(paper, on=TODAY).startswith(b"%PDF-")
