"""The pictures of a place that was judged: on its strip, where it is on the instrument, and the turn."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot, isfinite

from webapp.drawings.bands.rows import StripRow, side_by_side
from webapp.drawings.bands.strip import Range, Read, Value, ends_of, strip
from webapp.drawings.portrait.whereabouts import whereabouts
from webapp.drawings.reading.nut_board import nut_from_the_board
from webapp.drawings.shapes import Drawing
from webapp.drawings.turning.turn import saddle_work_drawing, turn_drawing
from webapp.drawings.units import CENTS, Units, units_for
from webapp.setups.case import Case
from webapp.setups.checks import CHECKS
from webapp.setups.checks.heights_turned import filed_ends
from webapp.setups.journal import Entry, Part, Turn
from webapp.setups.say import capital
from webapp.setups.slots import RELIEF, Slot, pickup_label, string_label
from webapp.setups.states import CheckState, SlotState
from webapp.setups.turn_travel import travel_mm
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import BridgeType, Check, label


def units_of(case: Case, slot: Slot) -> Units:
    """How this place's numbers are written."""
    return CENTS if slot.is_cents else units_for(case.say.unit.value)


def is_range(reading: Entry | None) -> bool:
    """Whether a reading tells two limits, as a card or an ear does."""
    return reading is not None and "answer" in reading.detail


# So many standard deviations hold nine in ten.
NINE_IN_TEN = 1.645


def as_read(case: Case, slot: Slot, reading: Entry) -> Read | None:
    """A reading said the way its bands are; a range as a range."""
    seen = case.belief.standard(slot, reading)
    if is_range(reading):
        return Range(seen.low, seen.high) if isfinite(seen.low) or isfinite(seen.high) else None
    if not isfinite(seen.low):  # a blade that does not go in at all
        return Range(seen.low, seen.high)
    return Value((seen.low + seen.high) / 2, NINE_IN_TEN * hypot(seen.sigma, seen.step / 12**0.5))


def now_of(case: Case, state: SlotState) -> Read | None:
    """What was read of a place, until something moved it; then what is believed."""
    if state.reading is None:
        return None
    read = as_read(case, state.slot, state.reading) if state.measured else None
    return read or Value(state.value, state.give)


def strip_of(case: Case, state: SlotState) -> Drawing:
    """The place against its bands, now and as it should read after the advised turn."""
    forecast = state.advice.forecast if state.advice else None
    return _strip(
        case, state, now_of(case, state), Value(forecast.value, forecast.give) if forecast else None
    )


def strip_typed(case: Case, state: SlotState, typed: Entry | None) -> Drawing:
    """The place against its bands with what is typed, before it is recorded."""
    return _strip(case, state, as_read(case, state.slot, typed) if typed else None, None)


def _strip(case: Case, state: SlotState, now: Read | None, after: Value | None) -> Drawing:
    usual, target = state.bands.usual, state.bands.target
    return strip(
        state.label,
        units_of(case, state.slot),
        (usual.low, usual.high),
        (target.low, target.high),
        now,
        after,
        ends=ends_of(state.slot.check),
    )


def where_of(spec: InstrumentSpec, slot: Slot, turn: Turn | None = None) -> Drawing:
    """The whole instrument, with the place ringed where the hand goes."""
    return whereabouts(spec, *_place(spec, slot, turn))


def _place(spec: InstrumentSpec, slot: Slot, turn: Turn | None) -> tuple[str, str]:
    """A place of the portrait, and what to call it there."""
    if turn is not None and turn.part is Part.ROD:
        return "rod", "the rod’s nut"
    if turn is not None and turn.part is Part.SADDLE_HEIGHT and turn.string is None:
        return (
            ("saddle", "the bridge")
            if turn.side is None
            else (f"post.{turn.side.value}", f"the {turn.side.value} post")
        )
    if slot.pickup is not None:
        position, side = spec.pickups[slot.pickup - 1].position.value, slot.side
        name = pickup_label(spec, slot.pickup)
        return (
            (f"pickup.{position}.{side.value}", f"{name}, {side.value} side")
            if side
            else (f"pickup.{position}", name)
        )
    place = place_of(spec, slot.check)
    if slot.string is None:
        return (place, "the neck") if slot.over_neck else ("saddle", "the bridge")
    at, where = ("nut", "nut") if place == "nut" else ("saddle", "bridge")
    return f"{at}.{slot.string}", f"{string_label(spec, slot.string)}, at the {where}"


def place_of(spec: InstrumentSpec, check: Check) -> str:
    """Where on the portrait a check has its place; empty where it has none."""
    return CHECKS[check].place(spec)


def turn_of(case: Case, state: SlotState) -> Drawing | None:
    """Which way and how far; None where there is nothing to turn."""
    turn = state.advice.turn if state.advice else None
    if turn is None or not turn.eighths:
        return None
    forecast = state.advice.forecast if state.advice else None
    after = forecast.value if forecast else None
    return turn_drawing(
        case.spec,
        turn,
        now=state.value,
        after=after,
        travel_mm=None if after is None else travel_mm(case, turn, after - state.value),
        units=units_for(case.say.unit.value),
    )


def pictures_of(case: Case, state: SlotState, alone: bool) -> Iterator[Drawing]:
    """A judged place: its strip; where it is, where it stands `alone` on its page; and what is to be done."""
    yield strip_of(case, state)
    turn, advice = turn_of(case, state), state.advice
    if alone and (turn is not None or not state.settled):
        yield where_of(case.spec, state.slot, advice.turn if advice else None)
    if turn is not None:
        yield turn
    elif advice is not None and advice.repairer:
        yield from _work_of(case, state)


def _work_of(case: Case, state: SlotState) -> Iterator[Drawing]:
    """What a repairer should do there, as far as it can be drawn."""
    slot, units = state.slot, units_for(case.say.unit.value)
    if slot.string is None or slot.is_cents:
        return
    target = state.bands.target
    if not slot.over_neck:
        yield nut_from_the_board(case.spec, slot.string, state.value, (target.low, target.high), units=units)
    elif case.spec.bridge.type is BridgeType.ONE_PIECE:
        yield saddle_work_drawing(case.spec, *filed_ends(case), units=units)


def short_place(label: str) -> str:
    """A place where its check is said beside it: 'E', 'E, fret 12', 'Bridge pickup, bass'."""
    return label.replace(" string", "").replace(" side", "")


def check_picture(case: Case, state: CheckState) -> Drawing | None:
    """All places of a check on one scale, once anything is known of them; before that, where they are."""
    if not state.here:
        return None
    if not state.slots:
        return question_picture(case, state.check.value)
    read = [now_of(case, slot) for slot in state.slots]
    if not any(read):
        return where_of(case.spec, state.slots[0].slot)
    if len(state.slots) == 1:
        return strip_of(case, state.slots[0])
    rows = [
        StripRow(
            short_place(slot.label),
            (slot.bands.usual.low, slot.bands.usual.high),
            (slot.bands.target.low, slot.bands.target.high),
            now,
            slot.verdict.word,
            slot.said,
        )
        for slot, now in zip(state.slots, read, strict=True)
    ]
    return side_by_side(capital(label(state.check)), units_of(case, state.slots[0].slot), rows)


def question_picture(case: Case, name: str) -> Drawing | None:
    """What a question is about, on the instrument; None where the page itself shows it."""
    spec = case.spec
    if name == "ear" and spec.pickups:
        return whereabouts(spec, f"pickup.{spec.pickups[-1].position.value}", "the pickups")
    if name == "rest":
        return where_of(spec, RELIEF)
    return whereabouts(spec, "height", "play every note here") if name == "playtest" else None
