"""Tests reach this machine only."""

import socket

import pytest

from tests import network


def test_another_machine_is_out_of_reach():
    with socket.socket() as probe, pytest.raises(network.NoNetwork):
        probe.connect(("192.0.2.1", 80))  # TEST-NET-1, RFC 5737


@pytest.mark.parametrize("address", [("127.0.0.1", 1), ("::1", 1, 0, 0), ("localhost", 1), "/tmp/socket"])  # noqa: S108
def test_this_machine_is_within_reach(address: object):
    assert network.is_loopback(address)


@pytest.mark.parametrize("address", [("10.0.0.1", 1), ("example.org", 80), ("2001:db8::1", 1, 0, 0)])
def test_other_addresses_are_told_apart(address: object):
    assert not network.is_loopback(address)
