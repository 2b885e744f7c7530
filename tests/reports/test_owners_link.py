"""Links to the owners' page: whoever bears one sees that page, and nothing else, until it runs out or is taken back."""

import re
from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from django.test import Client
from django.utils import timezone

from projects.faults import Refused
from projects.models import Project, TrailEntry, User
from reports.models import OwnersLink
from reports.services import links
from tests import builders
from tests.builders import NOW


def given(project: Project, lead: User, *, days: int = 30, note: str = "The bank") -> links.Given:
    """A link made now: a bearer has no project, and so no held date, to come in by."""
    return links.give(project, note=note, days=days, by=lead, now=timezone.now())


def opened(secret: str, client: Client | None = None):
    return (client or Client()).get(f"/o/{secret}/")


@pytest.fixture
def furnished(project: Project) -> Project:
    builders.quote(builders.line(project, budget=10_000), 9_000)
    return project


def test_a_stranger_sees_the_page_by_its_link(furnished: Project, lead: User):
    page = opened(given(furnished, lead).secret)
    assert page.status_code == 200 and "£1,000 under the first budget" in page.content.decode()


def test_the_linked_page_leads_nowhere(furnished: Project, lead: User):
    page = opened(given(furnished, lead).secret).content.decode()
    main = page[page.index("<main") : page.index("</main>")]
    assert "/p/" not in main and "<form" not in main and "hx-post" not in main


def test_the_linked_page_is_kept_from_search_engines_and_caches(furnished: Project, lead: User):
    page = opened(given(furnished, lead).secret)
    assert page["X-Robots-Tag"] == "noindex, nofollow" and page["Referrer-Policy"] == "no-referrer"
    assert "no-store" in page["Cache-Control"]


def test_a_link_changes_nothing(furnished: Project, lead: User):
    assert Client().post(f"/o/{given(furnished, lead).secret}/").status_code == 405


def test_a_link_shows_its_own_build_only(furnished: Project, lead: User, outsider: User):
    secret = given(furnished, lead).secret
    assert "Harbour hall" in opened(secret, builders.signed_in(outsider)).content.decode()
    assert builders.signed_in(outsider).get(f"/p/{furnished.slug}/owners/").status_code == 404


def test_every_link_that_does_not_work_gets_the_same_answer(furnished: Project, lead: User):
    gone = given(furnished, lead)
    links.take_back(gone.link, by=lead, now=timezone.now())
    old = links.give(furnished, note="Old", days=7, by=lead, now=timezone.now() - timedelta(days=7))
    answers = [opened(secret) for secret in (gone.secret, old.secret, "x" * 43, gone.link.secret_hash)]
    assert [answer.status_code for answer in answers] == [404] * 4
    assert len({re.sub(r"\b[A-Za-z0-9]{64}\b", "", answer.content.decode()) for answer in answers}) == 1


def test_only_the_hash_of_a_secret_is_kept(furnished: Project, lead: User):
    secret = given(furnished, lead).secret
    kept = [str(value) for row in OwnersLink.objects.values_list() for value in row]
    told = [f"{row.summary} {row.details}" for row in TrailEntry.objects.all()]
    assert not [text for text in [*kept, *told] if secret in text] and len(secret) >= 43


def test_the_lead_gives_a_link_and_sees_it_once(furnished: Project, lead: User):
    client = builders.signed_in(lead)
    address = f"/p/{furnished.slug}/owners/"
    page = client.post(f"{address}links/give/", {"note": "The bank", "days": "30"}).content.decode()
    (link,) = re.findall(r'id="address"[^>]*>([^<]+)<', page)
    assert opened(urlsplit(link).path.split("/")[2]).status_code == 200
    assert "/o/" not in client.get(address).content.decode()


def test_the_lead_takes_a_link_back(furnished: Project, lead: User):
    made = given(furnished, lead)
    client = builders.signed_in(lead)
    client.post(f"/p/{furnished.slug}/owners/links/{made.link.pk}/take-back/")
    assert opened(made.secret).status_code == 404
    assert TrailEntry.objects.filter(subject="owners link", verb="took back").count() == 1


def test_taking_back_twice_is_one_deed(furnished: Project, lead: User):
    made = given(furnished, lead)
    for _again in range(2):
        links.take_back(made.link, by=lead, now=NOW)
    assert TrailEntry.objects.filter(subject="owners link", verb="took back").count() == 1


def test_a_link_of_another_build_is_not_found(furnished: Project, lead: User, outsider: User):
    made = given(furnished, lead)
    client = builders.signed_in(outsider)
    assert client.post(f"/p/elsewhere/owners/links/{made.link.pk}/take-back/").status_code == 404
    assert opened(made.secret).status_code == 200


@pytest.mark.parametrize("who", ["owner", "bookkeeper", "viewer"])
def test_only_the_lead_gives_links(furnished: Project, request: pytest.FixtureRequest, who: str):
    client = builders.signed_in(request.getfixturevalue(who))
    address = f"/p/{furnished.slug}/owners/"
    assert client.post(f"{address}links/give/", {"note": "Me", "days": "30"}).status_code == 403
    assert "links/give" not in client.get(address).content.decode() and not OwnersLink.objects.exists()


@pytest.mark.parametrize(("note", "days"), [("", 30), (" ", 30), ("x" * 121, 30), ("The bank", 0), ("The bank", 3650)])
def test_a_link_without_a_name_or_with_an_odd_time_is_refused(furnished: Project, lead: User, note: str, days: int):
    with pytest.raises(Refused):
        given(furnished, lead, note=note, days=days)
    assert not OwnersLink.objects.exists()


def test_a_form_that_is_refused_is_shown_again(furnished: Project, lead: User):
    sent = builders.signed_in(lead).post(f"/p/{furnished.slug}/owners/links/give/", {"note": "", "days": "30"})
    assert sent.status_code == 422 and "This field is required" in sent.content.decode()


def test_more_links_than_any_build_has_owners_are_refused(furnished: Project, lead: User):
    for number in range(links.MOST_OPEN):
        given(furnished, lead, note=str(number))
    with pytest.raises(Refused, match="take some back first"):
        given(furnished, lead)


def test_quotes_that_ran_out_are_out_of_the_figures_of_a_link_too(project: Project, lead: User):
    line = builders.line(project, budget=10_000)
    builders.quote(line, 7_000, valid_until=builders.TODAY + timedelta(days=1))
    project.held_on = builders.TODAY + timedelta(days=2)
    project.save(update_fields=["held_on"])
    assert "on the first budget" in opened(given(project, lead).secret).content.decode()
