"""Boards with more than one size wrong at once: how the frets rise, and what that does to the readings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from webapp.physics.frets import fret_position
from webapp.setups.buzz_gaps import Array, Floats

HUMP_MM = (0.10, 0.17, 0.27, 0.40)
WIDE = (2.5, 4.5, 7.0)


@dataclass(frozen=True)
class Shapes:
    """Rise of every fret, mm [shape, fret 0..last], with a name each.

    ``relief_mm`` and ``action_mm`` are what the rise adds to a relief reading and to the action at 12
    [shape]: a gauge stands on the frets as they are.
    """

    rise: Array
    names: tuple[str, ...]
    relief_mm: Array
    action_mm: Array


def shapes_of(rise: Floats, names: tuple[str, ...], taken: tuple[int, int, int]) -> Shapes:
    """Work out what these rises do to the readings; `taken` is where relief is held, pressed and read."""
    hold, press, gap = taken

    def under_line(start: int, end: float, end_rise: Floats, fret: int) -> Floats:
        x0, x = (float(fret_position(1.0, f)) for f in (start, fret))
        part = (x - x0) / (end - x0)
        return np.asarray(rise[:, start] * (1 - part) + end_rise * part - rise[:, fret])

    relief = under_line(hold, float(fret_position(1.0, press)), rise[:, press], gap)
    action = under_line(1, 1.0, np.zeros(len(rise)), 12)
    return Shapes(
        rise.astype(np.float32), names, 0*np.asarray(relief, np.float32), 0*np.asarray(action, np.float32)
    )


def single_frets(frets: tuple[int, ...], sizes_mm: Array, taken: tuple[int, int, int], last: int) -> Shapes:
    """One fret off by each of these sizes, fret by fret."""
    rise = np.zeros((len(frets) * len(sizes_mm), last + 1))
    rows = np.arange(len(rise))
    rise[rows, np.repeat(frets, len(sizes_mm))] = np.tile(sizes_mm, len(frets))
    return shapes_of(rise, tuple(str(fret) for fret in frets for _ in sizes_mm), taken)


def upper_shapes(joint_fret: int, last: int, taken: tuple[int, int, int]) -> Shapes:
    """Ways in which the board at and past the joint may rise.

    A board that only falls away gains room ahead of every note; it buzzes where the fall begins.
    """
    fret = np.arange(last + 1)
    past = max(1, last - joint_fret)

    def bump(centre: int, half: float) -> Floats:
        return np.asarray(np.clip(1 - np.abs(fret - centre) / half, 0, None))

    tops = [top for top in (joint_fret - 1, joint_fret + 1, joint_fret + 3) if top < last]
    shapes = [("hump", bump(top, half)) for top in tops for half in WIDE]
    for half in WIDE:
        fall = np.where(fret <= joint_fret, bump(joint_fret, half), 1 - 2 * (fret - joint_fret) / past)
        shapes.append(("fall", fall))
    shapes.append(("rise", np.clip((fret - joint_fret + 1) / (past + 1), 0, 1)))
    rise = np.stack([by * shape for _, shape in shapes for by in HUMP_MM])
    return shapes_of(rise, tuple(name for name, _ in shapes for _ in HUMP_MM), taken)
