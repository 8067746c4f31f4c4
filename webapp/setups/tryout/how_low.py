"""How low the strings can go for a touch, and what that takes from here: the rod first, then the saddles.

The heights to go to are the low edges of the setup's own targets for that touch, over the neck as it will be.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil

import numpy as np

from webapp.physics.mixture import Floats
from webapp.physics.touch import LowestClean
from webapp.setups.belief.neck import HEIGHTS, PITCH, RELIEF, STUCK, NeckBelief
from webapp.setups.case import Case, lowest_for, own_relief_mm, suited
from webapp.setups.checks.deciding import now_words, screw_basis
from webapp.setups.checks.heights_turned import thread_known
from webapp.setups.checks.relief import rod_answers, rod_basis, rod_passes
from webapp.setups.geometry import FILED_MM
from webapp.setups.journal import CREAKS, WILL_NOT_MOVE, Part, Turn
from webapp.setups.slots import height_slot, string_label
from webapp.setups.states import Forecast
from webapp.setups.strings.string_setting import StringSetting, settings_of
from webapp.setups.tryout.clearance_map import OWN, NamedSwing, named_swing
from webapp.trade.spec import UNKNOWN
from webapp.trade.words import BridgeType, RodType, Side, Touch

# Far below any screw: what is over an eighth by so little is no eighth more.
NOTHING = 1e-6


def least_eighths(want_mm: float, gain_mm: float) -> int:
    """Signed eighths of one saddle's screws for a wanted gain of height; rounded up, since lower would buzz.

    `gain_mm` is the height gained by one eighth.
    """
    return ceil(want_mm / gain_mm - NOTHING)


def lowest_bar(wants_mm: Floats, gains_mm: Floats) -> tuple[int, int]:
    """Signed steps for the bass and the treble end of one stiff bar, after which no string lacks height.

    `wants_mm` (strings) are the wanted gains of height, `gains_mm` (2, strings) what a step of an end gives.
    Of all such steps, those that leave the strings lowest together.
    """
    at_bass, at_treble = gains_mm
    # The bass end within some times of what lifts every string by the most that any of them wants.
    far = 8 * ceil(float(np.max(np.abs(wants_mm))) / float(np.min(gains_mm.sum(axis=0)))) + 8
    bass = np.arange(-far, far + 1)
    lacking = wants_mm - np.outer(bass, at_bass)
    rising, falling = at_treble > NOTHING, at_treble < -NOTHING
    # The least that the treble end has to do for each; a string beyond the bass post goes the other way.
    treble = np.ceil(np.max(lacking[:, rising] / at_treble[rising], axis=1) - NOTHING)
    most = np.min(lacking[:, falling] / at_treble[falling], axis=1, initial=np.inf)
    still = np.max(lacking[:, ~(rising | falling)], axis=1, initial=0.0)
    possible = (treble <= most + NOTHING) & (still <= NOTHING)
    height = bass * at_bass.sum() + treble * at_treble.sum()
    lowest = int(np.argmin(np.where(possible, height, np.inf)))
    return int(bass[lowest]), int(treble[lowest])


# One whole turn shows what an unknown thread is.
LEARNING_EIGHTHS = 8
# Nobody files a saddle closer than that, mm.
FILE_STEP_MM = 0.05
# A turn of the rod has to bring the relief nearer to its aim by so much, mm: no gauge shows less.
NEARER_MM = 0.01


@dataclass(frozen=True)
class Stand:
    """What every reading should show at one moment: relief the standard way, heights at 12 held at 1."""

    relief: Forecast
    heights: tuple[Forecast, ...]


@dataclass(frozen=True)
class PlanStep:
    """One turn, how it is said, and what to expect after it, once the rod has settled."""

    do: str
    turn: Turn
    after: Stand
    note: str = ""


@dataclass(frozen=True)
class LowString:
    """One string: the swing to allow, its lowest clean height at the relief it will have, and where to go to.

    `aim_mm` is the low edge of its target there: the margin above the lowest clean height.
    """

    setting: StringSetting
    swing: NamedSwing
    lowest: LowestClean
    aim_mm: float

    @property
    def number(self) -> int:
        return self.setting.number


@dataclass(frozen=True)
class LowPlan:
    """The whole answer, strings bass side first."""

    touch: str
    relief_aim_mm: float
    now: Stand
    strings: tuple[LowString, ...]
    steps: tuple[PlanStep, ...]
    repairer: str
    rod_words: str

    @property
    def end(self) -> Stand:
        """What every reading should show when all is done."""
        return self.steps[-1].after if self.steps else self.now


def how_low(case: Case, touch: str) -> LowPlan:
    """Plan for one touch: light, medium, firm, or own. Raises ValueError for a touch there is not."""
    return _Planner(case, touch).plan()


def with_touch(case: Case, touch: str) -> Case:
    """The same instrument in the hands of another touch."""
    if touch == OWN:
        return case
    spec = case.spec.model_copy(update={"touch": Touch(touch), "own_swing": None})
    return replace(case, spec=spec)


@dataclass(frozen=True)
class _Planner:
    """The parts of one plan, each worked out once."""

    case: Case
    touch: str

    @cached_property
    def asked(self) -> Case:
        return with_touch(self.case, self.touch)

    @cached_property
    def settings(self) -> tuple[StringSetting, ...]:
        return settings_of(self.case)

    @cached_property
    def relief_aim_mm(self) -> float:
        """The relief that lets the strings lowest, within what suits the touch."""
        target = self.asked.bands_relief.target
        return min(max(own_relief_mm(self.asked.frame), target.low), target.high)

    def plan(self) -> LowPlan:
        now = self._stand(self.case.belief.neck)
        steps, neck, rod_words = self._rod()
        stand = steps[-1].after if steps else now
        strings = tuple(self._string(setting, stand.relief.value) for setting in self.settings)
        wants = np.array([low.aim_mm - at.value for low, at in zip(strings, stand.heights, strict=True)])
        filed = self.case.spec.bridge.type is BridgeType.ONE_PIECE
        saddles = [] if filed else self._saddles(neck, stand, wants)
        repairer = self._filed(wants) if filed else ""
        return LowPlan(self.touch, self.relief_aim_mm, now, strings, (*steps, *saddles), repairer, rod_words)

    def _string(self, setting: StringSetting, relief_mm: float) -> LowString:
        number, asked = setting.number, self.asked
        swing = named_swing(self.case, number, self.touch)
        ranges, spec = asked.trade.ranges, asked.spec
        table = ranges.height_bands(asked.family, spec.touch, spec.across(number))
        target = suited(asked.frame, height_slot(number), table, relief_mm).target
        return LowString(
            setting, swing, lowest_for(asked.frame, number, swing.swing.mm, relief_mm), target.low
        )

    # What to expect

    def _stand(self, neck: NeckBelief, relief_basis: str = "", height_basis: str = "") -> Stand:
        """How the neck stands by this belief once the rod has settled."""
        there = neck.arrived()
        heights = (
            self._forecast(there, HEIGHTS + i, one.action_mm, height_basis)
            for i, one in enumerate(self.settings)
        )
        return Stand(self._forecast(there, RELIEF, self.case.relief_mm, relief_basis), tuple(heights))

    def _forecast(self, there: NeckBelief, column: int, now_mm: float, basis: str = "") -> Forecast:
        """As shown now, and moved as far as the belief moves: what was never read stands at its target."""
        row = there.row(column)
        moved = there.mixture.moments(row)[0] - self.case.belief.neck.mixture.moments(row)[0]
        return Forecast(now_mm + moved, there.mixture.half_width(row), basis)

    # The rod

    def _rod(self) -> tuple[list[PlanStep], NeckBelief, str]:
        """The turns of the rod, the neck after them, and a sentence where it is not turned, or no further."""
        case, neck = self.case, self.case.belief.neck
        left_alone = self._left_alone()
        if left_alone:
            return [], neck, left_alone
        steps: list[PlanStep] = []
        done, way = (rod_passes(case) or (0,))[-1], 0
        while eighths := self._nearest(neck, done, way):
            neck, done, way = neck.rod_turned(eighths), done + eighths, eighths
            turn = Turn(Part.ROD, eighths=eighths)
            after = self._stand(neck, rod_basis(case), "how heights go with the bow")
            steps.append(PlanStep(self._rod_words(turn), turn, after))
        words = "" if steps else "The relief is right for it already: leave the rod alone."
        if self._nearest(neck, 0, way):
            most = case.say.turns(case.trade.belief.enough.rod_in_all)
            words = f"No more than {most} in one pass: then let the neck rest a night, and read again."
        return steps, neck, words

    def _left_alone(self) -> str:
        """Why the rod is not turned at all; empty where it may be."""
        case, answers = self.case, rod_answers(self.case)
        stuck = case.belief.neck.rod_chance(STUCK) >= case.trade.belief.enough.rod_named
        if case.spec.rod.type is RodType.NONE:
            return f"This neck has no rod: the relief stays at {case.say.length(case.relief_mm)}."
        if stuck or WILL_NOT_MOVE in answers or answers.count(CREAKS) > 1:
            return "Leave the rod alone: it did not do as a rod should. See a repairer."
        return ""

    def _nearest(self, neck: NeckBelief, done: int, way: int) -> int:
        """The turn (signed eighths, as many as allowed at once) that brings the relief nearest to its aim.

        `done` are those that this pass had already; a plan goes one `way`. 0 where no turn brings it nearer.
        """
        enough = self.case.trade.belief.enough

        def off(eighths: int) -> float:
            then = neck.rod_turned(eighths) if eighths else neck
            relief = self._forecast(then.arrived(), RELIEF, self.case.relief_mm).value
            return abs(relief - self.relief_aim_mm) + (NEARER_MM if eighths else 0.0)

        steps = range(-enough.rod_at_once, enough.rod_at_once + 1)
        allowed = (e for e in steps if not e or (abs(done + e) <= enough.rod_in_all and e * way >= 0))
        return min(allowed, key=off)

    def _rod_words(self, turn: Turn) -> str:
        rod = self.case.spec.rod
        clock = rod.tightens if turn.eighths > 0 else rod.tightens.other
        verb = "Tighten" if turn.eighths > 0 else "Loosen"
        amount = self.case.say.turns(turn.eighths)
        end = self.case.spec.rod_nut_end
        return f"{verb} the rod {amount}: {clock.value}, looking at its nut at the {end}."

    # The saddles

    def _saddles(self, neck: NeckBelief, stand: Stand, wants_mm: Floats) -> list[PlanStep]:
        """The turns of the bridge in order, bass side first; `wants_mm` are heights still to gain."""
        case, known = self.case, thread_known(self.case)
        basis = screw_basis(known, case.spec.bridge.height_thread != UNKNOWN)
        note = "" if known else "The thread is not known yet: measure, and look here again."
        eighth_mm = neck.mixture.moments(neck.row(PITCH))[0] / 8
        steps = []
        for turn in self._turns(eighth_mm, wants_mm, known):
            gains = case.frame.height_gains(turn.string, turn.side)
            neck = neck.saddles_turned(turn.eighths, gains)
            stand = self._raised(neck, stand, turn.eighths * eighth_mm * gains, basis)
            steps.append(PlanStep(self._saddle_words(turn, known), turn, stand, note))
        return steps

    @staticmethod
    def _raised(neck: NeckBelief, before: Stand, rises_mm: Floats, basis: str) -> Stand:
        """After a turn of the bridge: what it does not move is said as before."""
        there = neck.arrived()
        heights = (
            Forecast(at.value + rise, there.mixture.half_width(there.height_row(index)), basis)
            if rise
            else at
            for index, (at, rise) in enumerate(zip(before.heights, rises_mm.tolist(), strict=True))
        )
        return Stand(before.relief, tuple(heights))

    def _turns(self, eighth_mm: float, wants_mm: Floats, known: bool) -> list[Turn]:
        """Every string by its own saddle, or the bar at both ends; one turn at most of an unknown thread."""
        places: list[tuple[int | None, Side | None]]
        if self.case.spec.bridge.type is BridgeType.INDIVIDUAL:
            gains = eighth_mm / self.case.frame.per_action
            counts = [least_eighths(want, gain) for want, gain in zip(wants_mm, gains, strict=True)]
            places = [(one.number, None) for one in self.settings]
        else:
            counts = list(lowest_bar(wants_mm, self._end_gains * eighth_mm))
            places = [(None, side) for side in Side]
        if not known:
            counts = [max(-LEARNING_EIGHTHS, min(LEARNING_EIGHTHS, count)) for count in counts]
        return [
            Turn(Part.SADDLE_HEIGHT, count, string=string, side=side)
            for count, (string, side) in zip(counts, places, strict=True)
            if count
        ]

    @property
    def _end_gains(self) -> Floats:
        """Height (2, strings) for one mm at the bass and at the treble end of the bar."""
        return np.stack([self.case.frame.height_gains(None, side) for side in Side])

    def _saddle_words(self, turn: Turn, known: bool) -> str:
        verb = "Raise" if turn.eighths > 0 else "Lower"
        name = f"the {turn.side.value}-side post" if turn.side else ""
        if turn.string is not None:
            name = f"the saddle of the {string_label(self.case.spec, turn.string)}"
        return f"{verb} {name} {now_words(self.case.say, turn.eighths, known)}."

    def _filed(self, wants_mm: Floats) -> str:
        """What a repairer takes off a saddle without screws, or puts under it, at its two ends."""
        say, ends = self.case.say, []
        for side, count in zip(Side, lowest_bar(wants_mm, self._end_gains * FILE_STEP_MM), strict=True):
            far = abs(count) * FILE_STEP_MM
            if far >= FILED_MM:
                ends.append(f"{say.length(far)} {'more' if count > 0 else 'off'} at the {side.value} end")
        return f"Saddle: {', '.join(ends)}." if ends else ""
