"""What the buzz finder weighs: the notes that buzzed, and how the instrument may have stood when they were plucked.

The belief's relief and heights hang together. Here they are spread over a few scenarios that all strings share
(the relief, how hard and in which way the strings swing, how high they stand together) and, within each, over a
few heights of every string by itself. What lies between two neighbouring steps is left to the blur of a touch.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from webapp.physics.mixture import Mixture
from webapp.setups.belief.neck import HEIGHTS, RELIEF
from webapp.setups.buzz import newest_board
from webapp.setups.buzz_gaps import Array, Floats, Gaps, gaps_of
from webapp.setups.case import Case
from webapp.setups.journal import Entry, EntryKind, Journal, Part
from webapp.setups.slots import Slot, string_numbers
from webapp.setups.touch import swing_for
from webapp.trade.ranges import Band, Bands
from webapp.trade.words import Check, Touch

# So many steps for a size that may be so far off (standard deviations, mm), and how far apart they then lie, in
# standard deviations.
STEPS = ((0.07, 1, 0.0), (0.12, 3, 1.5), (np.inf, 5, 1.0))
SWING_STEPS, SWING_APART = 5, 1.0
# Strings stand high or low together by more than this, mm, or it is not worth a step of its own.
TOGETHER_MM = 0.15
# A player lets the string go from above its rest as deep as from below it, or not so deep: shares of that reach.
FROM_ABOVE = (1.0, 0.6)
CLEARANCE_PARTS = (Part.ROD, Part.SADDLE_HEIGHT, Part.NUT, Part.STRINGS)


@dataclass(frozen=True)
class Spread:
    """A size as a few steps: in standard deviations, with the log of each one's weight, and the rest left over."""

    steps: Floats
    log_weight: Floats
    rest: float

    @classmethod
    def of(cls, count: int, apart: float) -> Spread:
        """Evenly spaced steps of a normal; one alone stands for all of it."""
        steps = apart * (np.arange(count) - (count - 1) / 2)
        log_weight = -0.5 * steps**2
        rest = 1.0 if count == 1 else apart / np.sqrt(12)
        return cls(steps, log_weight - np.log(np.exp(log_weight).sum()), float(rest))


def spread_for(sd_mm: float) -> Spread:
    """As many steps as so wide a size needs."""
    return next(Spread.of(count, apart) for most, count, apart in STEPS if sd_mm <= most)


@dataclass(frozen=True)
class Scenarios:
    """How the instrument may have stood. Axes: scenario k, string s (bass side first), step j of a string's own height.

    `relief` [k] mm, `harder` [k] the share by which the player swings more than the touch means, `above` [k] of
    FROM_ABOVE, `log_weight` [k]; `action` [s, k, j] mm at 12 held at 1 with `action_log_weight` [j]; `nut` [n, s]
    mm with `nut_log_weight` [n]. The `_rest` are standard deviations that no step stands for: mm, `harder` a share.
    """

    relief: Array
    harder: Array
    above: NDArray[np.intp]
    log_weight: Floats
    action: Array
    action_log_weight: Array
    nut: Array
    nut_log_weight: Array
    relief_rest: float
    harder_rest: float
    action_rest: Array
    nut_rest: Array
    skew: Array


@dataclass(frozen=True)
class Scene:
    """The whole board as it was when the notes were plucked; `numbers` bass side first, `tapped` [string, fret]."""

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
        return tuple(self.case.bands(Slot(Check.NUT, string=n)) for n in self.numbers)

    @cached_property
    def open_pitches(self) -> tuple[int, ...]:
        """Open notes counted in semitones, so that the same pitch on two strings is the same number."""
        return tuple(_semitone(self.case.spec.string(n).note) for n in self.numbers)

    @cached_property
    def swing_spread(self) -> float:
        """How far the hand may be off the swing taken, one standard deviation, as a share."""
        own, spread = self.case.spec.own_swing, self.case.trade.buzz.swing_spread
        if own is None or not own_touch(self.case, self.touch):
            return spread
        # A swing found by test still differs from one evening to the next.
        return min(spread, max(0.04, own.error_mm / own.swing_mm))

    @cached_property
    def scenarios(self) -> Scenarios:
        return _scenarios(self)


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
    scene = Scene(then, board, touch, numbers, _tapped(board, numbers, spec.fret_count), gaps, np.array(swing))
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


def _scenarios(scene: Scene) -> Scenarios:
    import os
    K=int(os.environ.get("BK","48")); JJ=int(os.environ.get("BJ","0")); WID=float(os.environ.get("BW","1.2"))
    from statistics import NormalDist
    inv=np.vectorize(NormalDist().inv_cdf)
    belief = scene.case.belief
    mean, cov = _moments(belief.neck.mixture)
    own, relief_sd = cov[HEIGHTS:, HEIGHTS:], float(np.sqrt(cov[RELIEF, RELIEF]))
    along = cov[HEIGHTS:, RELIEF] / relief_sd
    own, together = _apart(own - np.outer(along, along))
    S=len(own)
    # R sequence
    def rseq(n,d,phase=0.5):
        g=2.0
        for _ in range(40): g=(1+g)**(1/(d+1))
        al=np.array([(1/g)**(i+1) for i in range(d)])
        return (phase+np.outer(np.arange(1,n+1),al))%1
    u=rseq(K,5)
    z=WID*inv(u[:,:3]); lw=(-0.5*z**2+0.5*(z/WID)**2+np.log(WID))
    z_relief,z_swing,z_common=z.T
    above=(u[:,3]>.5).astype(np.intp)
    use=[0,1]+([2] if together.any() else [])
    log_weight=lw[:,use].sum(axis=1); log_weight=log_weight-np.log(np.exp(log_weight).sum())
    if not together.any(): z_common=0*z_common
    sd=float(own.max())
    J=JJ or (1 if sd<.07 else 2 if sd<.12 else 3 if sd<.2 else 4)
    if J==1:
        zo=np.zeros((S,K,1)); alw=np.zeros((S,K,1)); rest=1.0
    else:
        off=(np.arange(1,K+1)[None,:]*0.6180339887+np.arange(S)[:,None]*0.7548776662)%1
        zo=1.2*inv(np.clip((np.arange(J)+off[:,:,None])/J,1e-4,1-1e-4))
        alw=-0.5*zo**2+0.5*(zo/1.2)**2+np.log(1.2)-np.log(J); rest=0.0
    target=scene.relief_target; w=target.high-target.low
    slipped=np.array([target.low-.2,target.low+.2*w,target.low+.5*w,target.low+.8*w,target.high+.2,target.high+.5])
    SL=float(os.environ.get("BS",".015"))
    n=len(slipped) if SL else 0
    relief=mean[RELIEF] + relief_sd * z_relief
    if n:
        relief=np.concatenate((relief,slipped)); log_weight=np.concatenate((log_weight+np.log(1-SL),np.full(n,np.log(SL/n))))
        z_relief=np.concatenate((z_relief,np.zeros(n))); z_common=np.concatenate((z_common,np.zeros(n)))
        z_swing=np.concatenate((z_swing,[-.9,.9,.3,-.3,-.6,.6])); above=np.concatenate((above,[0,1,0,1,0,1]))
        zo=np.concatenate((zo,zo[:,:n]),axis=1); alw=np.concatenate((alw,alw[:,:n]),axis=1)
    skew=float(os.environ.get("SKM","0"))+float(os.environ.get("SKS","0"))*inv(u[:,4])
    if n: skew=np.concatenate((skew,np.zeros(n)))
    shared = mean[HEIGHTS:, None] + along[:, None] * z_relief + together[:, None] * z_common
    nuts, nut_sds = np.array(
        [belief.nut.mixture.moments(belief.place_row(Slot(Check.NUT, string=n))) for n in scene.numbers]
    ).T
    nut = spread_for(float(nut_sds.max()))
    return Scenarios(
        relief=_f32(relief),
        harder=_f32(scene.swing_spread * z_swing),
        above=above,
        log_weight=np.asarray(log_weight),
        action=_f32(shared[:, :, None] + own[:, None, None] * zo),
        action_log_weight=_f32(alw),
        nut=_f32(np.concatenate((nuts + nut_sds * nut.steps[:, None],[[b.target.middle for b in scene.nut_bands]]))),
        nut_log_weight=_f32(np.concatenate((nut.log_weight,[np.log(.015)]))),
        relief_rest=0.0,
        harder_rest=0.0,
        action_rest=_f32(own * rest),
        nut_rest=_f32(nut_sds * nut.rest),
        skew=_f32(skew),
    )


def _f32(values: Floats) -> Array:
    return np.asarray(values, dtype=np.float32)


def _moments(mixture: Mixture) -> tuple[Floats, Floats]:
    """Mean and covariance over all explanations."""
    mean = mixture.weights @ mixture.means
    off = mixture.means - mean
    cov = np.einsum("k,kde->de", mixture.weights, mixture.covs) + np.einsum("k,kd,ke->de", mixture.weights, off, off)
    return mean, np.asarray(cov)


def _apart(cov: Floats) -> tuple[Floats, Floats]:
    """Heights given the relief: how far each is off by itself, and how far all are off together (0 where hardly)."""
    sizes, ways = np.linalg.eigh(cov)
    together = np.sqrt(max(float(sizes[-1]), 0.0)) * ways[:, -1]
    alike = abs(together.sum()) / len(together)
    if alike < TOGETHER_MM:
        together = np.zeros_like(together)
    own = np.sqrt(np.maximum(np.diag(cov) - together**2, 1e-6))
    return own, together
