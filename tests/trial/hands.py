"""The player's hands: they read the truth through their tools and turn what they are asked to, nearly."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import floor

import numpy as np

from tests.trial.instrument import Instrument
from tests.trial.places import outer_slots, side_out, truth
from tests.trial.rod import DONE
from tests.trial.tools import Kit, Reading
from tests.trial.world import World

HAND = 0.05  # one turn differs from another by this share
READ_HOURS, TURN_HOURS = 1 / 60, 2 / 60
# A plus turn moves the reading of its own check this way.
EFFECT = {"rod": -1, "saddle_height": 1, "post": 1, "saddle_position": -1, "pickup": -1}


@dataclass(frozen=True)
class Where:
    """Where a tool goes: which frets, string, pickup. None where it does not apply."""

    check: str
    string: int | None = None
    fret: int | None = None
    hold: int | None = None
    press: int | None = None
    gap: int | None = None
    pickup: int | None = None
    side: str | None = None


@dataclass
class Step:
    """One thing that was done: a reading, a turn, a board, a question, a rest, or a word about a repairer."""

    do: str
    slot: str
    part: str = ""
    asked: int = 0
    made: int = 0
    ended: str = DONE
    wrong: bool = False
    reading: Reading | None = None
    marks: int = 0
    note: str = ""

    @property
    def check(self) -> str:
        return self.slot.split(".")[0]


@dataclass
class Hands:
    """A player at one instrument, with what was done so far."""

    instrument: Instrument
    kit: Kit
    world: World
    rng: np.random.Generator
    steps: list[Step] = field(default_factory=list)

    def true_value(self, where: Where, string: int | None = None) -> float:
        """What a perfect tool would show there, or at the same place of another string."""
        made, string = self.instrument, string or where.string
        if where.check == "relief":
            standard = made.kind.standard
            frets = (where.hold or standard[0], where.press or standard[1], where.gap or standard[2])
            return made.relief(*frets, string)
        if where.check == "pickups":
            assert where.pickup is not None and where.side is not None
            return made.pickup_gap(where.pickup, where.side)
        assert string is not None
        if where.check == "nut":
            return max(made.nut_gap(string), 0.0)
        if where.check == "height":
            hold = 1 if where.hold is None else where.hold
            return made.height(string, hold, where.gap or where.fret or 12)
        assert where.fret is not None
        return made.cents(string, where.fret)

    def read(self, slot: str, where: Where, methods: dict[str, list[str]]) -> Reading:
        """Read a place with the player's own tool out of the methods offered, {key: words or []}."""
        method = self.kit.tool_for(where.check, list(methods))
        value = self.true_value(where)
        beside = value
        if where.string is not None:
            other = where.string + 1 if where.string < len(self.instrument.strings) else where.string - 1
            beside = self.true_value(where, other)
        self.instrument.wait(READ_HOURS)
        reading = self.kit.read(self.rng, where.check, method, value, beside, methods[method])
        self.steps.append(Step("read", slot, reading=reading, note=f"true {value:.3f}"))
        return reading

    def turn(
        self, slot: str, part: str, eighths: int, string: int | None = None,
        side: str | None = None, pickup: int | None = None,
    ) -> Step:  # fmt: skip
        """Turn what was asked, as well as a hand does; the step says what it takes itself to have done."""
        before = truth(self.instrument, slot)
        wrong = self._against(slot, part, eighths, side)
        actual = eighths * (1.0 + HAND * self.rng.normal())
        slipped = self.rng.random() < self.world.wrong_way
        made, ended = self._move(part, -actual if slipped else actual, string, side, pickup)
        felt = eighths if ended == DONE else int(np.copysign(floor(abs(made) + 0.2), eighths))
        self.instrument.wait(TURN_HOURS)
        after = truth(self.instrument, slot)
        note = "" if before is None or after is None else f"true {before:.3f} -> {after:.3f}"
        note += " (the wrong way round)" if slipped else ""
        step = Step("turn", slot, part, eighths, felt, ended, wrong, note=note)
        self.steps.append(step)
        return step

    def _move(
        self, part: str, eighths: float, string: int | None, side: str | None, pickup: int | None
    ) -> tuple[float, str]:
        made = self.instrument
        if part == "rod":
            return made.rod.turn(eighths)
        if part == "saddle_height" and string is not None:
            return made.bridge.raise_string(made.index(string), eighths)
        if part in ("post", "saddle_height"):
            return made.bridge.raise_post(side or "both", eighths)
        if part == "saddle_position":
            assert string is not None
            return made.bridge.move_back(made.index(string), eighths)
        assert part == "pickup" and pickup is not None, f"nothing here is called {part}"
        made.raise_pickup(pickup, side or "both", eighths)
        return eighths, DONE

    def _against(self, slot: str, part: str, eighths: int, side: str | None) -> bool:
        """Whether the turn would drive a value that is out of its usual band further out."""
        slots: tuple[str, ...] = (slot,)
        if part == "rod":
            slots = ("relief",)
        elif part == "post":
            slots = outer_slots(self.instrument, side or "both")
        elif part == "saddle_position":
            slots = tuple(f"intonation.{slot.split('.')[1]}.{at}" for at in ("12", "high"))
        if truth(self.instrument, slots[0]) is None:
            return False
        goes = int(np.sign(eighths)) * EFFECT[part]
        out = [side_out(self.instrument, one) for one in slots]
        return out[0] == goes and all(one == goes or one == 0 for one in out)

    def board(self) -> list[tuple[int, int]]:
        """Play every note and mark what rattles; a mark is now and then put on the next string."""
        marks = self.instrument.rattles()
        if marks and self.rng.random() < self.world.slips:
            string, fret = marks[0]
            marks[0] = (string + 1 if string < len(self.instrument.strings) else string - 1, fret)
        self.steps.append(Step("board", "", marks=len(marks), note=f"{len(marks)} rattle: {marks[:6]}"))
        return marks

    def wait(self, hours: float) -> None:
        self.instrument.wait(hours)
        self.steps.append(Step("rest", "", note=f"{hours:g} h"))
