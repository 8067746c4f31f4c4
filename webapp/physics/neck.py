"""The neck seen from the side: relief, action and saddle height along one string.

The body end is fixed. Frets from the joint on lie on the line y = 0; before it the neck bends with
constant curvature, so fret tops stand at ``y(x) = k * (x_joint - x)**2``. ``k > 0`` is forward bow
(relief), ``k < 0`` back bow. Source: small-deflection beam under a constant bending moment, J. M. Gere and
B. J. Goodno, Mechanics of Materials, 8th ed. 2013, chapter 9, from memory. That a neck bends so, and not
at all past the joint, is our model.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, overload

import numpy as np
from numpy.typing import NDArray

from webapp.physics.frets import fret_position


class ReliefFrets(NamedTuple):
    """The three frets of a relief reading: held at, pressed at, gap read at."""

    hold: int = 1
    press: int = 13
    gap: int = 7


COMMON_FRETS = ReliefFrets()


@dataclass(frozen=True)
class Neck:
    """One string's line of fret tops.

    ``scale_mm`` above 0; ``joint_fret`` 1..``fret_count``; ``curvature_per_mm`` is k above, in 1/mm.
    Raises ``ValueError`` for anything else.
    """

    scale_mm: float
    joint_fret: int
    fret_count: int
    curvature_per_mm: float = 0.0

    def __post_init__(self) -> None:
        if not (np.isfinite(self.scale_mm) and self.scale_mm > 0):
            raise ValueError("the scale length must be above 0 mm")
        if self.fret_count < 1:
            raise ValueError("a neck needs at least one fret")
        if not 1 <= self.joint_fret <= self.fret_count:
            raise ValueError(f"the joint fret must lie between 1 and {self.fret_count}")
        if not np.isfinite(self.curvature_per_mm):
            raise ValueError("the curvature must be a finite number")

    @classmethod
    def from_relief(
        cls,
        scale_mm: float,
        joint_fret: int,
        fret_count: int,
        relief_mm: float,
        hold: int = 1,
        press: int = 13,
        gap: int = 7,
    ) -> Neck:
        """The neck that gives this relief reading (mm, negative = back bow) at these three frets.

        Raises ``ValueError`` when the frets are not in the order hold < gap < press, lie outside the
        neck, or are all past the joint, where the board does not bend.
        """
        unit = cls(scale_mm, joint_fret, fret_count, 1.0)
        per_curvature = unit.relief(hold, press, gap)
        if per_curvature <= 0:
            raise ValueError("held past the joint a reading says nothing about relief")
        return cls(scale_mm, joint_fret, fret_count, relief_mm / per_curvature)

    @property
    def joint_mm(self) -> float:
        """Distance of the joint fret from the nut, mm."""
        return fret_position(self.scale_mm, self.joint_fret)

    def fret_at(self, fret: int) -> float:
        """Distance of a fret on this neck from the nut, mm. Raises ``ValueError`` off the neck."""
        if not 0 <= fret <= self.fret_count:
            raise ValueError(f"fret {fret} is not on this neck (0 to {self.fret_count})")
        return fret_position(self.scale_mm, fret)

    @overload
    def height_at(self, distance_mm: float) -> float: ...

    @overload
    def height_at(self, distance_mm: NDArray[np.float64]) -> NDArray[np.float64]: ...

    def height_at(self, distance_mm: float | NDArray[np.float64]) -> float | NDArray[np.float64]:
        """Height y of the line of fret tops at a distance from the nut, mm; number or array."""
        before = np.maximum(self.joint_mm - np.asarray(distance_mm, dtype=np.float64), 0.0)
        height = self.curvature_per_mm * before**2
        return float(height) if height.ndim == 0 else height

    def fret_top(self, fret: int) -> float:
        """Height y of a fret's top, mm (0 = nut end of the board). Raises ``ValueError`` off the neck."""
        return self.height_at(self.fret_at(fret))

    def relief(self, hold: int, press: int, gap: int) -> float:
        """Gap at one fret under a string held at ``hold`` and pressed at ``press``, mm, signed.

        The chord between the two fret tops minus the top of the fret between them. Raises
        ``ValueError`` unless hold < gap < press, all on the neck.
        """
        if not hold < gap < press:
            raise ValueError("the gap must be read between the fret held and the fret pressed")
        ends = (self.fret_at(hold), self.fret_top(hold)), (self.fret_at(press), self.fret_top(press))
        return _line_at(*ends, self.fret_at(gap)) - self.fret_top(gap)

    def action(self, saddle_mm: float, hold: int = 1, gap: int = 12, nut_mm: float = 0.0) -> float:
        """String height over fret ``gap`` with the string held at ``hold``, mm, to its underside.

        ``saddle_mm`` is the string's height over y = 0 at the saddle. ``nut_mm``, the string's
        height over the board end's fret line at the nut, matters only for ``hold=0`` (open).
        Raises ``ValueError`` unless hold < gap, both on the neck.
        """
        start = self._start(hold, gap, nut_mm)
        return _line_at(start, (self.scale_mm, saddle_mm), self.fret_at(gap)) - self.fret_top(gap)

    def saddle_for_action(self, action_mm: float, hold: int = 1, gap: int = 12, nut_mm: float = 0.0) -> float:
        """Saddle height over y = 0 that gives this action, mm; the inverse of ``action``."""
        start_x, start_y = self._start(hold, gap, nut_mm)
        target_y = action_mm + self.fret_top(gap)
        return start_y + (target_y - start_y) * (self.scale_mm - start_x) / (self.fret_at(gap) - start_x)

    def saddle_per_action(self, hold: int = 1, gap: int = 12) -> float:
        """Saddle travel per mm of action, ``(L - x_hold) / (x_gap - x_hold)``: 2 for an open string at 12."""
        start_x, _ = self._start(hold, gap, 0.0)
        return (self.scale_mm - start_x) / (self.fret_at(gap) - start_x)

    def nut_for_gap(self, gap_mm: float, saddle_mm: float) -> float:
        """Height of the string at the nut, over the fret line there, for this open gap over fret 1, mm."""
        first = self.fret_at(1)
        share = first / self.scale_mm
        at_nut = (gap_mm + self.fret_top(1) - saddle_mm * share) / (1.0 - share)
        return at_nut - self.fret_top(0)

    def _start(self, hold: int, gap: int, nut_mm: float) -> tuple[float, float]:
        if not hold < gap:
            raise ValueError("the height must be read past the fret that is held")
        return self.fret_at(hold), self.fret_top(hold) + (nut_mm if hold == 0 else 0.0)


def convert_relief(
    relief_mm: float,
    joint_fret: int,
    fret_count: int,
    taken: tuple[int, int, int],
    wanted: tuple[int, int, int] = COMMON_FRETS,
) -> float:
    """What a relief read at one set of (hold, press, gap) frets would read at another, mm.

    Both readings are proportional to the curvature, and the scale length cancels. Raises
    ``ValueError`` as ``Neck.from_relief`` does.
    """
    neck = Neck.from_relief(1000.0, joint_fret, fret_count, relief_mm, *taken)
    return neck.relief(*wanted)


def action_per_relief(
    joint_fret: int,
    fret_count: int,
    taken: tuple[int, int, int] = COMMON_FRETS,
    hold: int = 1,
    gap: int = 12,
) -> float:
    """Mm of action gained per mm of relief read at ``taken``, the saddle left alone; no unit.

    The forecast of the model; the scale length cancels. Raises ``ValueError`` as ``Neck`` does.
    """
    neck = Neck.from_relief(1000.0, joint_fret, fret_count, 1.0, *taken)
    return neck.action(0.0, hold, gap)


def _line_at(start: tuple[float, float], end: tuple[float, float], x: float) -> float:
    (x0, y0), (x1, y1) = start, end
    return y0 + (y1 - y0) * (x - x0) / (x1 - x0)
