"""Issued reports: frozen, kept, and the ground that the next page counts its changes from."""

import hashlib
import json

import pytest
from django.db import connection

from budget.models import Cause, LineItem, Movement
from budget.selectors import overview
from budget.services import ledger, lines, quotes
from decisions.models import Decision
from decisions.services import records
from projects import uploads
from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from reports.models import IssuedReport
from reports.pdf import setting, words
from reports.selectors import issued, owners
from reports.services import issuing
from tests import builders
from tests.builders import NOW, TODAY
from tests.decisions import building


def issue(project: Project, *, note: str = "") -> IssuedReport:
    return issuing.issue(project, note=note, by=builders.lead_of(project), now=NOW, today=TODAY)


def since(project: Project) -> dict:
    """What the page of now tells to have changed."""
    return owners.content(project, on=TODAY, last=issued.last_report(project))["since"]


@pytest.fixture
def furnished(project: Project) -> Project:
    builders.quote(builders.line(project, budget=10_000), 9_000)
    return project


def test_a_report_stays_as_it_was(furnished: Project, lead: User):
    report = issue(furnished)
    builders.quote(LineItem.objects.get(code="L0101"), 12_000, vendor="Norrowby")
    builders.quote(builders.line(furnished, "L0102"), 11_000)
    page = builders.signed_in(lead).get(f"/p/{furnished.slug}/owners/reports/{report.number}/").content.decode()
    assert "£1,000 under the first budget" in page and "L0102" not in page


def test_the_figures_and_the_paper_bear_their_hashes(furnished: Project):
    report = issue(furnished, note="All is well")
    kept = uploads.path_of(report.pdf.sha256).read_bytes()
    assert hashlib.sha256(report.content.encode()).hexdigest() == report.sha256
    assert kept.startswith(b"%PDF-") and hashlib.sha256(kept).hexdigest() == report.pdf.sha256


def test_the_kept_paper_can_be_set_again_to_the_byte(furnished: Project):
    report = issue(furnished)
    content = json.loads(report.content)
    again = setting.as_pdf(words.paper(content, stamp=issuing.stamp(content)), on=report.issued_on)
    assert hashlib.sha256(again).hexdigest() == report.pdf.sha256


def test_a_report_that_was_altered_is_told(furnished: Project, lead: User):
    report = issue(furnished)
    address = f"/p/{furnished.slug}/owners/reports/{report.number}/"
    assert "This report was altered" not in builders.signed_in(lead).get(address).content.decode()
    with connection.cursor() as cursor:
        cursor.execute("UPDATE reports_issuedreport SET content = replace(content, '900000', '800000')")
    assert "This report was altered" in builders.signed_in(lead).get(address).content.decode()


def test_a_report_altered_with_its_hash_is_told_by_the_trail(furnished: Project):
    report = issue(furnished)
    text = report.content.replace("900000", "800000")
    with connection.cursor() as cursor:
        forged = [text, hashlib.sha256(text.encode()).hexdigest()]
        cursor.execute("UPDATE reports_issuedreport SET content = %s, sha256 = %s", forged)
    assert not issued.intact(IssuedReport.objects.get())


def test_nothing_new_is_not_issued_again(furnished: Project):
    issue(furnished, note="First")
    for note in ("", "First"):
        with pytest.raises(Refused, match="nothing has changed"):
            issue(furnished, note=note)
    assert issue(furnished, note="One word more").number == 2


def test_a_build_without_a_budget_has_nothing_to_report(project: Project):
    with pytest.raises(Refused, match="no budget yet"):
        issue(project)


def test_a_word_that_is_too_long_is_refused(furnished: Project):
    with pytest.raises(Refused):
        issue(furnished, note="x" * 301)


def test_the_word_to_the_owners_stands_on_page_and_paper(furnished: Project, lead: User):
    report = issue(furnished, note="The shell is on the water.")
    page = builders.signed_in(lead).get(f"/p/{furnished.slug}/owners/reports/1/").content.decode()
    assert "The shell is on the water." in page
    assert words.paper(json.loads(report.content))["note"] == "The shell is on the water."


def test_the_trail_tells_who_issued_what(furnished: Project, lead: User):
    report = issue(furnished)
    (row,) = TrailEntry.objects.filter(subject="report")
    assert (row.by, row.subject_id, row.details["sha256"]) == (lead, report.pk, report.sha256)


def test_the_lead_issues_from_the_page(furnished: Project, lead: User):
    client, address = builders.signed_in(lead), f"/p/{furnished.slug}/owners/"
    assert "Report 1 is issued" in client.post(f"{address}issue/", {"note": ""}, follow=True).content.decode()
    again = client.post(f"{address}issue/", {"note": ""})
    assert again.status_code == 422 and "nothing has changed since" in again.content.decode()


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_others_read_reports_and_issue_none(furnished: Project, request: pytest.FixtureRequest, who: str):
    report, client = issue(furnished), builders.signed_in(request.getfixturevalue(who))
    address = f"/p/{furnished.slug}/owners/"
    assert client.post(f"{address}issue/", {"note": ""}).status_code == 403
    assert client.get(f"{address}reports/{report.number}/").status_code == 200
    assert "Issue this page" not in client.get(address).content.decode()


def test_an_outsider_finds_no_report_and_no_paper(furnished: Project, outsider: User):
    report, client = issue(furnished), builders.signed_in(outsider)
    for rest in (f"owners/reports/{report.number}/", "owners/pdf/", f"project/files/{report.pdf_id}/"):
        assert client.get(f"/p/{furnished.slug}/{rest}").status_code == 404


def test_before_the_first_report_no_change_is_told(furnished: Project, lead: User):
    assert since(furnished) is None
    assert "Since report" not in builders.signed_in(lead).get(f"/p/{furnished.slug}/owners/").content.decode()


def test_what_came_in_since_is_told_by_cause_and_opens_to_its_entries(furnished: Project, lead: User):
    issue(furnished)
    line = LineItem.objects.get(code="L0101")
    lines.forecast_own(line, amount_minor=11_000_00, reason="Asked again", by=lead, now=NOW, today=TODAY)
    (step,) = since(furnished)["steps"]
    assert (step["label"], step["amount"]) == ("re-forecasts", 2_000_00)
    assert [(entry["line"], entry["amount"]) for entry in step["entries"]] == [("L0101 Work L0101", 2_000_00)]


def test_the_changes_add_up_to_the_cent_whatever_happened(project: Project, lead: User):
    """Quotes, a decision, its reopening, a quote withdrawn, a line that came and one that left."""
    tank = building.tank(project)
    spare = builders.line(project, "L0901", budget=3_333)
    issue(project)
    then = overview.overview(project).total.likely
    building.record(tank, "B")
    builders.quote(builders.line(project, "L0902", budget=1_111), 2_222)
    records.reopen(Decision.objects.get(), reason="again", by=lead, now=NOW, today=TODAY)
    withdrawn = builders.quote(builders.line(project, "L0903", budget=777), 888)
    quotes.withdraw_quote(withdrawn, reason="too dear", by=lead, now=NOW, today=TODAY)
    lines.take_off(project, [spare], deed=ledger.Deed(lead, NOW, TODAY, Cause.SCOPE))
    told, now = since(project), overview.overview(project).total.likely
    assert (told["then"], told["now"], told["moved"]) == (then, now, now - then)
    assert then + sum(step["amount"] for step in told["steps"]) == now == told["steps"][-1]["running"]


def test_entries_beyond_the_first_dozen_are_told_as_a_sum(project: Project):
    rows = [builders.line(project, f"L{number:04}", budget=10_000) for number in range(1, 16)]
    issue(project)
    for number, line in enumerate(rows, start=1):
        builders.quote(line, 10_000 + number)
    (step,) = since(project)["steps"]
    assert len(step["entries"]) == 12 and (step["more"], step["more_minor"]) == (3, (1 + 2 + 3) * 100)
    assert step["entries"][0]["amount"] == 15_00


def test_contingency_is_no_part_of_what_moved(project: Project, lead: User):
    builders.line(project, "L0101")
    issue(project)
    aside = builders.line(project, "L9901", budget=5_000, kind=LineItem.Kind.CONTINGENCY)
    lines.forecast_own(aside, amount_minor=6_000_00, reason="more set aside", by=lead, now=NOW, today=TODAY)
    assert Movement.objects.filter(line=aside).exists()
    told = since(project)
    assert told["moved"] == 0 and told["steps"] == []


def test_the_next_report_counts_from_the_last(furnished: Project):
    issue(furnished)
    builders.quote(builders.line(furnished, "L0102"), 11_000)
    second = issue(furnished)
    assert second.number == 2 and second.up_to == Movement.objects.order_by("pk").last()
    assert json.loads(second.content)["since"]["number"] == 1
    assert since(furnished)["moved"] == 0
