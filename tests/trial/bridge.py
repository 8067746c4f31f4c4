"""The trial's bridges: saddles that turn one by one, a bar on two posts, a saddle that nobody can turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.trial.rod import DONE, NO_ROOM

Array = NDArray[np.float64]
EIGHTHS = 8.0


@dataclass
class Bridge:
    """Where every string leaves the saddle: `height_mm` up, `back_mm` behind its place; bass side first.

    room_*: how far each saddle still goes (up, down, back, forward), mm. `posts` are the places of the two
    posts across the board; empty where each saddle has its own screws. Pitches are mm a turn, 0 = no screw.
    """

    height_mm: Array
    back_mm: Array
    offsets_mm: Array
    height_pitch_mm: float
    back_pitch_mm: float
    room_up_mm: Array
    room_down_mm: Array
    room_back_mm: Array
    room_forward_mm: Array
    posts: tuple[float, float] | None = None

    @property
    def kind(self) -> str:
        if self.height_pitch_mm == 0.0:
            return "one_piece"
        return "posts" if self.posts else "saddles"

    def raise_string(self, index: int, eighths: float) -> tuple[float, str]:
        """Turn one saddle's height screws; what was turned and how it ended."""
        made, ended = self._within(
            eighths, self.height_pitch_mm, self.room_up_mm[index], self.room_down_mm[index]
        )
        travel = made / EIGHTHS * self.height_pitch_mm
        self.height_mm[index] += travel
        self.room_up_mm[index] -= travel
        self.room_down_mm[index] += travel
        return made, ended

    def raise_post(self, side: str, eighths: float) -> tuple[float, str]:
        """Turn one post, or both alike: a stiff bar follows them."""
        made, ended = self._within(
            eighths, self.height_pitch_mm, self.room_up_mm.min(), self.room_down_mm.min()
        )
        travel = made / EIGHTHS * self.height_pitch_mm
        lift = self.lift(side, travel)
        self.height_mm += lift
        self.room_up_mm -= lift
        self.room_down_mm += lift
        return made, ended

    def lift(self, side: str, travel_mm: float) -> Array:
        """What each string gains when a post rises."""
        if side == "both":
            return np.full(len(self.height_mm), travel_mm)
        assert self.posts is not None, "these saddles stand on their own screws"
        bass, treble = self.posts
        share = (self.offsets_mm - bass) / (treble - bass)
        return np.asarray(travel_mm * (share if side == "treble" else 1.0 - share))

    def move_back(self, index: int, eighths: float) -> tuple[float, str]:
        """Turn one saddle's long screw: plus lengthens the string."""
        made, ended = self._within(
            eighths, self.back_pitch_mm, self.room_back_mm[index], self.room_forward_mm[index]
        )
        travel = made / EIGHTHS * self.back_pitch_mm
        self.back_mm[index] += travel
        self.room_back_mm[index] -= travel
        self.room_forward_mm[index] += travel
        return made, ended

    @staticmethod
    def _within(eighths: float, pitch_mm: float, ahead_mm: float, behind_mm: float) -> tuple[float, str]:
        if pitch_mm == 0.0:
            return 0.0, NO_ROOM
        room = max((ahead_mm if eighths > 0 else behind_mm) / pitch_mm * EIGHTHS, 0.0)
        if abs(eighths) <= room:
            return eighths, DONE
        return float(np.copysign(np.floor(room), eighths)), NO_ROOM
