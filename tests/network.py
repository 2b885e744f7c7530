"""The guard that keeps tests on this machine."""

import ipaddress
import socket
from collections.abc import Callable


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


def _guarded(real: Callable[..., object]) -> Callable[..., object]:
    def connect(self: socket.socket, address: object) -> object:
        if not is_loopback(address):
            raise NoNetwork(f"Tests may not reach {address!r}.")
        return real(self, address)

    return connect


def close_the_door() -> None:
    socket.socket.connect = _guarded(socket.socket.connect)  # type: ignore[method-assign]
    socket.socket.connect_ex = _guarded(socket.socket.connect_ex)  # type: ignore[method-assign]
