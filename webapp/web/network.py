"""The addresses by which other devices in the home network find this computer."""

from __future__ import annotations

import socket
from collections.abc import Iterable
from ipaddress import IPv4Address

# Nothing is sent: to "connect" a datagram socket only asks which of our addresses would be used.
FAR_AWAY = ("203.0.113.1", 9)


def home_addresses() -> tuple[str, ...]:
    """IPv4 addresses of this computer that are not its own loop, the likeliest first; maybe none."""
    return ranked([*_towards_the_outside(), *_of_the_own_name()])


def ranked(found: Iterable[str]) -> tuple[str, ...]:
    """Each once; those of a private network before others, in the order in which they were found."""
    addresses = [address for address in dict.fromkeys(found) if _is_useful(address)]
    return tuple(sorted(addresses, key=lambda address: not IPv4Address(address).is_private))


def _is_useful(text: str) -> bool:
    try:
        address = IPv4Address(text)
    except ValueError:
        return False
    return not (
        address.is_loopback or address.is_link_local or address.is_unspecified or address.is_multicast
    )


def _towards_the_outside() -> list[str]:
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(FAR_AWAY)
            return [str(probe.getsockname()[0])]
    except OSError:
        return []


def _of_the_own_name() -> list[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET, socket.SOCK_STREAM)
    except OSError:
        return []
    return [str(address[0]) for *_, address in found]
