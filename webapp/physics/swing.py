"""Where a plucked string swings: the parallelogram it fills, and how its size goes along the neck.

A string pulled aside at one point and let go is always the average of two travelling triangles. It
starts as a triangle with its corner at the pluck, and half a period later is that triangle turned
end for end on the other side. Source: d'Alembert's solution (1747) for an ideal string with fixed ends, as in
N. H. Fletcher and T. D. Rossing, The Physics of Musical Instruments, 2nd ed. 1998, chapter 2,
doi:10.1007/978-0-387-21603-4, from memory.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray


def pluck_from_saddle(length_mm: ArrayLike, pluck_mm: float) -> NDArray[np.float64]:
    """The pluck's distance from the saddle on a string this long, mm: ``min(p, l / 2)``.

    High up the board the hand would be past the middle, or past the fret: it stays at the middle.
    Raises ``ValueError`` for a pluck distance that is not above 0.
    """
    if not (np.isfinite(pluck_mm) and pluck_mm > 0):
        raise ValueError("the string must be plucked more than 0 mm from the saddle")
    return np.asarray(np.minimum(pluck_mm, np.asarray(length_mm, dtype=np.float64) / 2))


def envelope(distance_mm: ArrayLike, length_mm: ArrayLike, pluck_mm: float) -> NDArray[np.float64]:
    """How far below rest the string reaches per mm of pluck height; no unit, 0 to 1.

    ``distance_mm`` from the fretted end, 0..``length_mm``; both broadcast and give that shape. The
    string may be let go from above or from below, so it is the lower of the two:
    ``max(min(s/p, (l-s)/(l-p)), min(s/(l-p), (l-s)/p))``. Raises ``ValueError`` as above. Source: the
    envelope of the solution above, worked out here.
    """
    s = np.asarray(distance_mm, dtype=np.float64)
    length = np.asarray(length_mm, dtype=np.float64)
    near = pluck_from_saddle(length, pluck_mm)
    far = length - near
    from_above = np.minimum(s / near, (length - s) / far)
    from_below = np.minimum(s / far, (length - s) / near)
    return np.asarray(np.maximum(from_above, from_below))


def reach(scale_mm: ArrayLike, length_mm: ArrayLike, pluck_mm: float) -> NDArray[np.float64]:
    """Pluck height on a string of ``length_mm`` per mm on the open string, plucked with the same force.

    A force F at p bends the string by ``F * p * (l - p) / (l * T)``, so this is the ratio of
    ``p * (l - p) / l``. Arguments broadcast. Raises ``ValueError`` as above. Source: equilibrium of forces at
    the pluck for small angles, worked out here.
    """
    return np.asarray(_give(length_mm, pluck_mm) / _give(scale_mm, pluck_mm))


def _give(length_mm: ArrayLike, pluck_mm: float) -> NDArray[np.float64]:
    length = np.asarray(length_mm, dtype=np.float64)
    near = pluck_from_saddle(length, pluck_mm)
    return np.asarray(near * (length - near) / length)
