"""Addresses of pages, and whole links that are handed to others."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import ip_address

from fastapi import Request
from markupsafe import Markup

from webapp.drawings.qr import qr_svg
from webapp.setups.checks import READ_CHECKS
from webapp.setups.slots import RELIEF
from webapp.setups.states import Act, Step
from webapp.trade.words import Check
from webapp.web.state import state

# The question that has no place of its own: whether the neck is let to rest.
REST = "rest"


def instrument_path(instrument_id: str) -> str:
    return f"/instruments/{instrument_id}"


def setup_path(setup_id: str, *rest: str) -> str:
    """A setup's own page, or one below it."""
    return "/".join((f"/setups/{setup_id}", *rest))


def tools_path(setup_id: str) -> str:
    """Where the tools at hand are told, on the way through a setup."""
    return f"/tools?setup={setup_id}"


def check_path(setup_id: str, check: Check) -> str:
    return setup_path(setup_id, "check", check.value)


def read_path(setup_id: str, place: str) -> str:
    """Where one slot is read, or what a check still waits for (`place` is the check's name)."""
    return setup_path(setup_id, "read", place)


def adjust_path(setup_id: str, place: str) -> str:
    """Where one slot is decided about, or all that waits for it in a check (`place` is the check's name)."""
    return setup_path(setup_id, "adjust", place)


def listen_path(setup_id: str, what: str) -> str:
    """Where a take is asked for: 'tuning', 'intonation.4', 'buzz.4'."""
    return setup_path(setup_id, "listen", what)


def take_path(take_id: str) -> str:
    """What was heard in a take."""
    return f"/takes/{take_id}"


def is_several(place: str) -> bool:
    """Whether an address names a check; relief is a check and its one slot."""
    return place in READ_CHECKS and place != RELIEF.key


def question_name(place: str) -> str:
    """The name in addresses of the question whose answers stand at a place: its last word."""
    return place.rpartition(".")[2]


def step_path(setup_id: str, step: Step) -> str:
    """Where the next thing to do is done."""
    if step.act is Act.FINISH:
        return setup_path(setup_id, "finish")
    if step.act in (Act.MEASURE, Act.DECIDE):
        place = step.check.value if len(step.places) > 1 else step.place
        return read_path(setup_id, place) if step.act is Act.MEASURE else adjust_path(setup_id, place)
    page = REST if step.act is Act.REST else question_name(step.place)
    return setup_path(setup_id, "ask", page)


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
