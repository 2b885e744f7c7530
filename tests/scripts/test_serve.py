"""Starting on this machine: a port that cannot be had is told in one line."""

import socket

import pytest
import serve


@pytest.mark.parametrize("text", ["", "abc", "0", "65536", "-1", "80.5"])
def test_a_port_that_is_none_is_refused(monkeypatch: pytest.MonkeyPatch, text: str):
    monkeypatch.setenv("PORT", text)
    with pytest.raises(SystemExit, match="PORT must be a number from 1 to 65535"):
        serve.wanted_port()


def test_without_a_wish_it_is_8000(monkeypatch: pytest.MonkeyPatch):
    monkeypatch.delenv("PORT", raising=False)
    assert serve.wanted_port() == 8000


def test_a_busy_port_names_another():
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(
            SystemExit, match=f"port {port} is not free. Choose another, for example: PORT={port + 1} make run"
        ):
            serve.bound_socket(port)


@pytest.mark.django_db
def test_each_person_gets_a_line_that_names_them():
    from projects.models import User

    User.objects.create_user("runa", first_name="Runa", last_name="Isbister")
    User.objects.create_user("gone", is_active=False)
    (line,) = serve.sign_in_lines("http://127.0.0.1:8000")
    assert line.split("http")[0].strip() == "Runa Isbister"
    assert "http://127.0.0.1:8000/sign-in/line/" in line
