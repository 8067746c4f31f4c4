"""What if: relief, heights, strings, tuning or touch were different. Nothing is recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from webapp.physics.clearance import CleanSwing, clearances_of, reach_map
from webapp.physics.neck import Neck
from webapp.setups.belief.neck import KAPPA
from webapp.setups.case import Case
from webapp.setups.strings.relief_pull import ReliefForecast, relief_forecast
from webapp.setups.strings.string_setting import StringSetting, settings_of, with_action, with_relief
from webapp.setups.strings.tension import Comparison, compare, retuned, strung_with, tuned
from webapp.setups.tryout.clearance_map import default_touch, named_swing
from webapp.trade.spec import StringSpec
from webapp.trade.string_sets import StringSet, Tuning


@dataclass(frozen=True)
class Change:
    """What to try. None leaves a thing as it is: heights then only follow the relief, saddles untouched.

    `bass_mm` and `treble_mm` are the outer strings' heights at 12, held at 1; the inner ones follow.
    """

    relief_mm: float | None = None
    bass_mm: float | None = None
    treble_mm: float | None = None
    touch: str | None = None
    string_set: StringSet | None = None
    tuning: Tuning | None = None


@dataclass(frozen=True)
class StringOutcome:
    """One string: its height, what it allows, and the swing of the touch, mm."""

    number: int
    action_mm: float
    clean: CleanSwing
    swing_mm: float

    @property
    def left_mm(self) -> float:
        """Swing in hand before the first touch; below 0 it touches."""
        return self.clean.swing_mm - self.swing_mm


@dataclass(frozen=True)
class Outcome:
    """How the instrument stands, strings bass side first; `load_n` is the pull of all strings."""

    relief_mm: float
    strings: tuple[StringOutcome, ...]
    load_n: float


@dataclass(frozen=True)
class WhatIf:
    """Before and after, and where the relief would go with another pull of the strings."""

    before: Outcome
    after: Outcome
    comparison: Comparison
    relief: ReliefForecast


def what_if(case: Case, change: Change) -> WhatIf:
    """The instrument as it stands beside the one with the change made.

    A pluck of the same force swings a string in proportion to 1 / tension, so another set or tuning
    changes the swing of a touch. Raises ValueError for a touch or a note that there is not.
    """
    comparison = compare(case.spec, case.trade, _strings(case, change))
    now = settings_of(case)
    then = _changed(case, now, change)
    usual = default_touch(case)
    before = _swings(case, usual)
    slacker = [s.before.tension_n / s.after.tension_n for s in comparison.strings]
    touch = _swings(case, change.touch or usual) if change.touch not in (None, usual) else before
    after = [swing * share for swing, share in zip(touch, slacker, strict=True)]
    return WhatIf(
        before=_outcome(case.relief_mm, now, before, comparison.before.total_n),
        after=_outcome(
            case.relief_mm if change.relief_mm is None else change.relief_mm,
            then,
            after,
            comparison.after.total_n,
        ),
        comparison=comparison,
        relief=relief_forecast(case, comparison.change),
    )


def _strings(case: Case, change: Change) -> tuple[StringSpec, ...]:
    """The strings worn after the change, with their notes."""
    worn = case.spec.strings
    if change.string_set is not None:
        worn = tuple(map(strung_with, worn, change.string_set.strings))
    if change.tuning is not None:
        notes = tuned(case.spec, case.trade, change.tuning)
        worn = tuple(map(retuned, worn, notes))
    return worn


def _changed(case: Case, now: tuple[StringSetting, ...], change: Change) -> tuple[StringSetting, ...]:
    """The settings after the change: the rod first, then the saddles."""
    then = now if change.relief_mm is None else relieved(case, now, change.relief_mm)
    bass = 0.0 if change.bass_mm is None else change.bass_mm - then[0].action_mm
    treble = 0.0 if change.treble_mm is None else change.treble_mm - then[-1].action_mm
    if not bass and not treble:
        return then
    shares = (case.spec.across(s.number) for s in then)
    return tuple(
        with_action(s, s.action_mm + bass + share * (treble - bass))
        for s, share in zip(then, shares, strict=True)
    )


def relieved(case: Case, now: Sequence[StringSetting], relief_mm: float) -> tuple[StringSetting, ...]:
    """The same saddles over a neck with another relief; heights go with it as this neck is believed to."""
    mixture = case.belief.neck.mixture
    kappa = mixture.moments(mixture.unit(KAPPA))[0]
    return tuple(
        with_relief(case, one, relief_mm, one.action_mm + kappa * (relief_mm - one.relief_mm)) for one in now
    )


def _swings(case: Case, touch: str) -> list[float]:
    numbers = range(case.spec.string_count, 0, -1)
    return [named_swing(case, number, touch).swing.mm for number in numbers]


def _outcome(
    relief_mm: float, settings: Sequence[StringSetting], swings_mm: Sequence[float], load_n: float
) -> Outcome:
    clean = clean_swings(settings)
    strings = tuple(
        StringOutcome(setting.number, setting.action_mm, one, swing)
        for setting, one, swing in zip(settings, clean, swings_mm, strict=True)
    )
    return Outcome(relief_mm, strings, load_n)


def clean_swings(settings: Sequence[StringSetting]) -> tuple[CleanSwing, ...]:
    """`clean_swing` of every string at once: the largest swing without a touch, and what it touches first."""
    necks = [setting.neck for setting in settings]
    gaps = clearances_of(necks, [setting.saddle_mm for setting in settings])[:, 1:]
    reach = np.stack([_reach(neck, setting.pluck_mm) for neck, setting in zip(necks, settings, strict=True)])
    room = gaps / reach
    flat = room.reshape(len(necks), -1)
    first = np.nanargmin(flat, axis=1)
    fretted, over = np.unravel_index(first, room.shape[1:])
    swings = flat[np.arange(len(necks)), first]
    return tuple(
        CleanSwing(float(swing), int(n) + 1, int(m))
        for swing, n, m in zip(swings, fretted, over, strict=True)
    )


def _reach(neck: Neck, pluck_mm: float) -> NDArray[np.float64]:
    """The bow does not matter to the reach, so one map serves every relief."""
    return _reach_of(neck.scale_mm, neck.fret_count, pluck_mm)


@lru_cache(maxsize=64)
def _reach_of(scale_mm: float, fret_count: int, pluck_mm: float) -> NDArray[np.float64]:
    reach = reach_map(Neck(scale_mm, 1, fret_count), pluck_mm)[1:]
    reach.flags.writeable = False
    return reach
