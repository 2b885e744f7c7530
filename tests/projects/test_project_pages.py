"""The pages about a build, tried by everybody of the cast."""

import re
from datetime import date

import pytest
from django.test import Client

from projects.models import Membership, Project, Role, User
from projects.services import builds
from tests import builders
from tests.builders import NOW

PAGES = ("project/", "project/people/", "project/rates/", "project/trail/")
FORMS = {
    "project/": {
        "name": "New name",
        "currency": "GBP",
        "units": "metric",
        "locale": "en-GB",
        "time_zone": "Europe/London",
        "version": "1",
    },
    "project/cost-of-a-day/": {"amount": "900", "made_of": "hire", "version": "1"},
    "project/tax/": {"tax_percent": "20", "tax_recovered": "on", "rate_swing_percent": "5", "version": "1"},
    "project/people/invite/": {"note": "Nia", "role": "owner"},
    "project/people/limits/": {"lead": "2,000", "owner": ""},
    "project/rates/": {"currency": "EUR", "rate": "0.86", "rated_on": "2027-01-29"},
}


def page(client: Client, project: Project, path: str) -> str:
    answer = client.get(f"/p/{project.slug}/{path}")
    assert answer.status_code == 200
    return answer.content.decode()


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize("role", ["lead", "owner", "bookkeeper", "viewer"])
def test_every_member_reads_the_pages(role: str, path: str, project: Project, request: pytest.FixtureRequest):
    assert "Harbour hall" in page(builders.signed_in(request.getfixturevalue(role)), project, path)


@pytest.mark.parametrize("path", FORMS)
@pytest.mark.parametrize("role", ["owner", "bookkeeper", "viewer"])
def test_only_a_lead_saves(role: str, path: str, project: Project, request: pytest.FixtureRequest):
    client, before = builders.signed_in(request.getfixturevalue(role)), project.trail.count()
    assert client.post(f"/p/{project.slug}/{path}", FORMS[path]).status_code == 403
    assert project.trail.count() == before


@pytest.mark.parametrize("path", FORMS)
def test_a_lead_saves(path: str, project: Project, lead: User):
    before = project.trail.count()
    answer = builders.signed_in(lead).post(f"/p/{project.slug}/{path}", FORMS[path])
    assert answer.status_code == (200 if path.endswith("invite/") else 302)
    assert project.trail.count() == before + 1


@pytest.mark.parametrize("path", ["project/", "project/people/", "project/rates/"])
def test_who_may_not_save_sees_no_form(path: str, project: Project, viewer: User):
    text = page(builders.signed_in(viewer), project, path)
    assert 'method="post"' not in text[text.index("<main") :]


@pytest.mark.parametrize(
    ("path", "most"), [("project/", 16), ("project/people/", 8), ("project/rates/", 6), ("project/trail/", 8)]
)
def test_queries_do_not_grow(path: str, most: int, project: Project, lead: User, django_assert_max_num_queries):
    for number in range(12):
        builders.member(project, builders.person(f"person{number}"), Role.VIEWER)
    client = builders.signed_in(lead)
    with django_assert_max_num_queries(most):
        page(client, project, path)


# --- Home and the list -------------------------------------------------------------------------------------------


def test_home_leads_to_the_only_build(project: Project, lead: User):
    assert builders.signed_in(lead).get("/")["Location"] == f"/p/{project.slug}/"


def test_home_lists_several_builds(project: Project, lead: User):
    other = builders.project(lead, name="Annex", opens_on=date(2027, 2, 1))
    client = builders.signed_in(lead)
    text = client.get(client.get("/")["Location"]).content.decode()
    assert f"/p/{project.slug}/" in text and f"/p/{other.slug}/" in text and "3 days left" in text


def test_somebody_without_a_build_is_told_what_to_do(db: None):
    text = builders.signed_in(builders.person("newcomer")).get("/projects/").content.decode()
    assert "You are on no build yet." in text and "/projects/new/" in text


def test_a_build_one_has_left_is_not_listed(project: Project, owner: User, lead: User):
    Membership.objects.filter(user=owner).update(left_at=NOW)
    client = builders.signed_in(owner)
    assert "Harbour hall" not in client.get("/projects/").content.decode()
    assert client.get(f"/p/{project.slug}/project/").status_code == 404


# --- Starting ----------------------------------------------------------------------------------------------------

NEW = {
    "name": "Boat shed", "currency": "EUR", "units": "metric", "locale": "en-DE", "time_zone": "Europe/Berlin",
    "cost_of_day": "1.200,50", "lead_limit": "", "contingency": "", "opens_on": "2027-05-28",
}  # fmt: skip


def test_a_build_is_started_in_its_own_currency_and_marks(outsider: User):
    answer = builders.signed_in(outsider).post("/projects/new/", NEW)
    project = Project.objects.get(name="Boat shed")
    assert answer["Location"] == f"/p/{project.slug}/money/"
    assert (project.currency, project.cost_of_day_minor, project.opens_on) == ("EUR", 120_050, date(2027, 5, 28))


def test_a_slip_keeps_what_was_typed(outsider: User):
    answer = builders.signed_in(outsider).post("/projects/new/", NEW | {"cost_of_day": "18k", "name": "Shed & Sons"})
    text = answer.content.decode()
    assert answer.status_code == 422 and "Write the amount out in full" in text
    assert 'value="Shed &amp; Sons"' in text and 'value="18k"' in text
    assert not Project.objects.filter(currency="EUR").exists()


# --- Settings ----------------------------------------------------------------------------------------------------


def test_a_late_save_shows_both_and_the_next_one_is_knowing(project: Project, lead: User):
    client, address = builders.signed_in(lead), f"/p/{project.slug}/project/"
    client.post(address, FORMS["project/"] | {"name": "Theirs"})
    late = client.post(address, FORMS["project/"] | {"name": "Mine"})
    text = late.content.decode()
    assert late.status_code == 422 and 'value="Mine"' in text
    assert re.search(r"now stands</span>\s*Theirs", text) and text.count("now stands") == 1
    version = re.search(r'name="version" value="(\d+)"', text)
    assert (
        version and client.post(address, FORMS["project/"] | {"name": "Mine", "version": version[1]}).status_code == 302
    )
    project.refresh_from_db()
    assert project.name == "Mine"


def test_the_held_date_is_not_a_setting(project: Project, lead: User):
    builders.signed_in(lead).post(f"/p/{project.slug}/project/", FORMS["project/"] | {"held_on": "2030-01-01"})
    project.refresh_from_db()
    assert project.held_on == builders.TODAY
    assert "held_on" not in page(builders.signed_in(lead), project, "project/")


def test_the_currency_is_shown_as_fixed_once_there_is_money(project: Project, lead: User):
    builders.line(project)
    client = builders.signed_in(lead)
    assert "Fixed, because amounts are recorded in it." in page(client, project, "project/")
    client.post(f"/p/{project.slug}/project/", FORMS["project/"] | {"currency": "EUR"})
    project.refresh_from_db()
    assert project.currency == "GBP" and project.name == "New name"


def test_an_odd_rate_is_pointed_out(project: Project, lead: User):
    client, address = builders.signed_in(lead), f"/p/{project.slug}/project/rates/"
    client.post(address, FORMS["project/rates/"])
    text = client.post(address, FORMS["project/rates/"] | {"rate": "1.16"}, follow=True).content.decode()
    assert "check that it is not upside down" in text


TODAYS = FORMS["project/rates/"] | {"purpose": "today", "rate": "0.874"}


@pytest.mark.parametrize(("role", "status"), [("lead", 302), ("bookkeeper", 302), ("owner", 403), ("viewer", 403)])
def test_a_rate_of_today_is_set_by_who_keeps_the_books(
    role: str, status: int, project: Project, request: pytest.FixtureRequest
):
    client = builders.signed_in(request.getfixturevalue(role))
    assert client.post(f"/p/{project.slug}/project/rates/", TODAYS).status_code == status
    assert project.rates.filter(purpose="today").exists() == (status == 302)


def test_the_two_kinds_of_rates_stand_apart(project: Project, lead: User):
    client, address = builders.signed_in(lead), f"/p/{project.slug}/project/rates/"
    for form in (FORMS["project/rates/"], TODAYS):
        client.post(address, form)
    todays, budgets = page(client, project, "project/rates/").split("<h2>")[1:]
    assert "0.874" in todays and "0.86<" not in todays and "0.86<" in budgets and "0.874" not in budgets


def test_a_slip_in_a_rate_of_today_is_shown_beside_it_alone(project: Project, bookkeeper: User):
    client = builders.signed_in(bookkeeper)
    answer = client.post(f"/p/{project.slug}/project/rates/", TODAYS | {"rate": "-1"})
    assert answer.status_code == 422 and answer.content.decode().count('aria-invalid="true"') == 1
    assert "Set a budget rate" not in answer.content.decode()


def test_tax_that_does_not_come_back_is_said_to_the_others(project: Project, lead: User, viewer: User):
    form = FORMS["project/tax/"] | {"tax_recovered": ""}
    builders.signed_in(lead).post(f"/p/{project.slug}/project/tax/", form)
    text = page(builders.signed_in(viewer), project, "project/")
    assert "no, it is part of every cost" in text and "20%" in text


@pytest.mark.parametrize("slip", [{"tax_percent": "101"}, {"tax_percent": "NaN"}, {"rate_swing_percent": ""}])
def test_a_slip_in_the_tax_answers_at_its_field(slip: dict[str, str], project: Project, lead: User):
    answer = builders.signed_in(lead).post(f"/p/{project.slug}/project/tax/", FORMS["project/tax/"] | slip)
    assert answer.status_code == 422 and 'aria-invalid="true"' in answer.content.decode()


# --- People ------------------------------------------------------------------------------------------------------


def test_a_link_is_shown_once(project: Project, lead: User):
    client = builders.signed_in(lead)
    answer = client.post(f"/p/{project.slug}/project/people/invite/", FORMS["project/people/invite/"])
    link = re.search(r"http://testserver(/join/[\w-]{43}/)", answer.content.decode())
    assert link and "no-store" in answer["Cache-Control"]
    assert "/join/" not in page(client, project, "project/people/")
    assert Client().get(link[1]).status_code == 200


def test_a_key_of_another_build_leads_nowhere(project: Project, lead: User, outsider: User):
    theirs = Membership.objects.get(user=outsider)
    client = builders.signed_in(lead)
    for deed in ("role", "take-off"):
        assert (
            client.post(
                f"/p/{project.slug}/project/people/{theirs.pk}/{deed}/", {"role": "lead", "was": "lead"}
            ).status_code
            == 404
        )
    theirs.refresh_from_db()
    assert theirs.left_at is None


def test_a_role_is_changed_and_takes_effect(project: Project, lead: User, viewer: User):
    row = Membership.objects.get(user=viewer)
    builders.signed_in(lead).post(f"/p/{project.slug}/project/people/{row.pk}/role/", {"role": "lead", "was": "viewer"})
    assert 'method="post"' in page(builders.signed_in(viewer), project, "project/rates/").partition("<main")[2]


def test_who_is_taken_off_is_out_at_once(project: Project, lead: User, viewer: User):
    row, client = Membership.objects.get(user=viewer), builders.signed_in(viewer)
    page(client, project, "project/")
    builders.signed_in(lead).post(f"/p/{project.slug}/project/people/{row.pk}/take-off/")
    assert client.get(f"/p/{project.slug}/project/").status_code == 404


def test_the_last_lead_is_told_why(project: Project, lead: User):
    row = Membership.objects.get(user=lead)
    answer = builders.signed_in(lead).post(f"/p/{project.slug}/project/people/{row.pk}/take-off/", follow=True)
    assert "A build needs a lead" in answer.content.decode() and Membership.objects.get(pk=row.pk).left_at is None


# --- Trail -------------------------------------------------------------------------------------------------------


def test_the_trail_is_narrowed_by_person_and_subject(project: Project, lead: User, owner: User):
    builders.line(project)
    client = builders.signed_in(owner)
    assert "Added line" not in page(client, project, "project/trail/?who=Olu+Owner")
    assert "Added line" in page(client, project, "project/trail/?subject=line")
    assert "Nothing of this kind was done." in page(client, project, "project/trail/?subject=line&who=Olu+Owner")


@pytest.mark.parametrize("number", ["0", "-1", "999", "x", "1e9"])
def test_any_page_number_shows_a_page(number: str, project: Project, lead: User):
    assert "Started the project" in page(builders.signed_in(lead), project, f"project/trail/?page={number}")


def test_a_long_trail_is_paged(project: Project, lead: User):
    for number in range(60):
        builds.set_limits(project, {Role.LEAD: number + 1}, by=lead, now=NOW)
    client = builders.signed_in(lead)
    assert page(client, project, "project/trail/").count("<time") == 50
    assert "Started the project" in page(client, project, "project/trail/?page=2")


def test_the_trail_shows_the_clock_of_the_place(lead: User):
    project = builders.project(lead, time_zone="America/New_York")
    builders.line(project)
    assert "05:00</time>" in page(builders.signed_in(lead), project, "project/trail/")
