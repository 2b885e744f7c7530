"""Requests that no page asks for: each gets an answer that says no, and none a crash."""

import re

import pytest
from django.test import Client

from projects.models import Membership, Project, User
from projects.services import people
from tests import builders
from tests.builders import NOW
from tests.house.test_every_door import PROJECT_ROUTES, addresses, asked, filled, furnished, rows_of_everything

assert furnished  # a fixture, taken over from there

#: What may stand in an address behind the question mark, and is read without a form.
ASKED = (
    "who",
    "subject",
    "page",
    "open",
    "from",
    "vendor",
    "replaces",
    "line",
    "currency",
    "prefix",
    "option",
    "trade",
)
ODD = ("<script>alert(1)</script>\"'>", "\u202e\x01\ufffd", "٣", "-1", "9" * 3000)
TOO_LARGE = (2**63 - 1, 2**63, 10**30)


@pytest.mark.parametrize("address", ["/sign-in/?x=%00", "/sign-in/%00", "/projects/?a=b%00c"])
@pytest.mark.django_db
def test_an_address_with_a_nul_is_turned_away_with_every_guard(address: str) -> None:
    answer = Client().get(address)
    assert answer.status_code == 400 and "could not be read" in answer.content.decode()
    assert "default-src 'none'" in answer["Content-Security-Policy"] and answer["X-Content-Type-Options"] == "nosniff"


def test_a_member_cannot_make_a_page_choke_on_a_nul(furnished: Project, lead: User) -> None:
    client = builders.signed_in(lead)
    for page in ("project/trail/?who=%00", "project/trail/?subject=%00", "money/?open=%00"):
        assert client.get(f"/p/{furnished.slug}/{page}").status_code == 400


@pytest.mark.parametrize("odd", ODD)
def test_whatever_an_address_asks_for_is_answered(odd: str, furnished: Project, lead: User) -> None:
    client, faults = builders.signed_in(lead), {}
    for route in PROJECT_ROUTES:
        answer = asked(lambda address: client.get(address, dict.fromkeys(ASKED, odd)), addresses(route, furnished)[0])
        unsafe = not answer.streaming and b"<script>alert" in answer.content
        if answer.status_code not in {200, 302, 400, 403, 404, 405} or unsafe:
            faults[route] = answer.status_code
    assert faults == {}


@pytest.mark.parametrize("number", TOO_LARGE)
def test_a_number_too_large_for_a_row_leads_nowhere(number: int, furnished: Project, lead: User, owner: User) -> None:
    clients, faults = [builders.signed_in(user) for user in (lead, owner)], {}
    numbered = [route for route in PROJECT_ROUTES if "<int:" in route]
    for route in numbered:
        codes = codes_of(clients, filled(route, slug=furnished.slug, pk=number))
        if not {404} <= codes <= {403, 404, 405}:
            faults[route] = codes
    assert numbered and faults == {}


def codes_of(clients: list[Client], address: str) -> set[int]:
    return {asked(ask, address).status_code for client in clients for ask in (client.get, client.post)}


@pytest.mark.parametrize("role", ["lead", "viewer"])
def test_other_kinds_of_request_change_nothing(role: str, furnished: Project, request: pytest.FixtureRequest) -> None:
    client = builders.signed_in(request.getfixturevalue(role))
    asked(client.get, f"/p/{furnished.slug}/money/")
    before, faults = rows_of_everything(), {}
    for route in PROJECT_ROUTES:
        for name in ("head", "options", "put", "patch", "delete", "trace"):
            code = asked(getattr(client, name), addresses(route, furnished)[0]).status_code
            if code not in {200, 302, 400, 403, 404, 405, 422}:
                faults[route, name] = code
    assert faults == {} and rows_of_everything() == before


def test_one_who_has_left_is_an_outsider_again(furnished: Project, lead: User, owner: User) -> None:
    client = builders.signed_in(owner)
    people.remove_member(Membership.objects.get(user=owner), by=lead, now=NOW)
    codes = {
        asked(ask, address).status_code
        for route in PROJECT_ROUTES
        for address in addresses(route, furnished)[:1]
        for ask in (client.get, client.post)
    }
    assert codes <= {404, 405}


def test_rows_of_another_build_are_not_reached_through_ones_own(furnished: Project, outsider: User) -> None:
    """The outsider leads a build of their own, with an owner, and both ask there for every row of the other one."""
    own = outsider.memberships.get().project
    clients = [
        builders.signed_in(user) for user in (outsider, builders.member(own, builders.person("kin"), "owner").user)
    ]
    asked(clients[0].get, f"/p/{own.slug}/money/")
    before, faults, tried = rows_of_everything(), {}, 0
    # Of trades and people the outsider has rows of the same numbers; those pages have tests of their own for it.
    for route in (one for one in PROJECT_ROUTES if "<int:" in one and not re.search("trades|people", one)):
        for address in addresses(route, furnished):
            codes = codes_of(clients, address.replace(furnished.slug, own.slug))
            tried += 1
            if not {404} <= codes <= {403, 404, 405}:
                faults[address] = codes
    assert tried > 10 and faults == {} and rows_of_everything() == before
