"""An instrument of the buzz trial as it truly stands, and which of its notes rattle when they are all
plucked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.trial.kinds import Kind
from tests.trial.neck import fret_places, gap_under_line
from tests.trial.swing import clearances

Array = NDArray[np.float64]
Note = tuple[int, int]


@dataclass(frozen=True)
class Board:
    """Lengths in mm, bass side first. Strings are named from the thinnest, 1 up; fret 0 is open.

    `tops` are the fret tops [string, fret], `nut` and `saddle` the strings' ends over the same line
    [string], `plucks` how far each note is drawn aside, said of the open string [string, fret], `reach`
    how low a string comes for each mm of that [fretted, over]; a touch lighter than `heard` is lost in the
    note.
    """

    kind: Kind
    tops: Array
    nut: Array
    saddle: Array
    plucks: Array
    reach: Array
    heard: float

    @property
    def x(self) -> Array:
        return fret_places(self.kind.scale_mm, self.kind.frets)

    @property
    def strings(self) -> range:
        return range(1, len(self.kind.strings) + 1)

    def index(self, string: int) -> int:
        return len(self.kind.strings) - string

    def clear(self, string: int) -> Array:
        """[fretted, over]: the gaps under a string at rest."""
        index = self.index(string)
        end = self.kind.scale_mm, float(self.saddle[index])
        return clearances(self.x, self.tops[index], float(self.nut[index]), end)

    def room(self, string: int) -> Array:
        """[fretted, over]: what is left of them when it is plucked; below 0 it is heard to touch."""
        swung = self.plucks[self.index(string)][:, None] * self.reach
        return np.asarray(self.clear(string) + self.heard - swung)

    def rattles(self) -> frozenset[Note]:
        """Every note that touches a fret."""
        found = set()
        for string in self.strings:
            touch = np.nan_to_num(self.room(string), nan=1.0) < 0
            found |= {(string, int(fret)) for fret in np.flatnonzero(touch.any(axis=1))}
        return frozenset(found)

    # What a gauge meets

    def relief(self) -> float:
        """Under a middle string, the family's standard way."""
        return gap_under_line(self.x, self.tops[len(self.kind.strings) // 2], *self.kind.standard)

    def height(self, string: int, hold: int = 1, fret: int = 12) -> float:
        """Underside of the string over a fret, held at another (0 = open)."""
        index, x = self.index(string), self.x
        start = self.tops[index, hold] if hold else self.nut[index]
        part = (x[fret] - x[hold]) / (self.kind.scale_mm - x[hold])
        return float(start + part * (self.saddle[index] - start) - self.tops[index, fret])

    # What a hand does to it

    def at_height(self, string: int, wanted: float) -> Board:
        """The saddle moved until the string stands so over the 12th, held at 1."""
        x, saddle = self.x, self.saddle.copy()
        part = (x[12] - x[1]) / (self.kind.scale_mm - x[1])
        saddle[self.index(string)] += (wanted - self.height(string)) / part
        return replace(self, saddle=saddle)

    def at_nut_gap(self, string: int, wanted: float) -> Board:
        """The slot cut or filled until the open string stands so over fret 1."""
        nut = self.nut.copy()
        nut[self.index(string)] += (wanted - self.height(string, 0, 1)) / (1 - self.x[1] / self.kind.scale_mm)
        return replace(self, nut=nut)

    def bent(self, line: Array, by_mm: float, keep_heights: bool) -> Board:
        """The neck bent by a line that says 1 mm of relief; the nut rides on it, and the heights are set
        anew or not."""
        moved = replace(self, tops=self.tops + by_mm * line, nut=self.nut + by_mm * line[0])
        if keep_heights:
            for string in self.strings:
                moved = moved.at_height(string, self.height(string))
        return moved

    def risen(self, rise: Callable[[int, int], float]) -> Board:
        """Frets lifted by `rise(index of the string, fret)`."""
        tops = self.tops.copy()
        for index in range(len(tops)):
            for fret in range(1, self.kind.frets + 1):
                tops[index, fret] += rise(index, fret)
        return replace(self, tops=tops)

    def lowest_clean(self, string: int) -> float:
        """Height over the 12th, held at 1, from which on no fretted note of this string rattles."""
        x, scale = self.x, self.kind.scale_mm
        per_saddle = (x[None, :] - x[1:, None]) / (scale - x[1:, None])
        lack = float(np.nanmax(-self.room(string)[1:] / np.where(per_saddle > 0, per_saddle, np.nan)))
        return self.height(string) + lack * (x[12] - x[1]) / (scale - x[1])
