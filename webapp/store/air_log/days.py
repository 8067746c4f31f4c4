"""The air in the room, as daily means.

A day can have a mean from each of three sources: typed by hand, logged (the readings of all imports
together), and brought (a logger's means that came as means, from a copy of another bench). Where a day has
several, logged counts before brought, and brought before typed.

Daily sums cannot tell what two files have in common, so each import keeps its distinct readings by the day,
packed: the moment and both values in 64 bits. A day's mean is taken over the union of the sets. So the same
file twice, files that overlap and any order of importing all come to the same, and an import can be taken
out again. Values are kept to a hundredth, finer than any sensor.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from datetime import date, timedelta
from typing import Any, Literal, Protocol

import numpy as np
import numpy.typing as npt
from sqlalchemy import bindparam, delete, insert, update
from sqlalchemy import select as select_columns
from sqlmodel import Session, col, select

from webapp.setups.bench_file.schema import AirDay
from webapp.store.engine import ask
from webapp.store.errors import NotFound
from webapp.store.sealed import sealed, sound, with_sum
from webapp.store.tables import AirDayRecord, AirLogDay, Bench, ImportJob, columns

Packed = npt.NDArray[np.uint64]
# Makes every temperature positive before it is packed.
_LIFT_C = 100.0


class AirReadings(Protocol):
    """One day's readings, each at the same place in all three: any arrays of numbers."""

    @property
    def moment_ms(self) -> Any: ...
    @property
    def temperature_c(self) -> Any: ...
    @property
    def humidity_percent(self) -> Any: ...


def pack(readings: AirReadings) -> Packed:
    """The distinct readings, in order of time; raises ValueError where one does not fit."""
    moment = np.asarray(readings.moment_ms, dtype=np.uint64)
    temperature = _hundredths(np.asarray(readings.temperature_c) + _LIFT_C)
    humidity = _hundredths(np.asarray(readings.humidity_percent))
    return np.unique((moment << np.uint64(32)) | (temperature << np.uint64(16)) | humidity)


def _hundredths(values: npt.NDArray[np.float64]) -> Packed:
    if not np.all((values >= 0) & (values <= 200)):
        raise ValueError("a temperature or a humidity is out of range")
    return np.rint(values * 100).astype(np.uint64)


def together(sets: Iterable[Packed]) -> Packed:
    """Every reading that is in any of the sets, once."""
    some = list(sets)
    return np.unique(np.concatenate(some)) if some else np.empty(0, np.uint64)


def mean(day: date, packed: Packed) -> AirDay:
    """The mean of at least one of a day's readings."""
    temperature = (packed >> np.uint64(16)) & np.uint64(0xFFFF)
    humidity = packed & np.uint64(0xFFFF)
    middle = float(temperature.mean()) / 100 - _LIFT_C, float(humidity.mean()) / 100
    return AirDay(day, *middle, int(packed.size), LOGGED)


def to_bytes(packed: Packed) -> bytes:
    return zlib.compress(packed.astype("<u8").tobytes())


def from_bytes(kept: bytes) -> Packed:
    return np.frombuffer(zlib.decompress(kept), "<u8").astype(np.uint64)


TYPED: Literal["typed"] = "typed"
LOGGED: Literal["logged"] = "logged"
BROUGHT = "brought"
_RANK = {LOGGED: 0, BROUGHT: 1, TYPED: 2}
_DAY = columns(AirDayRecord)
_DAYS = select_columns(*sealed(AirDayRecord)).where(_DAY.bench_id == bindparam("bench"))


def days(session: Session, bench_id: str, since: date | None = None) -> list[AirDay]:
    """One mean for each day that has any, oldest first; from `since` on, if given."""
    best: dict[date, AirDay] = {}
    for one in reversed(kept_days(session, bench_id, since)):
        best[one.day] = one
    return [best[day] for day in sorted(best)]


def kept_days(session: Session, bench_id: str, since: date | None = None) -> list[AirDay]:
    """Everything that is kept, for a copy of the bench: a day may have a logged mean and a typed one.

    Ordered by day, and within it by what counts first. Raises Damaged.
    """
    wanted = _DAYS if since is None else _DAYS.where(_DAY.day >= since)
    found: dict[tuple[date, str], AirDay] = {}
    lines = [sound(line, AirDayRecord)[0] for line in ask(session, wanted, bench=bench_id)]
    for line in sorted(lines, key=lambda line: (line["day"], _RANK[line["source"]])):
        source = TYPED if line["source"] == TYPED else LOGGED
        one = AirDay(line["day"], line["temperature_c"], line["humidity_percent"], line["rows"], source)
        found.setdefault((one.day, one.source), one)
    return list(found.values())


def type_day(
    session: Session, bench_id: str, day: date, temperature_c: float, humidity_percent: float
) -> None:
    """What the player read off today; typed again, it takes the place of what was typed before."""
    _find_bench(session, bench_id)
    air = AirDay(day, temperature_c, humidity_percent)
    record = session.exec(
        select(AirDayRecord).where(
            AirDayRecord.bench_id == bench_id, AirDayRecord.day == day, AirDayRecord.source == TYPED
        )
    ).first()
    if record is None:
        record = AirDayRecord(bench_id=bench_id, **asdict(air))
    record.sqlmodel_update(asdict(air))
    session.add(record)
    session.flush()
    _changed(session, bench_id)


def add_days(session: Session, bench_id: str, new: Iterable[AirDay]) -> int:
    """Adds means that came as means, and returns how many; what the bench has already stays as it is."""
    _find_bench(session, bench_id)
    there = {(one.day, one.source) for one in kept_days(session, bench_id)}
    added: dict[tuple[date, str], AirDay] = {}
    for one in new:
        if (one.day, one.source) not in there:
            added.setdefault((one.day, one.source), one)
    _insert_days(session, bench_id, added.values(), {TYPED: TYPED, LOGGED: BROUGHT})
    return len(added)


def keep_readings(session: Session, bench_id: str, job_id: str, readings: Mapping[date, AirReadings]) -> int:
    """Adds an import's readings to the days they belong to; returns how many of them were new.

    AirReadings that are all there already are not kept a second time.
    """
    packed = {day: pack(one) for day, one in readings.items()}
    before = _logged(session, bench_id, list(packed))
    after = {day: together([*before.get(day, []), one]) for day, one in packed.items()}
    new = sum(after[day].size - together(before.get(day, [])).size for day in packed)
    if new:
        rows = [
            with_sum(AirLogDay, {"job_id": job_id, "day": day, "readings": to_bytes(one)})
            for day, one in packed.items()
        ]
        session.execute(insert(AirLogDay), rows)
        _put_logged(session, bench_id, after)
    return int(new)


def drop_readings(session: Session, bench_id: str, job_id: str) -> None:
    """Takes an import's readings out again; what other imports brought for the same days stays."""
    gone = list(
        session.exec(
            select(col(AirLogDay.day))
            .join(ImportJob)
            .where(ImportJob.bench_id == bench_id, ImportJob.id == job_id)
        )
    )
    if gone:
        session.execute(delete(AirLogDay).where(col(AirLogDay.job_id) == job_id))
    left = _logged(session, bench_id, gone)
    _put_logged(session, bench_id, {day: together(left.get(day, [])) for day in gone})


def _logged(session: Session, bench_id: str, wanted: list[date]) -> dict[date, list[Packed]]:
    """The sets that imports brought for some days. Asked by the span: a list of days could be too long."""
    if not wanted:
        return {}
    found: dict[date, list[Packed]] = {}
    among = set(wanted)
    for log in session.exec(
        select(AirLogDay)
        .join(ImportJob)
        .where(ImportJob.bench_id == bench_id, col(AirLogDay.day).between(min(wanted), max(wanted)))
    ):
        if log.day in among:
            found.setdefault(log.day, []).append(from_bytes(log.readings))
    return found


def _put_logged(session: Session, bench_id: str, sets: Mapping[date, Packed]) -> None:
    """Writes the logged means of some days anew; a day without readings has none."""
    if not sets:
        return
    start = min(sets)
    while start <= max(sets):
        stop = start + timedelta(days=400)
        among = [day for day in sets if start <= day < stop]
        session.execute(
            delete(AirDayRecord).where(
                col(AirDayRecord.bench_id) == bench_id,
                col(AirDayRecord.source) == LOGGED,
                col(AirDayRecord.day).in_(among),
            )
        )
        start = stop
    _changed(session, bench_id)
    means = [mean(day, one) for day, one in sets.items() if one.size]
    _insert_days(session, bench_id, means, {LOGGED: LOGGED})


def _insert_days(session: Session, bench_id: str, new: Iterable[AirDay], sources: Mapping[str, str]) -> None:
    rows = [
        with_sum(AirDayRecord, {"bench_id": bench_id, **asdict(one), "source": sources[one.source]})
        for one in new
    ]
    if rows:
        session.execute(insert(AirDayRecord), rows)
        _changed(session, bench_id)


def _changed(session: Session, bench_id: str) -> None:
    """The air is another one now: whoever kept what followed from it sees so by the mark."""
    further = update(Bench).where(col(Bench.id) == bench_id).values(air_mark=col(Bench.air_mark) + 1)
    session.execute(further, execution_options={"synchronize_session": False})


def _find_bench(session: Session, bench_id: str) -> None:
    if session.get(Bench, bench_id) is None:
        raise NotFound
