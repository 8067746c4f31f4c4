"""A bench with years behind it, put on by way of a bench file."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from math import cos, pi
from random import Random
from typing import Any

from sqlalchemy import Engine

from tests.setups.journals import spec_of
from webapp.setups.bench_file.schema import FORMAT, VERSION, BenchFile
from webapp.store import benches
from webapp.store.bench_file import merge as bench_merge
from webapp.store.engine import writing

NAME = "Years bass"


def put_on(
    engine: Engine, *, checks: int, days: float, per_check: int = 1, air: bool = True, name: str = "years"
) -> str:
    """An instrument that was checked so many times over the last so many days; returns its id, the name.

    Relief falls by 0.03 mm for each 10 % of humidity; half way the rod was tightened, and read before and
    after.
    """
    now = datetime.now(UTC).replace(microsecond=0)
    begun, noise = now - timedelta(days=days), Random(7)
    setups, entries = [], list[dict[str, Any]]()
    for number in range(checks):
        at = begun + timedelta(days=days * number / max(1, checks - 1) - 0.5)
        check = f"{name}-{number}"
        setups.append({
            "id": check, "origin": check, "started_at": at, "finished_at": at + timedelta(minutes=9),
            "finished_version": 1,
        })  # fmt: skip
        entries.append(
            _entry(check, 0, at, "observation", "start", "start", detail={"quick": True, "age": "weeks"})
        )
        turned = -0.1 if number > checks // 2 else 0.0
        base = 0.35 - 0.003 * (_humidity(at) - 48)
        for reading in range(per_check):
            slot = "relief" if reading == 0 else f"height.{reading % 4 + 1}"
            value = round((base if slot == "relief" else 2.2) + turned + noise.gauss(0, 0.01), 2)
            entries.append(_reading(check, reading + 1, at, slot, value))
        if number == checks // 2:
            rod = {"part": "rod", "eighths": 1}
            entries.append(
                _entry(check, 90, at, "adjustment", "relief", "relief", typed="an eighth", detail=rod)
            )
            entries.append(_reading(check, 91, at + timedelta(minutes=5), "relief", round(base - 0.1, 2)))
    made = {
        "id": name, "origin": name, "created_at": begun, "setups": setups, "entries": entries,
        "versions": [{"number": 1, "created_at": begun, "spec": spec_of(name=NAME)}],
    }  # fmt: skip
    days_of_air = [_air(begun + timedelta(days=n)) for n in range(-90, int(days) + 1)] if air else []
    file = BenchFile.model_validate(
        {"format": FORMAT, "version": VERSION, "instruments": [made], "air": days_of_air}
    )
    with writing(engine) as session:
        owner = benches.get_or_create_local_bench(session).id
    bench_merge.load(engine, owner, file)
    return name


def _humidity(at: datetime) -> float:
    return 48 + 14 * cos(2 * pi * (at.timetuple().tm_yday - 220) / 365)


def _air(at: datetime) -> dict[str, Any]:
    return {
        "day": at.date(),
        "source": "typed",
        "temperature_c": 21.0,
        "humidity_percent": round(_humidity(at), 1),
    }


def _reading(setup: str, part: int, at: datetime, slot: str, value: float) -> dict[str, Any]:
    detail = {"hold": 1, "press": 13, "gap": 7} if slot == "relief" else {"hold": 1, "gap": 12}
    check = slot.partition(".")[0]
    told = {"value": value, "unit": "mm", "typed": f"{value:g}", "tool": "feeler", "error": 0.02}
    return _entry(setup, part, at, "reading", check, slot, detail=detail, **told)


def _entry(
    setup: str, part: int, at: datetime, kind: str, check: str, slot: str, **told: Any
) -> dict[str, Any]:
    name = {"setup": setup, "origin": "f", "part": part, "at": at + timedelta(seconds=part)}
    return {**name, "kind": kind, "check": check, "slot": slot, **told}
