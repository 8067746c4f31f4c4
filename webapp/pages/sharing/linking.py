"""Links that are handed to others: their whole address, their square, and who can reach them."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import ip_address

from fastapi import Request
from markupsafe import Markup

from webapp.drawings.qr import qr_svg
from webapp.web.state import state


@dataclass(frozen=True)
class Link:
    """`alone` when only this computer can open it as Benchside runs now."""

    url: str
    qr: Markup
    alone: bool


def link_to(request: Request, path: str) -> Link:
    """The whole link to a path of ours, by the address at which others reach this Benchside."""
    settings = state(request).settings
    address = _address(request)
    url = f"{address}{path.lstrip('/')}"
    # Drawn by us from our own address, so it may stand in the page as it is.
    return Link(url, Markup(qr_svg(url)), not settings.hosted and _is_here(address))


def _address(request: Request) -> str:
    settings = state(request).settings
    if settings.hosted:
        return settings.address
    asked = str(request.base_url)
    reached = settings.phone_addresses()
    # Who asks from this computer itself names it by an address that is good nowhere else.
    return reached[0] if reached and _is_here(asked) else asked


def _is_here(address: str) -> bool:
    name = address.split("//", 1)[-1].rstrip("/").rpartition(":")[0].strip("[]") or address
    try:
        return ip_address(name).is_loopback
    except ValueError:
        return name == "localhost"
