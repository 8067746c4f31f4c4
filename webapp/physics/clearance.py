"""The gaps under a fretted string over every fret ahead, and how hard it may swing before it touches.

Source: straight lines over the next frets are common practice among luthiers, no source; the plucked
string's own shape in place of a fixed margin is ours (`swing` has its sources).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from webapp.physics.frets import fret_position
from webapp.physics.neck import Neck
from webapp.physics.swing import envelope, reach


class CleanSwing(NamedTuple):
    """The largest open-string swing that touches nothing, mm, and the pair of frets that touches first."""

    swing_mm: float
    fretted: int
    over: int


def clearances(neck: Neck, saddle_mm: ArrayLike, nut_mm: ArrayLike = 0.0) -> NDArray[np.float64]:
    """Gap under the string fretted at n over fret m, mm: ``[fretted, over]``, NaN where over <= fretted.

    ``saddle_mm`` is the string's height over y = 0 at the saddle: a number gives shape (N+1, N+1) with
    N the last fret, an array of shape ``s`` (one entry per string) gives ``s + (N+1, N+1)``.
    Row 0 is the open string, ``nut_mm`` over the board's fret line at the nut (0: as from a zero fret).
    Negative where the string lies below a fret's top. Straight line from fret n to saddle, less y.
    """
    saddle = np.asarray(saddle_mm, dtype=np.float64)
    nut = np.asarray(nut_mm, dtype=np.float64)
    if nut.shape != saddle.shape:
        saddle, nut = np.broadcast_arrays(saddle, nut)
    return _gaps(_tops(neck), saddle, nut, _share(neck.fret_count))


def clearances_of(
    necks: Sequence[Neck], saddles_mm: ArrayLike, nuts_mm: ArrayLike = 0.0
) -> NDArray[np.float64]:
    """``clearances`` of a whole instrument, each string with its own neck line: ``[string, fretted, over]``.

    For fanned frets, or a relief that differs from string to string. ``saddles_mm`` has one entry per
    neck, ``nuts_mm`` the same or a number. Raises ``ValueError`` for no necks or unlike fret counts.
    """
    counts = {neck.fret_count for neck in necks}
    if len(counts) != 1:
        raise ValueError("the strings of one instrument share one number of frets")
    tops = np.stack([_tops(neck) for neck in necks])
    saddles = np.broadcast_to(np.asarray(saddles_mm, dtype=np.float64), len(necks))
    nuts = np.broadcast_to(np.asarray(nuts_mm, dtype=np.float64), len(necks))
    return _gaps(tops, saddles, nuts, _share(counts.pop()))


def reach_map(neck: Neck, pluck_mm: float) -> NDArray[np.float64]:
    """How far the string fretted at n dips at fret m per mm of open-string swing, same force.

    Shape (N+1, N+1), NaN where over <= fretted; no unit. ``pluck_mm`` is the pluck's distance from the
    saddle. Raises ``ValueError`` for one that is not above 0.
    """
    length = neck.scale_mm * (1.0 - _places(neck.fret_count))[:, None]
    ahead = length * _share(neck.fret_count)
    return np.asarray(envelope(ahead, length, pluck_mm) * reach(neck.scale_mm, length, pluck_mm))


def clean_swing(neck: Neck, saddle_mm: float, pluck_mm: float, nut_mm: float | None = None) -> CleanSwing:
    """Largest open-string swing at which no pair of frets touches, mm, and the pair that touches first.

    Fretted notes 1 and up; with ``nut_mm`` (as in ``clearances``) the open string counts too. 0 or below
    means that the string lies on a fret before it is plucked. Raises ``ValueError`` for a pluck distance
    that is not above 0 or a neck with a single fret and no ``nut_mm``.
    """
    first = 1 if nut_mm is None else 0
    if neck.fret_count <= first:
        raise ValueError("with one fret there is no fret ahead to touch")
    gaps = clearances(neck, saddle_mm, nut_mm or 0.0)
    room = (gaps / reach_map(neck, pluck_mm))[first:]
    fretted, over = np.unravel_index(int(np.nanargmin(room)), room.shape)
    return CleanSwing(float(room[fretted, over]), int(fretted) + first, int(over))


@lru_cache(maxsize=64)
def _places(fret_count: int) -> NDArray[np.float64]:
    """Frets 0..fret_count as shares of the scale length; read-only, kept because it never changes."""
    places = np.asarray(fret_position(1.0, np.arange(fret_count + 1)))
    places.flags.writeable = False
    return places


@lru_cache(maxsize=64)
def _share(fret_count: int) -> NDArray[np.float64]:
    """How far fret m lies from fret n to the saddle, ``[n, m]``: the same on every scale length.

    NaN where m <= n, so that every map made from it has NaN there.
    """
    x = _places(fret_count)
    share = (x[None, :] - x[:, None]) / (1.0 - x[:, None])
    share[np.tril_indices(x.size)] = np.nan
    share.flags.writeable = False
    return share


def _tops(neck: Neck) -> NDArray[np.float64]:
    return neck.height_at(neck.scale_mm * _places(neck.fret_count))


def _gaps(
    tops: NDArray[np.float64],
    saddle: NDArray[np.float64],
    nut: NDArray[np.float64],
    share: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Lines from every fret top to the saddle less the fret tops; ``tops`` is (N+1,) or (strings, N+1)."""
    start = np.empty((*saddle.shape, tops.shape[-1]))
    start[...] = tops
    start[..., 0] += nut
    gaps = (saddle[..., None] - start)[..., None] * share
    gaps += start[..., None]
    gaps -= tops[..., None, :]
    return gaps
