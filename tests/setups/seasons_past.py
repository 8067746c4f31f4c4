"""Journals of an instrument through the seasons: one quick look at a time, on days of its own."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np

from tests.setups.journals import spec_of, the_trade
from webapp.physics.drift import lagged_moisture
from webapp.physics.numbers import Unit
from webapp.physics.wood import moisture_content
from webapp.setups.air_log.daily import DailyAir
from webapp.setups.case import Case
from webapp.setups.journal import Entry, EntryKind, Journal, Part, Turn, quick_slots, turn_detail
from webapp.setups.say import Say
from webapp.setups.seasons.drift import Drift, drift_of
from webapp.trade.words import Check

START = date(2023, 6, 1)
LAG = 21.0


def day(number: float) -> datetime:
    """So many days after the beginning, at noon."""
    return datetime(START.year, START.month, START.day, 12, tzinfo=UTC) + timedelta(days=number)


def yearly_air(days: int, swing: float = 14.0) -> dict[date, tuple[float, float]]:
    """A room that is damp in August and dry in February."""
    return {
        START + timedelta(days=n): (21.0, 48 + swing * float(np.cos(2 * np.pi * (n - 75) / 365)))
        for n in range(days)
    }


def wood_behind(air: dict[date, tuple[float, float]], number: float) -> float:
    """Moisture of the wood so many days after the beginning, percent."""
    days = np.arange(len(air), dtype=np.float64)
    settled = np.array([moisture_content(*one) for one in air.values()])
    return float(lagged_moisture(days, settled, LAG, np.array([number]))[0])


def drifts(case: Case, air: DailyAir) -> list[Drift]:
    """Everything that is watched, as the pages ask for it."""
    return [drift_of(case, slot, air) for slot in quick_slots(case.spec)]


class Past:
    """Every entry has a day of its own; each day is one journal."""

    def __init__(self, kind: str = "bass_4_34", unit: Unit = Unit.mm, **changes: Any) -> None:
        self.spec = spec_of(kind, **changes)
        self.unit = unit
        self.days: dict[int, list[Entry]] = {}
        self.count = 0

    def write(self, number: float, kind: EntryKind, check: Check, slot: str, **fields: Any) -> Entry:
        self.count += 1
        entry = Entry(kind, check, slot, **fields, id=self.count, at=day(number))
        self.days.setdefault(int(number), []).append(entry)
        return entry

    def read(self, number: float, value: float, slot: str = "relief", **fields: Any) -> Entry:
        check = Check(slot.split(".")[0])
        tool = "feeler" if check is Check.RELIEF else "gauge"
        fields = {"unit": "mm", "typed": f"{value:g}", "tool": tool} | fields
        return self.write(number, EntryKind.READING, check, slot, value=value, **fields)

    def turn(self, number: float, part: Part, eighths: int = 0, string: int | None = None) -> Entry:
        detail = turn_detail(Turn(part, eighths, string))
        return self.write(number, EntryKind.ADJUSTMENT, Check.RELIEF, "log", detail=detail)

    def start(self, number: float, **detail: Any) -> Entry:
        return self.write(number, EntryKind.OBSERVATION, Check.START, "start", detail=detail)

    def journals(self) -> tuple[Journal, ...]:
        return tuple(Journal.of(self.days[number]) for number in sorted(self.days))

    def case(self, now: float) -> Case:
        journals = self.journals() or (Journal(()),)
        return Case(self.spec, the_trade(), journals[-1], day(now), Say(self.unit), journals[:-1])


def regular(
    air: dict[date, tuple[float, float]],
    slope: float,
    numbers: Iterable[float],
    base: float = 0.7,
    **kind: Any,
) -> Past:
    """A neck without scatter, read on these days."""
    past = Past(**kind)
    for number in numbers:
        past.read(number, base + slope * wood_behind(air, number))
    return past
