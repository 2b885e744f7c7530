"""The savings on the owners' page, on its paper, and in reports that were issued before the book told what came true."""

import json
import re

import pytest

from decisions.calc.sealing import canonical, hash_of
from decisions.selectors import savings
from projects.models import Project, User
from reports.models import IssuedReport
from reports.pdf import setting, words
from reports.selectors import owners
from tests import builders
from tests.budget import changing
from tests.builders import NOW, TODAY
from tests.decisions import book_building as building
from tests.decisions import building as decisions


def read(response) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


@pytest.fixture
def saved(project: Project) -> Project:
    """5,000 by a decision, 3,000 by a better quote of which a third is billed, and 800 eaten."""
    decisions.record(decisions.tank(project), "B")
    line = building.let(project)
    building.enter(line, how="better quote")
    builders.approved(line, 5_666, vendor="Norrowby")
    changing.raised(line, 800, agree=True)
    return project


def told(project: Project) -> owners.Content:
    return owners.content(project, on=TODAY, last=None)


def paper(content: owners.Content) -> str:
    return json.dumps(words.paper(content), ensure_ascii=False)


def test_owners_see_promised_come_true_and_eaten(saved: Project, owner: User):
    page = read(builders.signed_in(owner).get(f"/p/{saved.slug}/owners/"))
    assert "£8,000 is saved against the original quotes" in page
    assert "promised; £999.90 of it has come true" in page
    assert "decisions £5,000.00 £0.00" in page and "a better quote £3,000.00 £999.90" in page
    assert "eaten by: scope gap −£800.00" in page and "What is left of it all £7,200.00" in page


def test_the_paper_says_the_same(saved: Project):
    said = paper(told(saved))
    for words_of_it in ("promised; £999.90 of it has come true", "eaten by: scope gap", "−£800.00", "£7,200.00"):
        assert words_of_it in said
    assert setting.as_pdf(words.paper(told(saved)), on=TODAY).startswith(b"%PDF-")


def test_the_content_is_what_json_holds(saved: Project):
    kept = told(saved)["savings"]
    assert json.loads(json.dumps(kept))["counted_minor"] == savings.book(saved).counted_minor == 8_000_00


#: As reports kept it before the book told what had come true.
THEN = {
    "counted_minor": 430_000,
    "counted": [
        {"kind": "same for less", "label": "the same function for less", "amount_minor": 500_000},
        {"kind": "effect", "label": "effects on other lines", "amount_minor": -70_000},
    ],
    "beside": [{"kind": "avoided", "label": "a cost avoided that was never quoted", "amount_minor": 900_000}],
}


@pytest.fixture
def old(saved: Project, lead: User) -> IssuedReport:
    content = canonical(told(saved) | {"savings": THEN, "note": "", "number": 1, "issued_by": "Lee Lead"})
    return IssuedReport.objects.create(
        project=saved, number=1, note="", issued_on=TODAY, issued_at=NOW, issued_by=lead, issued_by_name="Lee Lead",
        content=content, sha256=hash_of(content), likely_minor=1, pdf=builders.attachment(saved),
    )  # fmt: skip


def test_an_old_report_opens_with_the_sums_it_told(old: IssuedReport, owner: User):
    answer = builders.signed_in(owner).get(f"/p/{old.project.slug}/owners/reports/1/")
    page = read(answer)
    assert answer.status_code == 200 and "Saved by decisions, by kind" in page
    assert "effects on other lines −£700.00" in page and "Saved against the original quotes £4,300.00" in page
    assert "come true" not in page


def test_an_old_report_can_be_set_on_paper(old: IssuedReport):
    said = paper(json.loads(old.content))
    assert "as promised when they were taken" in said and "£4,300" in said and "−£700.00" in said
    assert setting.as_pdf(words.paper(json.loads(old.content)), on=TODAY).startswith(b"%PDF-")
