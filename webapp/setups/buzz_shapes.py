"""Ways in which the board at and past the joint may rise, fret by fret."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from webapp.setups.buzz_gaps import Array, Floats

# How high a hump stands, a board rises or a crest stands out, mm, and over how many frets to either side.
RISE_MM = (0.10, 0.18, 0.28, 0.42)
WIDE_FRETS = (2.5, 4.5, 7.0)
# Where a hump may be highest, in frets from the joint.
TOPS = (-1, 1, 3)


@lru_cache(maxsize=32)
def upper_shapes(joint_fret: int, last: int) -> tuple[Array, tuple[str, ...]]:
    """Rise of every fret, mm [shape, fret 0 to the last], with a name each: hump, fall or rise.

    A board that only falls away gains room ahead of every note; it buzzes where the fall begins.
    """
    fret = np.arange(last + 1)
    past = (fret - joint_fret) / max(1, last - joint_fret)

    def bump(centre: int, half: float) -> Floats:
        return np.asarray(np.clip(1 - np.abs(fret - centre) / half, 0, None))

    tops = [joint_fret + top for top in TOPS if joint_fret + top < last]
    shapes = [("hump", bump(top, half)) for top in tops for half in WIDE_FRETS]
    shapes += [("fall", np.where(past <= 0, bump(joint_fret, half), 1 - 2 * past)) for half in WIDE_FRETS]
    shapes.append(("rise", np.clip((fret - joint_fret + 1) / (last - joint_fret + 1), 0, 1)))
    rise = np.stack([by * shape for _, shape in shapes for by in RISE_MM])
    return rise.astype(np.float32), tuple(name for name, _ in shapes for _ in RISE_MM)
