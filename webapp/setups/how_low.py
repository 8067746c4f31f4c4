"""How low the strings can go for a touch, and what that takes from here: the rod first, then the saddles."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import hypot

from webapp.physics.rod import RodResponse, eighths_for
from webapp.physics.touch import LowestClean
from webapp.setups.advice.model import Forecast
from webapp.setups.advice.rod import turned_lately
from webapp.setups.advice.screws import height_basis, height_pitch
from webapp.setups.bridge import Move, bridge_moves
from webapp.setups.case import Case
from webapp.setups.clearance_map import OWN, NamedSwing, named_swing
from webapp.setups.convert import STANDARD_HEIGHT, saddle_per_action
from webapp.setups.journal import Part, Turn
from webapp.setups.learning import action_pull, pull_basis, rod_basis, rod_response, rod_without_effect
from webapp.setups.setting import StringSetting, settings_of
from webapp.setups.slots import Slot, string_label
from webapp.setups.touch import lowest_for
from webapp.trade.words import BridgeType, Check, RodNut, RodType, Side, Touch

# More eighths than any neck asks for: what is wanted comes before what is allowed.
UNLIMITED_EIGHTHS = 1000


@dataclass(frozen=True)
class Stand:
    """What every reading should show at one moment: relief the standard way, heights at 12 held at 1."""

    relief: Forecast
    heights: tuple[Forecast, ...]


@dataclass(frozen=True)
class PlanStep:
    """One thing to do, and what to expect after it. `turn` is None where the thread is not known yet."""

    do: str
    after: Stand
    turn: Turn | None = None
    note: str = ""


@dataclass(frozen=True)
class LowString:
    """One string: the swing to allow, its height now, and the lowest clean one at the relief it will have."""

    setting: StringSetting
    swing: NamedSwing
    lowest: LowestClean

    @property
    def number(self) -> int:
        return self.setting.number

    @property
    def change_mm(self) -> float:
        """From the height now to the lowest clean one; above 0 it must rise."""
        return self.lowest.action_mm - self.setting.action_mm


@dataclass(frozen=True)
class LowPlan:
    """The whole answer, strings bass side first."""

    touch: str
    ideal_relief_mm: float
    now: Stand
    strings: tuple[LowString, ...]
    steps: tuple[PlanStep, ...]
    repairer: tuple[str, ...]
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
    def turned(self) -> tuple[int, ...]:
        """Eighths of the rod turned lately, oldest first."""
        return turned_lately(self.case)

    @cached_property
    def response(self) -> RodResponse:
        return rod_response(self.case)

    def plan(self) -> LowPlan:
        now = _stand_now(self.case, self.settings)
        rod_steps, rod_words = self._rod(now)
        stand = rod_steps[-1].after if rod_steps else now
        strings = tuple(self._string(setting, stand.relief.value) for setting in self.settings)
        steps, repairer = self._saddles(strings, stand)
        ideal = self.asked.own_relief_mm
        return LowPlan(self.touch, ideal, now, strings, (*rod_steps, *steps), repairer, rod_words)

    def _string(self, setting: StringSetting, relief_mm: float) -> LowString:
        swing = named_swing(self.case, setting.number, self.touch)
        return LowString(setting, swing, lowest_for(self.case, setting.number, swing.swing.mm, relief_mm))

    def _rod(self, now: Stand) -> tuple[list[PlanStep], str]:
        """The turns of the rod, a quarter at most at a time, and a sentence where it cannot be turned."""
        case, say = self.case, self.case.say
        ideal = self.asked.own_relief_mm
        if case.spec.rod.type is RodType.NONE:
            return [], f"This neck has no rod: the relief stays at {say.length(now.relief.value)}."
        if rod_without_effect(case):
            return [], "The last two turns of the rod did not move the neck: leave it, and see a repairer."
        total = eighths_for(ideal - now.relief.value, self.response, UNLIMITED_EIGHTHS)
        allowed = self._allowed(total)
        steps: list[PlanStep] = []
        stand = now
        for eighths in rod_parts(allowed, self._first_limit(allowed), case.trade.rod.max_eighths):
            stand = self._after_rod(now, stand, eighths, sum(s.turn.eighths for s in steps if s.turn))
            turn = Turn(Part.ROD, eighths=eighths)
            steps.append(PlanStep(self._rod_words(turn), stand, turn))
        if not total:
            return [], "The relief is right for it already: leave the rod alone."
        if allowed != total:
            most = say.turns(case.trade.practice.turn.rod_in_all_eighths)
            return steps, f"That is {most} of the rod within one setup: no further, ask a repairer."
        return steps, ""

    def _allowed(self, total: int) -> int:
        """No more one way within one setup than a neck is asked for, what was turned already included."""
        done, most = sum(self.turned), self.case.trade.practice.turn.rod_in_all_eighths
        if total > 0:
            return max(0, min(total, most - max(done, 0)))
        return min(0, max(total, -most - min(done, 0)))

    def _first_limit(self, total: int) -> int:
        """The first turn only feels the rod out, and so does one that goes back."""
        careful = not self.turned or (self.turned[-1] > 0) != (total > 0)
        return 1 if careful else self.case.trade.rod.max_eighths

    def _rod_words(self, turn: Turn) -> str:
        rod = self.case.spec.rod
        clock = rod.tightens if turn.eighths > 0 else rod.tightens.other
        end = "headstock" if rod.nut_at is RodNut.HEADSTOCK else "body end"
        verb = "Tighten" if turn.eighths > 0 else "Loosen"
        amount = self.case.say.turns(turn.eighths)
        return f"{verb} the rod {amount}: {clock.value}, looking at its nut at the {end}."

    def _after_rod(self, now: Stand, before: Stand, eighths: int, done: int) -> Stand:
        """Relief by the rod's response, heights by the rod's pull; spreads grow from what was read."""
        pull = action_pull(self.case)
        moved = -eighths * self.response.mean_mm_per_eighth
        whole = abs(eighths + done)
        rod_spread = whole * self.response.spread_mm
        swept = whole * self.response.mean_mm_per_eighth
        relief = Forecast(
            before.relief.value + moved,
            hypot(now.relief.spread, rod_spread),
            rod_basis(self.case, self.response),
        )
        heights = tuple(
            Forecast(
                height.value + pull.mean * moved,
                hypot(read.spread, pull.mean * rod_spread, pull.spread * swept),
                pull_basis(pull),
            )
            for read, height in zip(now.heights, before.heights, strict=True)
        )
        return Stand(relief, heights)

    def _saddles(self, strings: Sequence[LowString], stand: Stand) -> tuple[list[PlanStep], tuple[str, ...]]:
        """The turns of the bridge in order; where nothing can be turned, the words for a repairer."""
        case = self.case
        rises = tuple(
            (low.lowest.action_mm - height.value) * per
            for low, height, per in zip(strings, stand.heights, self._per_action, strict=True)
        )
        if case.spec.bridge.type is BridgeType.ONE_PIECE:
            filed = (self._filed(low, rise) for low, rise in zip(strings, rises, strict=True))
            return [], tuple(words for words in filed if words)
        steps: list[PlanStep] = []
        for move in bridge_moves(case.spec, rises, height_pitch(case)):
            stand = self._after_move(stand, move)
            steps.append(self._move_step(move, stand))
        return steps, ()

    @cached_property
    def _per_action(self) -> tuple[float, ...]:
        return tuple(saddle_per_action(self.case.spec, s.number, STANDARD_HEIGHT) for s in self.settings)

    def _filed(self, low: LowString, rise_mm: float) -> str:
        if abs(rise_mm) < 0.05:
            return ""
        name, amount = string_label(self.case.spec, low.number), self.case.say.length(abs(rise_mm))
        return f"{name}: the saddle {amount} {'higher' if rise_mm > 0 else 'lower'} under this string."

    def _after_move(self, before: Stand, move: Move) -> Stand:
        felt = self.case.trade.practice.turn.felt_share
        heights = tuple(
            height
            if not rise
            else Forecast(
                height.value + rise / per,
                hypot(height.spread, felt * rise / per),
                height_basis(self.case),
            )
            for height, rise, per in zip(before.heights, move.rises_mm, self._per_action, strict=True)
        )
        return Stand(before.relief, heights)

    def _move_step(self, move: Move, after: Stand) -> PlanStep:
        say = self.case.say
        name = (
            f"the saddle of the {string_label(self.case.spec, move.string)}"
            if move.string is not None
            else f"the {(move.side or Side.BASS).value}-side post"
        )
        verb = "Raise" if move.travel_mm > 0 else "Lower"
        if move.eighths is None:
            do = f"{verb} {name} by {say.length(abs(move.travel_mm))}: a quarter turn, measure, and so on."
            return PlanStep(do, after, note="The thread is not known yet; two readings will tell it.")
        turn = Turn(Part.SADDLE_HEIGHT, move.eighths, string=move.string, side=move.side)
        most = self.case.trade.practice.turn.height_eighths
        at_a_time = f"{say.turns(most).capitalize()} at a time; measure between."
        note = at_a_time if abs(move.eighths) > most else ""
        return PlanStep(f"{verb} {name} {say.turns(move.eighths)}.", after, turn, note)


def rod_parts(total: int, first: int, most: int) -> tuple[int, ...]:
    """Signed eighths in steps: at most `first` at first, then at most `most`; together they are `total`."""
    sign, left = (1 if total > 0 else -1), abs(total)
    parts: list[int] = []
    while left:
        part = min(left, most if parts else first)
        parts.append(sign * part)
        left -= part
    return tuple(parts)


def _stand_now(case: Case, settings: Sequence[StringSetting]) -> Stand:
    relief = case.journal.newest_reading("relief")
    heights = []
    for setting in settings:
        reading = case.journal.newest_reading(Slot(Check.HEIGHT, string=setting.number).key)
        heights.append(Forecast(setting.action_mm, (reading.error or 0.0) if reading else 0.0, ""))
    spread = (relief.error or 0.0) if relief else 0.0
    return Stand(Forecast(case.relief_mm, spread, ""), tuple(heights))
