"""Simulated instruments through the seasons, for trying how honest the intervals are. Shares no code with
what it tries: the wood follows a printed table of its moisture, by small steps in time; the neck wanders a
little by itself; the rod has dead play and settles slowly; hands slip, and turn the wrong way now and then.

Only the journals that come out are the product's.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from webapp.setups.journal import Entry, EntryKind, Journal
from webapp.trade.words import Check

Floats = NDArray[np.float64]
FIRST = date(2022, 3, 1)
BEFORE_DAYS = 150
# Wood Handbook (2010), table 4-2, the column of 21.1 C: relative humidity and moisture, percent.
HUMIDITY = [5, 10, 15, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 75, 80, 85, 90]
MOISTURE = [1.3, 2.5, 3.5, 4.5, 5.4, 6.2, 6.9, 7.7, 8.5, 9.2, 10.1, 11.0, 12.0, 13.1, 14.4, 16.0, 17.9, 20.5]
ROOM_C = 21.1
NOISE = 1.3  # hands and eyes are so much worse than the book says
SLIPS, WRONG_WAY = 0.02, 0.01
WANTED_MM, NEVER_TURNS = 0.30, 0.3


@dataclass
class Room:
    """A year's wave, and weather that leans on the day before: humidity of every day."""

    humidity: Floats
    moisture: Floats

    @classmethod
    def draw(cls, rng: np.random.Generator, days: int) -> Room:
        wave = rng.uniform(7, 16) * np.cos(2 * np.pi * (np.arange(days) - rng.uniform(0, 365)) / 365)
        weather = np.zeros(days)
        for day in range(1, days):
            weather[day] = 0.8 * weather[day - 1] + rng.normal(0, 3)
        humidity = np.clip(rng.uniform(42, 52) + wave + weather, 12, 88).round(1)
        return cls(humidity, np.interp(humidity, HUMIDITY, MOISTURE))

    def daily(self) -> dict[date, tuple[float, float]]:
        return {
            FIRST + timedelta(days=n - BEFORE_DAYS): (ROOM_C, float(h)) for n, h in enumerate(self.humidity)
        }


@dataclass
class Rod:
    """mm of relief for an eighth, dead play when the way changes, and a fifth that comes within hours."""

    mm: float
    play: float
    way: int = 0
    left: float = 0.0
    done: list[tuple[float, float]] = field(default_factory=list)

    def turn(self, at: float, eighths: int) -> None:
        way = 1 if eighths > 0 else -1
        if self.way not in (0, way):
            self.left = self.play
        taken = min(self.left, abs(eighths))
        self.left, self.way = self.left - taken, way
        self.done.append((at, -way * (abs(eighths) - taken) * self.mm))

    def effect(self, at: float) -> float:
        return sum(mm * (1 - 0.2 * math.exp(-(at - when) * 24 / 6)) for when, mm in self.done if when <= at)


@dataclass
class Neck:
    """The true relief at any time, in days from the first reading on, mm."""

    wood: Floats
    start_mm: float
    slope: float
    creep: float
    wander: Floats
    day_mm: Floats
    rod: Rod
    strung: list[tuple[float, float]] = field(default_factory=list)

    def smooth(self, at: float, moisture: float) -> float:
        moved = self.slope * (moisture - float(self.wood[BEFORE_DAYS]))
        strings = sum(mm for when, mm in self.strung if when <= at)
        return self.start_mm + moved + self.creep * at / 365 + self.rod.effect(at) + strings

    def moisture(self, at: float) -> float:
        return float(np.interp(at + BEFORE_DAYS, np.arange(len(self.wood)), self.wood))

    def relief(self, at: float) -> float:
        """As it is on that day, with what the day does for no reason."""
        day = int(at) + BEFORE_DAYS
        return self.smooth(at, self.moisture(at)) + float(self.wander[day] + self.day_mm[day])


def _follow(moisture: Floats, lag: float) -> Floats:
    wood = np.empty(len(moisture))
    wood[0] = now = float(moisture[:30].mean())
    for n in range(1, len(moisture)):
        for part in range(8):
            share = (part + 0.5) / 8
            now += (moisture[n - 1] * (1 - share) + moisture[n] * share - now) / lag / 8
        wood[n] = now
    return wood


# The tools: from what is truly there to what is written down.
Reader = Callable[[np.random.Generator, float], dict[str, Any]]


def _feeler(rng: np.random.Generator, truth: float) -> dict[str, Any]:
    seen = max(0.0, truth + rng.normal(0, 0.015 * NOISE))
    value = round(math.floor(seen / 0.05 + 0.5) * 0.05, 2)
    return {"value": value, "tool": "feeler", "typed": f"{value:g}", "detail": {"method": "feeler"}}


def _card(rng: np.random.Generator, truth: float) -> dict[str, Any]:
    fit = int(np.clip((truth + rng.normal(0, 0.03 * NOISE)) // 0.30, 0, 3))
    low, high = (None, 0.3, 0.6, 0.9)[fit], (0.3, 0.6, 0.9, None)[fit]
    return _range("card", ("none", "one", "two", "more")[fit], low, high) | {"value": 0.15 + 0.3 * fit}


def _ear(rng: np.random.Generator, truth: float) -> dict[str, Any]:
    felt = truth + rng.normal(0, 0.06 * NOISE)
    place = 0 if felt < 0.10 else 1 if felt < 0.45 else 2
    ends = ((None, 0.10), (0.10, 0.45), (0.45, None))[place]
    return _range("ear", ("no_click", "slight", "a_lot")[place], *ends) | {"value": (0.0, 0.275, 0.6)[place]}


def _range(tool: str, answer: str, low: float | None, high: float | None) -> dict[str, Any]:
    detail = {"method": tool, "answer": answer, "low": low, "high": high}
    return {"tool": tool, "typed": answer, "detail": detail}


READERS: dict[str, Reader] = {"feeler": _feeler, "card": _card, "ear": _ear}


@dataclass
class Owner:
    """Reads every few weeks, turns the rod when it looks wrong, changes strings, and writes it all down."""

    rng: np.random.Generator
    neck: Neck
    read: Reader
    journals: list[list[Entry]] = field(default_factory=list)
    count: int = 0

    def write(self, at: float, kind: EntryKind, slot: str, **fields: Any) -> None:
        self.count += 1
        when = datetime(FIRST.year, FIRST.month, FIRST.day, 12, tzinfo=UTC) + timedelta(days=at)
        self.journals[-1].append(Entry(kind, Check.RELIEF, slot, **fields, id=self.count, at=when))

    def look(self, at: float) -> float:
        truth = self.neck.relief(at)
        if self.rng.random() < SLIPS:
            truth = self.rng.uniform(0.0, 1.5)
        told = self.read(self.rng, truth)
        self.write(at, EntryKind.READING, "relief", unit="mm", **told)
        return float(told["value"])

    def turn(self, at: float, eighths: int) -> None:
        self.write(at, EntryKind.ADJUSTMENT, "relief", detail={"part": "rod", "eighths": eighths})
        self.neck.rod.turn(at, -eighths if self.rng.random() < WRONG_WAY else eighths)

    def restring(self, at: float) -> None:
        self.write(at, EntryKind.ADJUSTMENT, "log", detail={"part": "strings", "eighths": 0})
        self.neck.strung.append((at, float(self.rng.normal(0, 0.05))))

    def live(self, last: float) -> None:
        at, next_turn, next_strings = 0.5, self.rng.uniform(0, 120), self.rng.uniform(60, 400)
        if self.rng.random() < NEVER_TURNS:
            next_turn = last
        while at < last:
            self.journals.append([])
            found = self.look(at)
            if at > next_strings:
                self.restring(at + 0.005)
                next_strings = at + self.rng.uniform(150, 400)
                found = self.look(at + 0.02)
            off = found - WANTED_MM
            if at > next_turn and abs(off) > 0.06:
                for step in range(1 + int(abs(off) > 0.2)):
                    self.turn(at + 0.03 + 0.02 * step, (1 if off > 0 else -1) * int(self.rng.integers(1, 3)))
                    self.look(at + 0.04 + 0.02 * step)
                next_turn = at + self.rng.uniform(60, 200)
            at += self.rng.uniform(9, 28)


@dataclass
class Life:
    """One instrument's journals, its air, and what was truly so at `now` (days) and in a settled air."""

    journals: tuple[Journal, ...]
    daily: dict[date, tuple[float, float]]
    now: datetime
    relief_mm: float
    slope: float
    settled: dict[float, float]


def live(seed: int, number: int, tool: str) -> Life:
    """Instrument `number` of a seed, read with one tool throughout."""
    rng = np.random.default_rng([seed, number])
    last = float(rng.uniform(400, 850))
    room = Room.draw(rng, int(last) + BEFORE_DAYS + 5)
    days = len(room.humidity)
    wander = np.zeros(days)
    for day in range(1, days):
        wander[day] = 0.95 * wander[day - 1] + rng.normal(0, 0.003)
    neck = Neck(
        wood=_follow(room.moisture, float(np.exp(rng.uniform(math.log(8), math.log(50))))),
        start_mm=float(rng.uniform(0.05, 0.65)),
        slope=float(rng.uniform(-0.08, 0.05)),
        creep=float(rng.normal(0, 0.03)),
        wander=wander,
        day_mm=rng.normal(0, rng.uniform(0.01, 0.03), days),
        rod=Rod(float(np.exp(rng.normal(math.log(0.05), 0.5))), float(rng.choice([0, 0.3, 0.8]))),
    )
    owner = Owner(rng, neck, READERS[tool])
    owner.live(last - 5)
    at = last - 0.5
    on_the_day = float(wander[int(at) + BEFORE_DAYS]) + rng.normal(0, neck.day_mm.std())
    airs = {humidity: float(np.interp(humidity, HUMIDITY, MOISTURE)) for humidity in (35.0, 50.0, 65.0)}
    settled = {humidity: neck.smooth(at, moisture) + on_the_day for humidity, moisture in airs.items()}
    now = datetime(FIRST.year, FIRST.month, FIRST.day, 12, tzinfo=UTC) + timedelta(days=at)
    journals = tuple(Journal.of(entries) for entries in owner.journals)
    return Life(journals, room.daily(), now, neck.relief(at), neck.slope, settled)
