"""What the buzz finder weighs: the notes that buzzed, and how the instrument may have stood when they were
plucked.

The belief's relief and heights hang together. Here they are spread over some scenarios that all strings
share (the relief, how hard and in which way the strings swing, how high they stand together) and, in each,
over a few heights of every string by itself. The scenarios are points of an additive lattice, which fills
a space of few dimensions evenly, the same points every time. Source: Niederreiter, Random Number
Generation and Quasi-Monte Carlo Methods, 1992, chapter 5 (recalled, not looked up again).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from webapp.physics.mixture import Mixture
from webapp.setups.belief.neck import HEIGHTS, RELIEF
from webapp.setups.buzz.gaps import Array, Floats, Gaps, gaps_of
from webapp.setups.buzz_marks import newest_board
from webapp.setups.case import Case, swing_for
from webapp.setups.journal import Entry, EntryKind, Journal, Part
from webapp.setups.slots import nut_slot, string_numbers
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Touch

SCENARIOS, HEIGHT_STEPS, NUT_STEPS = 48, 5, 4
# The scenarios lie a little wider than the belief, so that its ends are tried too; their weights put that
# right.
WIDER = 1.2
# A player lets the string go from above its rest as deep as from below it, or not so deep: shares of that
# reach.
FROM_ABOVE = (1.0, 0.6)
# Where the relief, a height or a nut gap may truly be if its reading was a slip after all: about the relief's
# target, in widths of it and mm beyond, and mm from what is believed of a height.
SLIPPED_RELIEF = ((0.2, 0.0), (0.5, 0.0), (0.8, 0.0), (0.0, -0.2), (1.0, 0.2), (1.0, 0.5))
SLIPPED_HEIGHT_MM = (-0.6, 0.6)
CLEARANCE_PARTS = (Part.ROD, Part.SADDLE_HEIGHT, Part.NUT, Part.STRINGS)


@dataclass(frozen=True)
class Scenarios:
    """How the instrument may have stood. Axes: scenario k, string s (bass side first), step j of a
    string's own height.

    `relief` [k] mm; `harder` [k] how many times the touch's swing was played; `above` [k] which of
    FROM_ABOVE; `log_weight` [k]; `action` [s, k, j] mm at 12 held at 1, with `action_log_weight` [j];
    `nut` [n, s] mm, with `nut_log_weight` [n].
    """

    relief: Array
    harder: Array
    above: NDArray[np.intp]
    log_weight: Floats
    action: Array
    action_log_weight: Array
    nut: Array
    nut_log_weight: Array


@dataclass(frozen=True)
class Scene:
    """The whole board as it was when the notes were plucked; `numbers` bass side first, `tapped` [string,
    fret]."""

    case: Case
    board: Entry
    touch: Touch
    numbers: tuple[int, ...]
    tapped: NDArray[np.bool_]
    gaps: Gaps
    swing_mm: Floats

    @property
    def relief_target(self) -> Band:
        return self.case.trade.ranges.relief_bands(self.case.family, self.touch).target

    @property
    def marked(self) -> tuple[int, ...]:
        """The strings that buzz anywhere."""
        return tuple(n for n, row in zip(self.numbers, self.tapped, strict=True) if row.any())

    def frets(self, number: int) -> list[int]:
        """Where a string buzzes."""
        return [int(fret) for fret in np.flatnonzero(self.tapped[self.numbers.index(number)])]

    @cached_property
    def nut_bands(self) -> tuple[Bands, ...]:
        return tuple(self.case.bands(nut_slot(n)) for n in self.numbers)

    @cached_property
    def open_pitches(self) -> tuple[int, ...]:
        """Open notes counted in semitones, so that the same pitch on two strings is the same number."""
        return tuple(_semitone(self.case.spec.string(n).note) for n in self.numbers)

    @property
    def swing_spread(self) -> float:
        """How far the hand may be off the swing taken, one standard deviation, as a share."""
        own, spread = self.case.spec.own_swing, self.case.trade.buzz.swing_spread
        if own is None or not own_touch(self.case, self.touch):
            return spread
        # A swing found by test still differs from one evening to the next.
        return min(spread, max(0.04, own.error_mm / own.swing_mm))

    @cached_property
    def scenarios(self) -> Scenarios:
        belief, slip = self.case.belief, self.case.trade.belief.reading.slip
        mean, cov = _moments(belief.neck.mixture)
        relief_sd = float(np.sqrt(cov[RELIEF, RELIEF]))
        along = cov[HEIGHTS:, RELIEF] / relief_sd
        together, own = _apart(cov[HEIGHTS:, HEIGHTS:] - np.outer(along, along))
        z, above, log_weight = _lattice(len(SLIPPED_RELIEF))
        target = self.relief_target
        slipped = [target.low + share * target.width + mm for share, mm in SLIPPED_RELIEF]
        believed = mean[RELIEF] + relief_sd * z[: -len(slipped), 0]
        heights = mean[HEIGHTS:, None] + np.outer(along, z[:, 0]) + np.outer(together, z[:, 2])
        steps = own[:, None, None] * _own_steps(len(own), len(z))
        off = np.broadcast_to(SLIPPED_HEIGHT_MM, (*steps.shape[:2], len(SLIPPED_HEIGHT_MM)))
        nut = np.array([belief.nut.mixture.moments(belief.place_row(nut_slot(n))) for n in self.numbers])
        nut_steps = nut[:, 0] + np.outer(_normal((np.arange(NUT_STEPS) + 0.5) / NUT_STEPS), nut[:, 1])
        return Scenarios(
            relief=_f32(np.concatenate((believed, slipped))),
            harder=_f32(1 + self.swing_spread * z[:, 1]),
            above=above,
            log_weight=_with_slips(log_weight, len(slipped), slip),
            action=_f32(heights[..., None] + np.concatenate((steps, off), axis=-1)),
            action_log_weight=_f32(_with_slips(_alike(HEIGHT_STEPS), len(SLIPPED_HEIGHT_MM), slip)),
            nut=_f32(np.concatenate((nut_steps, [[b.target.middle for b in self.nut_bands]]))),
            nut_log_weight=_f32(_with_slips(_alike(NUT_STEPS), 1, slip)),
        )


def scene_of(case: Case) -> Scene | None:
    """The newest board with at least one note marked; None where there is none."""
    board = newest_board(case.journal)
    if board is None:
        return None
    then, spec = as_plucked(case, board), case.spec
    touch = Touch(board.detail.get("touch", spec.touch))
    numbers = string_numbers(spec)
    swing = [swing_for(case.frame, n, None if own_touch(case, touch) else touch).mm for n in numbers]
    scales = tuple(spec.scale_of(n) for n in numbers)
    gaps = gaps_of(scales, spec.joint_fret, spec.fret_count, case.pluck_mm, case.relief_standard.frets)
    scene = Scene(
        then, board, touch, numbers, _tapped(board, numbers, spec.fret_count), gaps, np.array(swing)
    )
    return scene if scene.tapped.any() else None


def _tapped(board: Entry, numbers: tuple[int, ...], last: int) -> NDArray[np.bool_]:
    tapped = np.zeros((len(numbers), last + 1), dtype=np.bool_)
    for number, fret in board.detail.get("taps", []):
        # The instrument may have been described anew with fewer strings or frets since.
        if int(number) in numbers and 0 <= int(fret) <= last:
            tapped[numbers.index(int(number)), int(fret)] = True
    return tapped


def as_plucked(case: Case, board: Entry) -> Case:
    """The case as it stood for this board: nothing from after the first turn that came later."""
    later = [t.id for t in case.journal.turns if t.id > board.id and t.turn.part in CLEARANCE_PARTS]
    if not later:
        return replace(case, now=board.at)
    kept = [e for e in case.journal.entries if e.id < min(later) or e.kind is EntryKind.VOID]
    return replace(case, journal=Journal.of(kept), now=board.at)


def own_touch(case: Case, touch: Touch) -> bool:
    """Whether the notes were plucked with the touch whose swing was found by test."""
    return case.spec.own_swing is not None and touch is case.spec.touch


def _semitone(note: str) -> int:
    steps = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
    bend = {"#": 1, "b": -1}.get(note[1], 0)
    return steps[note[0]] + bend + 12 * int(note[-1])


# The belief as points


def _moments(mixture: Mixture) -> tuple[Floats, Floats]:
    """Mean and covariance over all explanations."""
    mean = mixture.weights @ mixture.means
    off = mixture.means - mean
    within = np.einsum("k,kde->de", mixture.weights, mixture.covs)
    return mean, np.asarray(within + np.einsum("k,kd,ke->de", mixture.weights, off, off))


def _apart(cov: Floats) -> tuple[Floats, Floats]:
    """Heights given the relief: how far all are off together, and what each is off by itself."""
    sizes, ways = np.linalg.eigh(cov)
    together = np.sqrt(max(float(sizes[-1]), 0.0)) * ways[:, -1]
    return together, np.sqrt(np.maximum(np.diag(cov) - together**2, 1e-6))


@lru_cache(maxsize=4)
def _lattice(extra: int) -> tuple[Floats, NDArray[np.intp], Floats]:
    """Standard normals [scenario, (relief, swing, together)], which way of swinging, log weights
    [scenario].

    The last `extra` scenarios take relief and heights as they are believed.
    """
    places = _spread_out(SCENARIOS + extra, 4)
    z = WIDER * _normal(places[:, :3])
    z[SCENARIOS:, [0, 2]] = 0.0
    log_weight = (0.5 * z[:SCENARIOS] ** 2 * (1 / WIDER**2 - 1)).sum(axis=1)
    above = (places[:, 3] * len(FROM_ABOVE)).astype(np.intp)
    return z, above, log_weight - np.log(np.exp(log_weight).sum())


@lru_cache(maxsize=32)
def _own_steps(strings: int, scenarios: int) -> Floats:
    """Standard normals [string, scenario, step]: even steps, in every scenario a little further along."""
    along = _spread_out(strings * scenarios, 1).reshape(strings, scenarios, 1)
    return _normal((np.arange(HEIGHT_STEPS) + along) / HEIGHT_STEPS)


def _spread_out(count: int, dimensions: int) -> Floats:
    """Points of the unit cube [point, dimension] by the golden ratio's kin: x^(d + 1) = x + 1."""
    root = 1.5
    for _ in range(40):
        root = (1 + root) ** (1 / (dimensions + 1))
    steps = root ** -np.arange(1.0, dimensions + 1)
    return np.asarray((0.5 + np.outer(np.arange(1, count + 1), steps)) % 1)


def _normal(places: Floats) -> Floats:
    """The standard normal's quantiles, never further out than one in ten thousand."""
    inverse = NormalDist().inv_cdf
    inside = np.clip(places, 1e-4, 1 - 1e-4)
    return np.array([inverse(p) for p in inside.ravel().tolist()]).reshape(places.shape)


def _alike(count: int) -> Floats:
    """The log weights of so many steps that weigh alike."""
    return np.full(count, -np.log(count))


def _with_slips(log_weight: Floats, others: int, slip: float) -> Floats:
    """The same weights, and those of a few more that a slip shares out."""
    return np.concatenate((log_weight + np.log(1 - slip), np.full(others, np.log(slip / others))))


def _f32(values: Floats) -> Array:
    return np.asarray(values, dtype=np.float32)
