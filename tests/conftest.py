"""What every test can count on: no network, a browser that is there, and properties that do not watch the clock."""

import ipaddress
import os
import socket

import browser
import pytest
from hypothesis import settings

settings.register_profile("house", deadline=None, max_examples=100)
settings.register_profile("ci", parent=settings.get_profile("house"), derandomize=True, print_blob=True)
settings.load_profile("ci" if os.environ.get("CI") == "true" else "house")


class NoNetwork(RuntimeError):
    """A test tried to reach another machine."""


def is_loopback(address: object) -> bool:
    """True for a socket file and for a loopback address."""
    if not isinstance(address, tuple):
        return True
    host = str(address[0])
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def guarded(real):
    def connect(self, address):
        if not is_loopback(address):
            raise NoNetwork(f"Tests may not reach {address!r}.")
        return real(self, address)

    return connect


socket.socket.connect = guarded(socket.socket.connect)
socket.socket.connect_ex = guarded(socket.socket.connect_ex)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    """The system's Chromium, cut off from every address but this machine's own."""
    only_here = "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost"
    return {
        "executable_path": browser.found_or_installed(),
        "args": ["--no-sandbox", "--disable-background-networking", only_here],
    }
