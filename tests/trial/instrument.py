"""One simulated instrument: what is true of it now, and what a turn makes of it. Strings are counted from the
thinnest, 1 up, as the trade does; arrays run from the bass side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.trial import swing
from tests.trial.bridge import Bridge
from tests.trial.kinds import Kind
from tests.trial.neck import gap_under_line
from tests.trial.pitch import error_cents
from tests.trial.rod import Rod

Array = NDArray[np.float64]


@dataclass
class Pickup:
    """Where a pickup lies along the string, how high its two ends stand, and its screws' pitch."""

    along_mm: float
    top_mm: Array
    pitch_mm: float


@dataclass
class Instrument:
    """The truth. Arrays are [string], [fret] or [string, fret], fret 0 the nut.

    `still_mm` are the fret tops as the rod was found, `answer` what 1 mm of relief from the rod adds to them.
    `cents_left` is what neither saddle nor stretch explains. `loose_notes` are the notes, {(string, fret)},
    that set a loose part humming; `high_fret` is the fret that stands proud.
    """

    kind: Kind
    along_mm: Array
    still_mm: Array
    answer: Array
    rod: Rod
    bridge: Bridge
    nut_above_mm: Array
    stiff: Array
    finger_mm: Array
    cents_left: Array
    pickups: list[Pickup]
    swing_mm: Array
    told: dict[str, str]
    high_fret: int | None = None
    loose_notes: frozenset[tuple[int, int]] = frozenset()

    @property
    def strings(self) -> range:
        """Their numbers, thinnest first."""
        return range(1, len(self.kind.strings) + 1)

    @property
    def middle_string(self) -> int:
        return (len(self.kind.strings) + 1) // 2

    def index(self, string: int) -> int:
        return len(self.kind.strings) - string

    def tops(self, index: int) -> Array:
        return np.asarray(self.still_mm[index] + self.rod.moved_mm * self.answer)

    def nut_mm(self, index: int) -> float:
        """How high the string leaves the nut, which rides on the neck."""
        return float(self.still_mm[index, 0] + self.rod.moved_mm * self.answer[0] + self.nut_above_mm[index])

    def saddle(self, index: int) -> tuple[float, float]:
        return self.kind.scale_mm + float(self.bridge.back_mm[index]), float(self.bridge.height_mm[index])

    def relief(self, hold: int, press: int, gap: int, string: int | None = None) -> float:
        return gap_under_line(
            self.along_mm, self.tops(self.index(string or self.middle_string)), hold, press, gap
        )

    @property
    def standard_relief(self) -> float:
        """The family's own way of saying it, under a middle string."""
        return self.relief(*self.kind.standard)

    def height(self, string: int, hold: int = 1, fret: int = 12) -> float:
        """Underside of the string over a fret, held at another (0 = open), mm."""
        index = self.index(string)
        tops, x = self.tops(index), self.along_mm
        start = tops[hold] if hold else self.nut_mm(index)
        along, up = self.saddle(index)
        part = (x[fret] - x[hold]) / (along - x[hold])
        return float(start + part * (up - start) - tops[fret])

    def nut_gap(self, string: int) -> float:
        return self.height(string, hold=0, fret=1)

    def cents(self, string: int, fret: int) -> float:
        """Fretted against its own tuned open string."""
        index = self.index(string)
        clean = error_cents(
            fret,
            (float(self.along_mm[fret]), float(self.tops(index)[fret])),
            (0.0, self.nut_mm(index)),
            self.saddle(index),
            float(self.stiff[index]),
            float(self.finger_mm[index]),
        )
        return clean + float(self.cents_left[index, fret])

    def pickup_gap(self, pickup: int, side: str) -> float:
        """From the pickup to the outer string of a side, pressed at the last fret."""
        index = 0 if side == "bass" else len(self.kind.strings) - 1
        there, top = self.pickups[pickup - 1], self.tops(index)[-1]
        along, up = self.saddle(index)
        part = (there.along_mm - self.along_mm[-1]) / (along - self.along_mm[-1])
        return float(top + part * (up - top) - there.top_mm[0 if side == "bass" else 1])

    def raise_pickup(self, pickup: int, side: str, eighths: float) -> None:
        """A screw lifts its own side, and the other a little."""
        there = self.pickups[pickup - 1]
        share = {"bass": (0.95, 0.05), "treble": (0.05, 0.95), "both": (1.0, 1.0)}[side]
        there.top_mm += eighths / 8.0 * there.pitch_mm * np.array(share)

    def clearances(self, string: int) -> Array:
        index = self.index(string)
        return swing.clearances(self.along_mm, self.tops(index), self.nut_mm(index), self.saddle(index))

    def rattles(self) -> list[tuple[int, int]]:
        """Every note that rattles when this player plays them all: (string, fret), 0 = open."""
        reach = swing.reach_of_swing(self.kind.key, self.kind)
        heard = {
            (string, fret)
            for string in self.strings
            for fret in swing.rattling(
                reach, self.clearances(string), float(self.swing_mm[self.index(string)])
            )
        }
        return sorted(heard | self.loose_notes)

    def wait(self, hours: float) -> None:
        self.rod.wait(hours)
