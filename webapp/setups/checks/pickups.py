"""Pickups: both sides of each, as a gap to the string pressed at the last fret; then by ear."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from webapp.physics.arc import drop
from webapp.physics.mixture import Floats
from webapp.setups.belief.places import PITCH
from webapp.setups.belief.standing import uses_of
from webapp.setups.case import Case
from webapp.setups.checks.base import ReadCheck, Way, not_here
from webapp.setups.checks.deciding import (
    Answer,
    View,
    best_eighths,
    no_room,
    now_words,
    rows_turned,
    screw_basis,
    thread_chance,
)
from webapp.setups.geometry import offset_mm, radius_mm
from webapp.setups.journal import NO_ROOM, Entry, Part, Turn
from webapp.setups.lesson import BandRow, pickup_row
from webapp.setups.say import capital
from webapp.setups.slots import Slot, pickup_label, string_label, string_numbers
from webapp.setups.states import Act, Advice, CheckState, Forecast, Step, Word, word_of
from webapp.setups.turn_rotation import rotation_of
from webapp.trade.content import Trade
from webapp.trade.ranges import Band
from webapp.trade.spec import UNKNOWN, InstrumentSpec, Kind
from webapp.trade.words import Check, PickupAdjust, PickupType, Side, label

EAR = "pickups.ear"

_MEANS = {
    Word.TOO_LOW: "Too close: the magnet pulls the string, and notes may sound odd.",
    Word.TOUCH_LOW: "A little close: full, but listen for odd beating.",
    Word.GOOD: "Good distance.",
    Word.TOUCH_HIGH: "A little far: softer and clearer.",
    Word.TOO_HIGH: "Too far: the sound may be thin and weak.",
}


class Pickups(ReadCheck):
    """Measure and turn each side, then listen."""

    check = Check.PICKUPS
    questions = {EAR: "Pickups by ear"}
    ask_again = "Listen again"
    widest = Band(low=0, high=30)
    plausible = "pickup"

    def heading(self, case: Case, slot: Slot) -> str:
        assert slot.pickup is not None and slot.side is not None
        return f"{pickup_label(case.spec, slot.pickup)}, {slot.side.value} side"

    def lines(self, case: Case, slot: Slot, method: str, way: Way) -> tuple[str, str]:
        assert slot.pickup is not None
        numbers = string_numbers(case.spec)
        name = string_label(case.spec, numbers[0] if slot.side is Side.BASS else numbers[-1])
        return (
            f"Press the {name} down at the last fret ({case.spec.fret_count}).",
            f"Measure from the {pickup_label(case.spec, slot.pickup).lower()}’s top (or pole) to the string.",
        )

    def lines_together(self, case: Case, slots: Sequence[Slot], method: str, way: Way) -> tuple[str, str]:
        numbers = string_numbers(case.spec)
        bass, treble = (string_label(case.spec, n) for n in (numbers[0], numbers[-1]))
        return (
            f"Press at the last fret ({case.spec.fret_count}): the {bass} for the bass side, "
            f"the {treble} for the treble side.",
            "Measure from the pickup’s top (or pole) to the string.",
        )

    def place(self, spec: InstrumentSpec) -> str:
        return f"pickup.{spec.pickups[-1].position.value}" if spec.pickups else ""

    def is_here(self, spec: InstrumentSpec) -> bool:
        return bool(spec.pickups)

    def only_way(self, case: Case) -> str:
        return f"pressed at fret {case.spec.fret_count}"

    def band_rows(self, trade: Trade, kind: Kind) -> Iterable[BandRow]:
        for type_ in dict.fromkeys(pickup.type for pickup in kind.spec.pickups):
            for side in Side:
                bands = trade.ranges.pickup_bands(kind.family, type_, side, kind.spec.touch)
                if bands is not None:
                    words = f"{capital(label(type_))}, {side.value} side"
                    yield self.band_row(pickup_row(type_, side), words, bands)

    def answered(self, case: Case, entry: Entry) -> str:
        heard = set(entry.detail.get("heard", ()))
        return "; ".join(s.label for s in case.trade.ear if s.key in heard) or "Sounds good"

    def assess(self, case: Case) -> CheckState:
        if not self.is_here(case.spec):
            return not_here(Check.PICKUPS)
        states = [self.state(case, slot) for slot in self.slots(case)]
        step = self.next_step(states, thread_known(case))
        if step is None and newest_listening(case) is None:
            step = Step(Act.LISTEN, Check.PICKUPS, EAR, "Plug in and listen")
        return self.summed(states, step, ear_notes(case))

    def advised(self, case: Case, view: View) -> Answer:
        slot = view.slot
        means = _MEANS[word_of(view.mean, case.bands(slot))]
        assert slot.pickup is not None
        pickup = case.spec.pickups[slot.pickup - 1]
        if pickup.adjust is PickupAdjust.FIXED:
            return Answer(Advice(means, repairer=_fixed(case, view)))
        if self.at_ease(case, view):
            return Answer(Advice(means))
        known = thread_known(case)
        eighths, gain = _best(case, view)
        if gain <= case.trade.belief.enough.turn or no_room(case, slot, eighths):
            return Answer(Advice(means))
        turn = Turn(Part.PICKUP_HEIGHT, eighths=eighths, pickup=slot.pickup, side=slot.side)
        after = case.belief.pickups.turned(eighths, _gains(case, slot))
        row = case.standing(slot).row
        basis = screw_basis(known, pickup.thread != UNKNOWN)
        forecast = Forecast(after.mixture.moments(row)[0], after.mixture.half_width(row), basis)
        do = _lines(case, slot, turn, known)
        return Answer(Advice(means, do, turn, forecast, "", outcomes=(NO_ROOM,)), gain)


def thread_known(case: Case) -> bool:
    """Whether the pickups' screws are known well enough to go the whole way at once."""
    places = case.belief.pickups
    return (
        thread_chance(places.mixture, places.threads, 0, places.split)
        >= case.trade.belief.enough.thread_known
    )


def _gains(case: Case, slot: Slot) -> Floats:
    gains = np.zeros(2 * len(case.spec.pickups))
    gains[case.frame.pickup_index(slot)] = -1.0
    return gains


def _best(case: Case, view: View) -> tuple[int, float]:
    mixture, bands, enough = case.belief.pickups.mixture, case.bands(view.slot), case.trade.belief.enough
    row = case.standing(view.slot).row

    def uses(eighths: Floats) -> Floats:
        return uses_of(mixture, rows_turned(row, PITCH, -1.0, eighths), bands, enough)

    pitch = mixture.moments(mixture.unit(PITCH))[0]
    straight = (view.mean - bands.target.middle) / pitch * 8
    return best_eighths(uses, straight)


def _fixed(case: Case, view: View) -> str:
    slot = view.slot
    if view.reading is None or not view.is_off:
        return ""
    assert slot.pickup is not None and slot.side is not None
    target = case.bands(slot).target
    name = f"{pickup_label(case.spec, slot.pickup)}, {slot.side.value} side"
    return (
        f"{name}: {case.say.about(view.mean, view.give)} from the string; "
        f"{case.say.band(target.low, target.high)} would suit. It has no height screws."
    )


def _lines(case: Case, slot: Slot, turn: Turn, known: bool) -> tuple[str, ...]:
    assert slot.side is not None and slot.pickup is not None
    clock = rotation_of(case.spec, turn).value
    verb = "Raise" if turn.eighths > 0 else "Lower"
    amount = now_words(case.say, turn.eighths, known)
    lines = [f"{verb} the {slot.side.value} side {amount}: {clock}, looking at the screw’s head."]
    if case.spec.pickups[slot.pickup - 1].type is PickupType.SPLIT:
        lines.append(
            "On a split pickup let the inner end of each half stand "
            f"{case.say.length(inner_end_rise_mm(case))} higher than its outer end, to follow the strings."
        )
    return tuple(lines)


def inner_end_rise_mm(case: Case) -> float:
    """How much higher the middle strings stand than the outer ones at the last fret, mm: the arc."""
    spec = case.spec
    count = len(spec.strings)
    radius = radius_mm(spec, spec.fret_count)
    middle = (count + 1) // 2
    outer, inner = (float(drop(radius, offset_mm(spec, n, spec.fret_count))) for n in (count, middle))
    return outer - inner


def newest_listening(case: Case) -> Entry | None:
    """The last answer about the sound, unless the pickups or what stands over them moved since."""
    heard = case.journal.observations(EAR)
    if not heard:
        return None
    parts = (Part.PICKUP_HEIGHT, Part.SADDLE_HEIGHT, Part.ROD, Part.STRINGS)
    newer = any(t.id > heard[-1].id and t.turn.part in parts for t in case.journal.turns)
    return None if newer else heard[-1]


def ear_notes(case: Case) -> tuple[str, ...]:
    """What to do about what was heard."""
    answer = newest_listening(case)
    heard = set(answer.detail.get("heard", ())) if answer else set()
    return tuple(f"{s.label}: {s.says}" for s in case.trade.ear if s.key in heard)
