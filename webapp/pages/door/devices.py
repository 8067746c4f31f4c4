"""The devices that hold a key to this bench, and taking a key back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from fastapi import APIRouter, HTTPException, Response
from markupsafe import Markup

from webapp.drawings.qr import qr_svg
from webapp.pages.visit.visit import Visit, Visiting, caller, secret_of, see, take_away
from webapp.setups.dates import clock, day
from webapp.store import keys, rates, ways_in
from webapp.store.keys import KeyRow
from webapp.store.ways_in import Pairing

router = APIRouter()


@dataclass(frozen=True)
class Device:
    """One line of the list."""

    name: str
    used: str
    made: str
    is_this: bool
    action: str


@dataclass(frozen=True)
class DevicesPage:
    devices: tuple[Device, ...]


@router.get("/devices")
def devices(visit: Visiting) -> Response:
    with visit.reading() as session:
        found = keys.list_for(session, visit.bench_id)
    return visit.render("pages/door/devices.html", DevicesPage(tuple(_device(visit, key) for key in found)))


@router.post("/devices/{key_id}/unpair")
def unpair(visit: Visiting, key_id: str) -> Response:
    """Takes a device's key back. On this device that is leaving the bench."""
    with visit.writing() as session:
        keys.revoke(session, visit.bench_id, key_id, visit.now)
    if key_id != visit.key.id:
        return see("/devices")
    answer = see("/")
    take_away(answer, visit.app)
    return answer


def _device(visit: Visit, key: KeyRow) -> Device:
    return Device(
        name=key.device_name,
        used=_used(key.last_used_at, visit.now),
        made=day(key.made_at),
        is_this=key.id == visit.key.id,
        action=f"/devices/{key.id}/unpair",
    )


def _used(at: datetime, now: datetime) -> str:
    """'in use now', 'last used today at 14:05', 'last used 3 April 2026'."""
    if now - at < timedelta(minutes=2):
        return "in use now"
    if at.astimezone().date() == now.astimezone().date():
        return f"last used today at {clock(at)}"
    return f"last used {day(at)}"


ASK = "A phone or a tablet can be a second screen for this bench, with a key of its own."
AT_HOME = " It must be in the same network as this computer."
USED = "That device is in: you find it under Devices. For one more, show another code."
LOCKED = "That code was typed wrongly five times, so it is locked. If it was not you, look at Devices."
OLD = "That code is too old. Show another."
ALONE = "Benchside listens to this computer only. Stop it (Ctrl+C) and start it for the home network:"
NOWHERE = "This computer is in no network just now. Connect it, then start Benchside with:"


@dataclass(frozen=True)
class PhonePage:
    """`addresses` are those by which another device reaches Benchside; without one there is no code."""

    addresses: tuple[str, ...]
    unreachable: str
    demo: bool
    is_plain: bool
    sentence: str
    showing: bool = False
    qr: Markup = Markup("")
    link: str = ""
    code: str = ""
    until: str = ""


@router.get("/phone")
def phone(visit: Visiting) -> Response:
    """The code that this device asked for last, while it is good."""
    with visit.reading() as session:
        pairing = ways_in.shown_to(session, visit.key.id, secret_of(visit.request).encode())
    return visit.render("pages/door/phone.html", _page(visit, pairing))


@router.post("/phone")
def show_code(visit: Visiting) -> Response:
    """A new code; the one before it is no longer good."""
    with visit.writing() as session:
        if not rates.take(session, rates.CODES, caller(visit.request), visit.now):
            raise HTTPException(429)
        seed = secret_of(visit.request).encode()
        ways_in.make_pairing(session, visit.bench_id, visit.now, visit.key.id, seed)
    return see("/phone")


def pairing_link(address: str, code: str) -> str:
    """What the square holds."""
    return f"{address}pair/{code}"


def _page(visit: Visit, pairing: Pairing | None) -> PhonePage:
    settings = visit.app.settings
    addresses = settings.phone_addresses()
    unreachable = ALONE if settings.is_loopback else NOWHERE
    plain = not settings.secure
    if pairing is None or not addresses:
        ask = ASK if settings.hosted else ASK + AT_HOME
        return PhonePage(addresses, unreachable, settings.demo, plain, ask)
    if not pairing.is_open(visit.now):
        sentence = USED if pairing.used else LOCKED if pairing.locked else OLD
        return PhonePage(addresses, unreachable, settings.demo, plain, sentence)
    link = pairing_link(addresses[0], pairing.code)
    return PhonePage(
        addresses, unreachable, settings.demo, plain,
        sentence="",
        showing=True,
        # Made by us from figures alone, so it may stand in the page as it is.
        qr=Markup(qr_svg(link)),
        link=link,
        code=pairing.code,
        until=clock(pairing.expires_at),
    )  # fmt: skip
