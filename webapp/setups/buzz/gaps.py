"""What the finder stands on: gaps under every fretted string, as straight lines; chances as logarithms."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from webapp.physics.clearance import clearances, reach_map
from webapp.physics.frets import fret_position
from webapp.physics.neck import Neck
from webapp.physics.swing import pluck_from_saddle, reach

Array = NDArray[np.float32]
Floats = NDArray[np.float64]
Which = NDArray[np.intp]


@dataclass(frozen=True)
class Gaps:
    """``fretted`` and ``over`` index the pairs of frets (1 <= fretted < over <= last), sorted by fretted.

    The other arrays are [pair, string], bass side first, those that begin with `open_` [over fret 1 to the
    last, string]. Gap = action * per_action + relief * per_relief (+ nut * per_nut), and a pluck of A mm
    on the open string takes A * reach of it. ``from_below`` is that part of the reach which also a string
    has that is let go from below its rest: the shape in which the finger holds it. ``share`` [pair] is how
    far over lies from fretted to the saddle. ``nut_per_relief`` [string] is what 1 mm of relief adds to
    the open string's gap over fret 1 where saddle and slot are left alone.
    """

    fretted: Which
    over: Which
    share: Array
    per_action: Array
    per_relief: Array
    reach: Array
    from_below: Array
    open_per_action: Array
    open_per_relief: Array
    open_per_nut: Array
    open_reach: Array
    open_from_below: Array
    nut_per_relief: Array

    @property
    def last(self) -> int:
        return int(self.over[-1])


@lru_cache(maxsize=32)
def gaps_of(
    scales_mm: tuple[float, ...],
    joint_fret: int,
    fret_count: int,
    pluck_mm: float,
    taken: tuple[int, int, int],
) -> Gaps:
    """Take the clearance maps of all strings apart; `taken` is where relief is held, pressed and read."""
    fretted, over = np.triu_indices(fret_count + 1, k=1)
    played = fretted >= 1
    pairs = fretted[played], over[played]
    maps = [_maps(scale, joint_fret, fret_count, pluck_mm, taken) for scale in scales_mm]

    def stacked(name: str) -> tuple[Array, Array]:
        whole = np.stack([one[name] for one in maps], axis=-1).astype(np.float32)
        return whole[pairs], whole[0, 1:]

    per_action, open_per_action = stacked("action")
    per_relief, open_per_relief = stacked("relief")
    swung, open_reach = stacked("reach")
    below, open_below = stacked("below")
    share = clearances(Neck(scales_mm[0], joint_fret, fret_count), 1.0)[pairs].astype(np.float32)
    return Gaps(
        *pairs, share, per_action, per_relief, swung, below,
        open_per_action, open_per_relief, stacked("nut")[1], open_reach, open_below,
        np.array([one["rides"][0, 1] for one in maps], dtype=np.float32),
    )  # fmt: skip


def _maps(
    scale_mm: float, joint_fret: int, fret_count: int, pluck_mm: float, taken: tuple[int, int, int]
) -> dict[str, Floats]:
    """[fretted, over]: what 1 mm of action at 12, of relief, of gap at the nut and of swing make of a gap."""
    flat = Neck(scale_mm, joint_fret, fret_count)
    bowed = Neck.from_relief(scale_mm, joint_fret, fret_count, 1.0, *taken)
    raised, level = flat.saddle_for_action(1.0), bowed.saddle_for_action(0.0)
    return {
        "action": clearances(flat, raised, flat.nut_for_gap(0.0, raised)),
        "relief": clearances(bowed, level, bowed.nut_for_gap(0.0, level)),
        "nut": clearances(flat, 0.0, flat.nut_for_gap(1.0, 0.0)),
        "rides": clearances(bowed, 0.0),
        "reach": reach_map(flat, pluck_mm),
        "below": _from_below(scale_mm, fret_count, pluck_mm),
    }


def _from_below(scale_mm: float, fret_count: int, pluck_mm: float) -> Floats:
    """[fretted, over]: the string as the finger holds it, per mm of open-string swing, same force."""
    x = np.asarray(fret_position(scale_mm, np.arange(fret_count + 1)))
    length = (scale_mm - x)[:, None]
    near = pluck_from_saddle(length, pluck_mm)
    ahead = x[None, :] - x[:, None]
    shape = np.minimum(ahead / (length - near), (length - ahead) / near)
    return np.asarray(shape * reach(scale_mm, length, pluck_mm))


LEAST_DENSITY = np.float32(1e-8)


def log_sum(values: Floats | Array, axis: int | tuple[int, ...]) -> Floats:
    """log(sum(exp(values))), safe for very small chances."""
    top = np.max(values, axis=axis, keepdims=True)
    total = np.log(np.sum(np.exp(values - top), axis=axis, keepdims=True)) + top
    return np.asarray(np.squeeze(total, axis=axis), dtype=np.float64)


def log_box(x: Array, low: ArrayLike, high: ArrayLike, edge: float) -> Array:
    """Log density of 'somewhere between low and high', with soft edges."""
    low, high = np.asarray(low, dtype=np.float32), np.asarray(high, dtype=np.float32)
    inside = expit((x - low) / np.float32(edge)) * expit((high - x) / np.float32(edge))
    return np.asarray(np.log(inside / np.maximum(high - low, np.float32(edge)) + LEAST_DENSITY))


def expit(x: Array) -> Array:
    """1 / (1 + exp(-x))"""
    return np.asarray(1 / (1 + np.exp(np.clip(-x, -60, 60))))


def normal(z: Array) -> Array:
    """The normal's distribution function to 0.0002: expit(2 sqrt(2 / pi) (z + 0.044715 z^3)).

    Source: E. Page, Applied Statistics 26, 1977, pages 75 to 76 (recalled, not looked up again).
    """
    return expit(z * (np.float32(1.5957691) + np.float32(0.0713548) * z * z))
