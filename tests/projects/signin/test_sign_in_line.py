"""A sign-in line works on this machine, in local mode, for a day, and nowhere else."""

from io import StringIO

import pytest
from django.core import signing
from django.core.management import CommandError, call_command
from django.test import Client

from projects.models import User
from projects.signin import tokens

pytestmark = pytest.mark.django_db


@pytest.fixture
def runa() -> User:
    return User.objects.create_user("runa", password="a long enough one")


def is_signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def follow(client: Client, token: str, **extra: str) -> int:
    return client.get(f"/sign-in/line/{token}/", **extra).status_code


def test_the_printed_line_signs_in(client: Client, runa: User):
    out = StringIO()
    call_command("sign_in_line", "runa", stdout=out)
    answer = client.get(out.getvalue().strip().removeprefix("http://127.0.0.1:8000"))
    assert answer.status_code == 302 and int(client.session["_auth_user_id"]) == runa.pk


def test_in_production_there_is_no_such_page(client: Client, runa: User, settings):
    settings.LOCAL = False
    assert follow(client, tokens.make("runa")) == 404 and not is_signed_in(client)


def test_production_prints_no_line(runa: User, settings):
    settings.LOCAL = False
    with pytest.raises(CommandError, match="local mode only"):
        call_command("sign_in_line", "runa")


@pytest.mark.parametrize("address", ["192.0.2.7", "10.1.2.3", "2001:db8::7", "", "nonsense"])
def test_another_machine_is_not_let_in(client: Client, runa: User, address: str):
    assert follow(client, tokens.make("runa"), REMOTE_ADDR=address) == 404 and not is_signed_in(client)


@pytest.mark.parametrize("header", ["HTTP_X_FORWARDED_FOR", "HTTP_FORWARDED"])
def test_a_proxy_on_this_machine_does_not_count_as_this_machine(client: Client, runa: User, header: str):
    assert follow(client, tokens.make("runa"), **{header: "for=192.0.2.7"}) == 404


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.8.8", "::1"])
def test_every_loopback_address_is_this_machine(client: Client, runa: User, address: str):
    assert follow(client, tokens.make("runa"), REMOTE_ADDR=address) == 302


def test_a_line_made_by_someone_else_is_no_line(client: Client, runa: User):
    forged = signing.TimestampSigner(key="x" * 50, salt=tokens.SALT).sign_object("runa")
    assert follow(client, forged) == 404


def test_a_token_made_for_another_purpose_is_no_line(client: Client, runa: User):
    assert follow(client, signing.TimestampSigner(salt="other").sign_object("runa")) == 404


def test_a_line_lives_one_day(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(signing.time, "time", lambda: 1_000_000.0)
    token = tokens.make("runa")
    monkeypatch.setattr(signing.time, "time", lambda: 1_000_000.0 + 24 * 3600)
    assert tokens.read(token) == "runa"
    monkeypatch.setattr(signing.time, "time", lambda: 1_000_002.0 + 24 * 3600)
    assert tokens.read(token) is None


def test_a_closed_account_is_not_let_in(client: Client, runa: User):
    token = tokens.make("runa")
    User.objects.filter(pk=runa.pk).update(is_active=False)
    assert follow(client, token) == 404


def test_an_unknown_name_is_said_so():
    with pytest.raises(CommandError, match="Nobody is called 'nobody'"):
        call_command("sign_in_line", "nobody")
