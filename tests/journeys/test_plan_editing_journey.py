"""A lead plans in a real browser: a calendar, activities that wait for each other, a change of mind, an absence, a sheet.

Dates are worked by hand on Monday to Friday from Fri 29 January 2027 (common practice, no source).
"""

import pytest
from playwright.sync_api import expect

from projects.models import Project, User
from schedule.models import Activity, Closure, Plan, WorkCalendar
from tests import builders

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("script", [True, False], ids=["script", "without script"])
def test_a_plan_is_begun_on_the_phone(project: Project, lead: User, enter, script: bool):
    person = enter(lead, script=script)
    page = person.go(f"/p/{project.slug}/sequence/plan/calendars/new/")
    page.get_by_label("Whose days are these").fill("Trades")
    page.get_by_label("Rests on the public holidays of").fill("Scotland")
    person.follow(page.get_by_role("button", name="Add the calendar"))
    expect(page.get_by_text("Monday to Friday, without the public holidays of Scotland.")).to_be_visible()

    builders.activity(project, "A01", 3, name="Dig")
    page = person.go(f"/p/{project.slug}/sequence/plan/activities/new/")
    expect(page.get_by_label("Code")).to_have_value("A02")
    page.get_by_label("What is done").fill("Pour the slab")
    page.get_by_label("pour", exact=True).check()
    page.get_by_label("Takes").fill("1")
    page.get_by_label("Waits for").fill("A01 · Dig")
    person.follow(page.get_by_role("button", name="Add the activity"))
    expect(page.get_by_role("status")).to_contain_text(
        "The finish moves from Tue 2 Feb 2027 to Wed 3 Feb 2027 (+1 day)."
    )
    person.follow(page.get_by_role("button", name="Undo"))
    assert Activity.objects.get(project=project, code="A02").removed_on is not None


def test_a_change_of_mind_and_an_absence_say_what_they_move(project: Project, lead: User, enter):
    builders.calendar(project)
    dig = builders.activity(project, "A01", 3, name="Dig")
    builders.activity(project, "A02", 1, ["A01"], name="Pour")
    person = enter(lead, "desk")
    page = person.go(f"/p/{project.slug}/sequence/plan/activities/{dig.pk}/edit/")
    page.get_by_label("Takes").fill("8")
    page.get_by_role("button", name="Add what it waits for").click()
    page.get_by_label("Waits for").last.fill("Pour")
    page.get_by_label("Why it changes").fill("rock")
    with person.expecting(422):
        person.follow(page.get_by_role("button", name="Save the activity"))
    expect(page.get_by_role("alert")).to_contain_text("A01 Dig")
    page.get_by_role("button", name="Leave this out").last.click()
    person.follow(page.get_by_role("button", name="What moves?"))
    expect(page.get_by_role("note")).to_contain_text(
        "The finish moves from Wed 3 Feb 2027 to Wed 10 Feb 2027 (+7 days)."
    )
    assert Activity.objects.get(pk=dig.pk).days == 3
    person.follow(page.get_by_role("button", name="Save the activity"))
    expect(page.get_by_role("status")).to_contain_text("(+7 days)")

    calendar = WorkCalendar.objects.get(project=project)
    page = person.go(f"/p/{project.slug}/sequence/plan/calendars/{calendar.pk}/close/")
    page.get_by_label("From").fill("2027-02-08")
    page.get_by_label("Why").fill("the crew is away")
    person.follow(page.get_by_role("button", name="Close it"))
    expect(page.get_by_role("status")).to_contain_text("to Thu 11 Feb 2027 (+1 day)")
    person.follow(page.get_by_role("button", name="Undo"))
    assert not Closure.objects.exists() and str(Plan.objects.get(project=project).finish_on) == "2027-02-10"


def test_a_sheet_is_looked_at_and_brought_in(project: Project, lead: User, enter):
    builders.activity(project, "A01", 3, name="Dig")
    person = enter(lead, "desk")
    page = person.go(f"/p/{project.slug}/sequence/plan/bring-in/")
    sheet = b"Code,Activity,Days,Waits for\r\nA02,Pour,many,A01\r\n"
    page.get_by_label("Sheet (.xlsx or .csv)").set_input_files(
        {"name": "p.csv", "mimeType": "text/csv", "buffer": sheet}
    )
    person.follow(page.get_by_role("button", name="Read the file"))
    expect(page.get_by_role("rowheader")).to_have_text("Activities, row 2, Days")
    mended = sheet.replace(b"many", b"2")
    page.get_by_label("Sheet (.xlsx or .csv)").set_input_files(
        {"name": "p.csv", "mimeType": "text/csv", "buffer": mended}
    )
    person.follow(page.get_by_role("button", name="Read the file"))
    expect(page.locator("h1")).to_have_text("It would bring in 1 new activity, 0 changed, 0 as they stand.")
    person.follow(page.get_by_role("button", name="Bring it in"))
    expect(page.get_by_role("status")).to_contain_text(
        "The finish moves from Tue 2 Feb 2027 to Thu 4 Feb 2027 (+2 days)."
    )
