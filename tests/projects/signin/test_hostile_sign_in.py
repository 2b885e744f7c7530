"""Ways around the door that are tried everywhere: other spellings, other sites, sessions of somebody else."""

import pytest
from django.test import Client

from projects.models import User

pytestmark = pytest.mark.django_db
RIGHT = "a long enough one"


@pytest.fixture
def runa() -> User:
    return User.objects.create_user("runa", password=RIGHT)


def sign_in(client: Client, username: str = "runa", password: str = RIGHT, **more: str):
    return client.post("/sign-in/", {"username": username, "password": password} | more)


@pytest.mark.parametrize(
    "elsewhere",
    [
        "https://elsewhere.example/", "//elsewhere.example", "///elsewhere.example", "/\\elsewhere.example", "\\\\elsewhere.example",
        "http:elsewhere.example", "https:///elsewhere.example", "javascript:alert(1)", "\thttps://elsewhere.example",
    ],
)  # fmt: skip
def test_signing_in_does_not_lead_to_another_site(elsewhere: str, runa: User) -> None:
    client = Client()
    assert sign_in(client, next=elsewhere)["Location"] == "/"
    assert client.get("/sign-in/", {"next": elsewhere})["Location"] == "/"


def test_signing_in_leads_back_to_where_one_was_going(runa: User) -> None:
    assert sign_in(Client(), next="/projects/?page=2")["Location"] == "/projects/?page=2"


def test_a_session_given_beforehand_is_not_taken_over(runa: User) -> None:
    trap = Client()
    session = trap.session
    session["planted"] = True
    session.save()
    victim = Client()
    victim.cookies["sessionid"] = session.session_key
    sign_in(victim)
    assert victim.cookies["sessionid"].value != session.session_key
    assert trap.get("/projects/").status_code == 302


def test_signing_out_takes_a_form_and_ends_the_session_everywhere(runa: User) -> None:
    client, copy = Client(), Client()
    sign_in(client)
    copy.cookies["sessionid"] = client.cookies["sessionid"].value
    assert client.get("/sign-out/").status_code == 405 and client.get("/projects/").status_code == 200
    client.post("/sign-out/")
    assert copy.get("/projects/").status_code == 302


def test_another_spelling_of_a_name_is_the_same_tally(runa: User) -> None:
    client = Client()
    for name in ("runa", " runa", "runa ", "\uff52una", "runa\t"):
        sign_in(client, name, "wrong")
    assert sign_in(client).status_code == 429


def test_another_case_of_a_name_is_another_name(runa: User) -> None:
    assert [sign_in(Client(), name).status_code for name in ("Runa", "RUNA")] == [200, 200]


@pytest.mark.parametrize("name", ["x" * 151, "x" * 100_000, "runa\x00", "\x00", "\u202eanur", "٣"])
def test_a_name_that_nobody_has_is_told_so(name: str, runa: User) -> None:
    """A database that holds text to its length kept no tally of a name of 256 letters, and the page crashed."""
    assert sign_in(Client(), name, "wrong").status_code == 200


def test_a_new_password_ends_the_other_sessions(runa: User) -> None:
    here, there = Client(), Client()
    for client in (here, there):
        sign_in(client)
    new = "another long enough one"
    here.post("/password/", {"old_password": RIGHT, "new_password1": new, "new_password2": new})
    assert (here.get("/projects/").status_code, there.get("/projects/").status_code) == (200, 302)


@pytest.mark.parametrize("uid", ["MQ", "x" * 9_000, "MTIzNDU2Nzg5MDEyMzQ1Njc4OTAxMjM0NTY3ODkw", "\u202e"])
def test_a_made_up_link_sets_no_password(uid: str, runa: User) -> None:
    answer = Client().get(f"/password/new/{uid}/set-password/")
    assert answer.status_code == 200 and 'name="new_password1"' not in answer.content.decode()
