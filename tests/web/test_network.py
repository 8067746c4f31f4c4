from __future__ import annotations

import socket

import pytest

from webapp.web.network import home_addresses, ranked


def test_the_home_network_comes_first_and_each_address_once() -> None:
    found = ["198.51.100.7", "8.8.4.4", "192.168.1.23", "127.0.0.1", "192.168.1.23", "10.0.0.5"]
    assert ranked(found)[-1] == "8.8.4.4"
    assert ranked(["8.8.4.4", "192.168.1.23", "10.0.0.5", "192.168.1.23"]) == (
        "192.168.1.23", "10.0.0.5", "8.8.4.4",
    )  # fmt: skip


@pytest.mark.parametrize(
    "useless", ["127.0.0.1", "127.0.1.1", "169.254.3.4", "0.0.0.0", "224.0.0.1", "fe80::1", "", "shed"]
)
def test_what_no_phone_can_reach_is_left_out(useless: str) -> None:
    assert ranked([useless]) == ()


def test_this_computers_own_addresses_are_ones_it_can_listen_on() -> None:
    for address in home_addresses():
        with socket.socket() as probe:
            probe.bind((address, 0))


def test_without_a_network_there_is_none(monkeypatch: pytest.MonkeyPatch) -> None:
    def unreachable(*_: object, **__: object) -> None:
        raise OSError("Network is unreachable")

    monkeypatch.setattr("socket.socket.connect", unreachable)
    monkeypatch.setattr("socket.getaddrinfo", unreachable)
    assert home_addresses() == ()
