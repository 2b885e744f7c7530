"""Today: what waits for whom, worst first."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from budget.models import QuoteItem, QuoteLine
from budget.services import lines, quotes
from decisions.selectors import overview
from decisions.services import drafts, records
from projects.access import Door
from projects.models import Project, Role, User
from reports.selectors import today as selectors
from tests import builders
from tests.builders import NOW, TODAY

Standing = QuoteItem.Standing


def door(project: Project, user: User, role: str) -> Door:
    return Door(project=project, user=user, role=role, now=NOW, today=TODAY)


def kinds(seen: selectors.Today) -> list[str]:
    return [group.kind for group in seen.groups]


def decision(project: Project, lead: User, *, days: int, prices: tuple[int, int] = (10_000, 12_000)):
    line = builders.line(project, f"L{days + 100}")
    made = drafts.open_decision(
        project, title="Plinth or frame", line_ids=[line.pk], by=lead, now=NOW, need_by=TODAY + timedelta(days=days)
    )
    for price in prices:
        item = drafts.ItemDraft(line.pk, "it", amount_minor=price * 100)
        drafts.add_option(made, drafts.OptionDraft(f"At {price}", (item,)), by=lead, now=NOW)
    return made


def test_an_empty_build_is_quiet_and_says_what_to_do(project: Project, lead: User) -> None:
    page = builders.signed_in(lead).get(f"/p/{project.slug}/").content.decode()
    assert "Nothing waits today." in page and "Start a decision" in page


def test_overdue_comes_before_due_and_far_off_is_left_out(project: Project, lead: User) -> None:
    soon, late = decision(project, lead, days=3), decision(project, lead, days=-2)
    decision(project, lead, days=40)
    seen = selectors.today(door(project, lead, Role.LEAD))
    assert [m.decision.decision.pk for m in seen.groups[0].matters] == [late.pk, soon.pk]
    assert (seen.overdue, seen.due_soon) == (1, 1)


def test_a_record_above_the_limit_waits_for_the_owner_and_is_told_to_the_lead(
    project: Project, lead: User, owner: User
) -> None:
    made = decision(project, lead, days=3, prices=(30_000, 40_000))
    choice = records.Choice(made.options.first().pk, "cheaper")
    records.record(made, choice, by=lead, role=Role.LEAD, now=NOW, today=TODAY)
    assert [m.kind for m in selectors.today(door(project, owner, Role.OWNER)).mine] == ["approval"]
    assert kinds(selectors.today(door(project, lead, Role.LEAD))) == ["owner"]


def test_a_preferred_quote_above_the_leads_limit_waits_for_an_owner(project: Project, lead: User, owner: User) -> None:
    for code, amount in (("L1", 24_000), ("L2", 26_000)):
        quote = builders.quote(builders.line(project, code), amount)
        kept = QuoteLine.objects.select_related("line__project").get(quote=quote)
        quotes.prefer(kept, preferred=True, by=lead, now=NOW, today=TODAY)
    assert [m.amount_minor for m in selectors.today(door(project, owner, Role.OWNER)).mine] == [2_600_000]


def test_quotes_that_run_out_within_two_weeks_are_told_by_line(project: Project, lead: User) -> None:
    line = builders.line(project)
    for vendor, days in (("A", 20), ("B", 14), ("C", 3)):
        builders.quote(line, 9_000, vendor=vendor, valid_until=TODAY + timedelta(days=days))
    (group,) = selectors.today(door(project, lead, Role.LEAD)).groups
    assert (group.kind, group.matters[0].names, group.matters[0].days_left) == ("running", ("C", "B"), 3)


def test_scope_that_no_quote_holds_is_told_with_its_plug(project: Project, lead: User) -> None:
    line = builders.line(project)
    lines.set_scope(line, [("Grout", 50_000), ("Bolts", 10_000)], by=lead, now=NOW, today=TODAY)
    for vendor in "AB":
        scope = (quotes.ScopeDraft("Grout", Standing.OUT), quotes.ScopeDraft("Bolts", Standing.INCLUDED))
        builders.quote(line, 9_000, vendor=vendor, scope=scope)
    (group,) = selectors.today(door(project, lead, Role.LEAD)).groups
    assert (group.kind, group.matters[0].names, group.matters[0].amount_minor) == ("nobody", ("Grout",), 50_000)


def test_the_page_asks_as_much_of_ten_lines_as_of_one(project: Project, lead: User) -> None:
    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert client.get(f"/p/{project.slug}/").status_code == 200
        return len(seen)

    client = builders.signed_in(lead)
    builders.quote(builders.line(project, "L0"), 9_000, valid_until=TODAY)
    asked()
    once = asked()
    for number in range(1, 10):
        builders.quote(builders.line(project, f"L{number}"), 9_000, valid_until=TODAY)
    assert asked() == once <= 40


def test_what_is_due_tells_the_same_quotes_as_the_list_of_choices(project: Project, lead: User) -> None:
    line = builders.line(project)
    made = drafts.open_decision(project, title="Which", line_ids=[line.pk], by=lead, now=NOW, need_by=TODAY)
    for vendor, days in (("A", 3), ("B", 14), ("C", 40)):
        quote = builders.quote(line, 9_000, vendor=vendor, valid_until=TODAY + timedelta(days=days))
        drafts.add_option(
            made, drafts.OptionDraft(vendor, (drafts.ItemDraft(line.pk, "it", quote.pk),)), by=lead, now=NOW
        )
    (row,), (listed,) = overview.due(project, today=TODAY), overview.choices(project, today=TODAY).open
    assert row.running_out == listed.running_out and row.days_left == listed.days_left == 0
    assert [quote.vendor for quote in row.running_out] == ["A", "B"]


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_everybody_on_the_build_may_look_and_only_the_lead_may_log(
    project: Project, request: pytest.FixtureRequest, who: str
) -> None:
    page = builders.signed_in(request.getfixturevalue(who)).get(f"/p/{project.slug}/").content.decode()
    assert "Log a quote" not in page


def test_an_outsider_finds_nothing(project: Project, outsider: User) -> None:
    assert builders.signed_in(outsider).get(f"/p/{project.slug}/").status_code == 404


def test_the_worst_four_of_a_sort_are_shown_and_the_rest_is_folded_away(project: Project, lead: User) -> None:
    for days in range(1, 7):
        decision(project, lead, days=days)
    (group,) = selectors.today(door(project, lead, Role.LEAD)).groups
    assert [matter.days_left for matter in group.first] == [1, 2, 3, 4]
    assert [matter.days_left for matter in group.rest] == [5, 6]


def test_what_presses_nobody_is_folded_under_one_line_unless_nothing_else_waits(project: Project, lead: User) -> None:
    line = builders.line(project)
    lines.set_scope(line, [("Grout", 50_000)], by=lead, now=NOW, today=TODAY)
    builders.quote(line, 9_000, scope=(quotes.ScopeDraft("Grout", Standing.OUT),))
    seen = selectors.today(door(project, lead, Role.LEAD))
    assert (seen.pressing, [group.kind for group in seen.worth_a_look], seen.worth) == ((), ["nobody"], 1)
    at = f"/p/{project.slug}/"
    assert 'data-keep-open="today-worth" open' in builders.signed_in(lead).get(at).content.decode()
    decision(project, lead, days=3)
    assert 'data-keep-open="today-worth">' in builders.signed_in(lead).get(at).content.decode()
