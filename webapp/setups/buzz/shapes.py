"""Ways in which the board at and past the joint may rise, fret by fret."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from webapp.setups.buzz.gaps import Array, Floats

# How high a hump stands, a board rises or a crest stands out, mm, and over how many frets to either side.
RISE_MM = (0.12, 0.22, 0.38)
WIDE_FRETS = (3.0, 5.0, 8.0)
# Where a hump may be highest, in frets from the joint.
TOPS = (-1, 0, 1, 2.5, 4)


@lru_cache(maxsize=32)
def upper_shapes(joint_fret: int, last: int) -> dict[str, Array]:
    """Rise of every fret, mm [shape, size, fret 0 to the last], of each kind: hump, fall and rise.

    A board that only falls away gains room ahead of every note; it buzzes where the fall begins. Wood swells
    without kinks.
    """
    fret = np.arange(last + 1)
    past = (fret - joint_fret) / max(1, last - joint_fret)

    def swell(centre: float, half: float) -> Floats:
        return np.asarray(0.5 + 0.5 * np.cos(np.pi * np.clip((fret - centre) / half, -1, 1)))

    tops = [joint_fret + top for top in TOPS if joint_fret + top < last]
    kinds = {
        "hump": [swell(top, half) for top in tops for half in WIDE_FRETS],
        "fall": [np.where(past <= 0, swell(joint_fret, half), 1 - 2 * past) for half in WIDE_FRETS],
        "rise": [np.clip((fret - joint_fret + 1) / (last - joint_fret + 1), 0, 1)],
    }
    return {
        kind: np.stack([[by * shape for by in RISE_MM] for shape in shapes]).astype(np.float32)
        for kind, shapes in kinds.items()
    }
