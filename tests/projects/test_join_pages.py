"""What a link leads to: with an account, without one, and when it no longer works."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from projects.models import Invitation, Membership, Project, Role, User
from projects.services import people
from tests import builders

ACCOUNT = {"name": "Nia New", "username": "nia", "password": "a long enough secret"}


@pytest.fixture
def address(project: Project, lead: User) -> str:
    """A link of just now; the page goes by the real clock."""
    made = people.invite(project, role=Role.OWNER, note="Nia", by=lead, now=timezone.now())
    return f"/join/{made.secret}/"


def test_a_stranger_sees_what_the_link_is_for(address: str):
    answer = Client().get(address)
    text = answer.content.decode()
    assert "You are invited to Harbour hall as owner." in text and "Lee Lead sent you this link" in text
    assert answer["X-Robots-Tag"] == "noindex, nofollow" and "no-store" in answer["Cache-Control"]


def test_looking_does_not_use_the_link_up(address: str):
    for _turn in range(3):
        assert Client().get(address).status_code == 200
    assert Client().post(address, ACCOUNT).status_code == 302


def test_a_newcomer_makes_an_account_and_is_in(address: str, project: Project):
    client = Client()
    assert client.post(address, ACCOUNT)["Location"] == f"/p/{project.slug}/"
    assert Membership.objects.get(user__username="nia").role == Role.OWNER
    assert client.get(f"/p/{project.slug}/project/").status_code == 200
    assert Client().post(address, ACCOUNT | {"username": "second"}).status_code == 404


def test_a_slip_keeps_the_name_and_never_the_password(address: str):
    answer = Client().post(address, ACCOUNT | {"password": "short"})
    text = answer.content.decode()
    assert answer.status_code == 422 and 'value="Nia New"' in text and "short" not in text.replace("too short", "")
    assert not User.objects.filter(username="nia").exists()


def test_an_account_is_offered_to_sign_in_first(address: str, outsider: User):
    text = Client().get(address).content.decode()
    assert f"/sign-in/?next={address.replace('/', '%2F')}" in text
    client = builders.signed_in(outsider)
    assert "Join as Out Sider" in client.get(address).content.decode()
    assert client.post(address).status_code == 302
    assert Membership.objects.filter(user=outsider, role=Role.OWNER).exists()


def test_a_member_is_led_to_the_build(address: str, project: Project, lead: User):
    client = builders.signed_in(lead)
    assert f'href="/p/{project.slug}/"' in client.get(address).content.decode()
    client.post(address)
    assert Invitation.objects.get(note="Nia").accepted_at is None


def _used(made: Invitation) -> None:
    Invitation.objects.filter(pk=made.pk).update(accepted_at=timezone.now())


def _taken_back(made: Invitation) -> None:
    Invitation.objects.filter(pk=made.pk).update(revoked_at=timezone.now())


def _too_old(made: Invitation) -> None:
    Invitation.objects.filter(pk=made.pk).update(expires_at=timezone.now() - timedelta(seconds=1))


@pytest.mark.parametrize("ended", [_used, _taken_back, _too_old])
def test_every_closed_link_gets_the_same_answer(ended, address: str):
    made_up = Client().get("/join/never-was/")
    ended(Invitation.objects.get(note="Nia"))
    closed = Client().get(address)
    assert (closed.status_code, made_up.status_code) == (404, 404)
    assert "This link no longer works." in closed.content.decode() and "Harbour hall" not in closed.content.decode()
    assert Client().post(address, ACCOUNT).status_code == 404 and not User.objects.filter(username="nia").exists()


def test_a_form_without_its_token_is_turned_away(address: str):
    assert Client(enforce_csrf_checks=True).post(address, ACCOUNT).status_code == 403
