"""Guessing a password is slowed down, for that name from that address only."""

import pytest
from django.test import Client

from projects.models import User
from projects.signin import throttle

pytestmark = pytest.mark.django_db
RIGHT = "a long enough one"


@pytest.fixture
def runa() -> User:
    return User.objects.create_user("runa", password=RIGHT)


def sign_in(client: Client, password: str, *, username: str = "runa", address: str = "192.0.2.7") -> int:
    body = {"username": username, "password": password}
    return client.post("/sign-in/", body, REMOTE_ADDR=address).status_code


@pytest.fixture
def locked(client: Client, runa: User) -> Client:
    assert [sign_in(client, "wrong") for _ in range(4)] == [200] * 4
    assert sign_in(client, "wrong") == 429
    return client


def test_the_right_password_signs_in(client: Client, runa: User):
    assert sign_in(client, RIGHT) == 302


def test_after_five_wrong_ones_the_right_one_waits_too(locked: Client):
    assert sign_in(locked, RIGHT) == 429
    assert "_auth_user_id" not in locked.session


def test_the_page_says_how_long(locked: Client):
    answer = locked.post("/sign-in/", {"username": "runa", "password": RIGHT}, REMOTE_ADDR="192.0.2.7")
    assert answer["Retry-After"] == "600" and "10 minutes" in answer.content.decode()


def test_the_same_name_from_elsewhere_is_not_shut_out(locked: Client):
    assert sign_in(locked, RIGHT, address="192.0.2.8") == 302


def test_another_name_from_the_same_address_is_not_shut_out(locked: Client):
    User.objects.create_user("olav", password=RIGHT)
    assert sign_in(locked, RIGHT, username="olav") == 302


def test_success_wipes_the_slate(client: Client, runa: User):
    for password in ["wrong"] * 4 + [RIGHT] + ["wrong"] * 4:
        last = sign_in(client, password)
        client.logout()
    assert last == 200


def test_the_wait_ends(locked: Client):
    from datetime import timedelta

    from axes.models import AccessAttempt

    for attempt in AccessAttempt.objects.all():
        attempt.attempt_time -= timedelta(minutes=11)
        attempt.save()
    assert sign_in(locked, RIGHT) == 302


def test_no_password_is_kept(locked: Client):
    from axes.models import AccessAttempt

    kept = " ".join(f"{row.get_data} {row.post_data} {row.path_info}" for row in AccessAttempt.objects.all())
    assert kept and "wrong" not in kept


@pytest.mark.parametrize(("behind_proxy", "address"), [(True, "203.0.113.9"), (False, "127.0.0.1")])
def test_only_the_address_that_the_proxy_noted_counts(behind_proxy: bool, address: str, settings, rf):
    settings.BEHIND_PROXY = behind_proxy
    request = rf.get("/", headers={"X-Forwarded-For": "198.51.100.1, 203.0.113.9"})
    assert throttle.client_address(request) == address
