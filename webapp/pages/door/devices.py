"""The devices that hold a key to this bench, and taking a key back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from fastapi import APIRouter, Response

from webapp.pages.visit.dates import clock, day
from webapp.pages.visit.keyring import take_away
from webapp.pages.visit.visit import Visit, Visiting, see
from webapp.store import keys
from webapp.store.keys import KeyRow

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
