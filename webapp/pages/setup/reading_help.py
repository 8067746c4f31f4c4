"""The help around readings: a drawing to scale, where we are, what to expect, rows for a page of several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from webapp.drawings.measure import (
    height_drawing,
    intonation_drawing,
    nut_drawing,
    pickup_drawing,
    pickup_places,
    relief_drawing,
)
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.setup.reading_ask import Ask
from webapp.setups.case import Case
from webapp.setups.convert import STANDARD_HEIGHT, saddle_from
from webapp.setups.geometry import neck_under, neck_with_relief
from webapp.setups.journal import EntryKind
from webapp.setups.say import capital
from webapp.setups.slots import RELIEF, Slot, height_slot, pickup_label, slots_of, string_label
from webapp.setups.states import SlotState
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import Check, label

# Nobody sees less in a picture of where the gauge goes.
DRAWN_MM = 0.05


@dataclass(frozen=True)
class ReadingRow:
    """One field of a page: its place, its name, what to call it, and what it should show, if known.

    `before` is the last reading of a place that is read once more though nothing was turned. `group` heads
    the rows of one string or one pickup; empty where rows need no heading.
    """

    slot: Slot
    name: str
    label: str
    group: str
    expected: str
    rests_on: str
    before: str


def check_name(check: Check) -> str:
    """A check's name with a capital."""
    return capital(label(check))


def progress(spec: InstrumentSpec, slots: Sequence[Slot]) -> str:
    """Where we are: 'String height, 2 of 4'; for several in one go, 'Check 3 of 7'."""
    check = slots[0].check
    if len(slots) > 1:
        return f"Check {list(Check).index(check) + 1} of {len(Check)}"
    every = slots_of(spec, check)
    name = check_name(check)
    return f"{name}, {every.index(slots[0]) + 1} of {len(every)}" if len(every) > 1 else name


def across(slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """From the bass side to the treble side, as a hand goes over the instrument."""
    sides = ("bass", "treble")
    return tuple(
        sorted(slots, key=lambda s: (-(s.string or 0), s.high, s.pickup or 0, s.side and sides.index(s.side)))
    )


def lines_for(ask: Ask) -> tuple[str, str]:
    """What to do, in two lines."""
    if len(ask.slots) == 1:
        return ask.check.lines(ask.case, ask.slots[0], ask.method.key, ask.way)
    return ask.check.lines_together(ask.case, ask.slots, ask.method.key, ask.way)


def rows_for(ask: Ask, states: Sequence[SlotState]) -> tuple[ReadingRow, ...]:
    """One row for each place, in the order of its states."""
    return tuple(
        ReadingRow(
            s.slot,
            ask.name(s.slot),
            _label(ask, s),
            _group(ask, s.slot),
            *expected_words(ask.case, s),
            before=ask.case.say.reading(s.reading) if s.measured and s.reading else "",
        )  # fmt: skip
        for s in states
    )


def grouped(rows: Sequence[ReadingRow]) -> tuple[tuple[str, tuple[ReadingRow, ...]], ...]:
    """The rows under their headings."""
    return tuple((group, tuple(some)) for group, some in groupby(rows, key=lambda row: row.group))


def _group(ask: Ask, slot: Slot) -> str:
    if slot.pickup is not None:
        return pickup_label(ask.case.spec, slot.pickup)
    return string_label(ask.case.spec, slot.string) if slot.string and ask.check.is_cents else ""


def _label(ask: Ask, state: SlotState) -> str:
    slot = state.slot
    if slot.side is not None:
        return f"{capital(slot.side.value)} side"
    if ask.check.is_cents:
        return "High fret" if slot.high else "Fret 12"
    return state.label


def expected_words(case: Case, state: SlotState) -> tuple[str, str]:
    """What a reading should show where something was turned since the last one, and what that rests on."""
    moved = state.moved_by
    if moved is None:
        return "", ""
    cents = state.slot.is_cents
    about = (case.say.about_cents if cents else case.say.about)(state.value, state.give)
    if moved.kind is not EntryKind.ADJUSTMENT:
        return about, "what was read beside it since"
    basis = moved.detail.get("basis") if moved.turn.own(state.slot) else None
    return about, str(basis or "what was turned since it was last read")


def _drawn(mm: float) -> float:
    """A size as these drawings show it: what is believed shifts a little with every entry and hour."""
    return round(mm / DRAWN_MM) * DRAWN_MM


def drawing_for(ask: Ask) -> Drawing | None:
    """Where to hold, press and put the gauge, from this instrument's own geometry."""
    slot, case, way = ask.slots[0], ask.case, ask.way
    if slot.level:
        return None
    units = units_for(case.say.unit.value)
    band = case.bands(slot).target
    number = slot.string or len(case.spec.strings)
    frets = case.relief_standard
    bow = neck_with_relief(case.spec, _drawn(case.relief_mm), frets.hold, frets.press, frets.gap)
    neck = neck_under(case.spec, number, bow.curvature_per_mm)
    if slot == RELIEF:
        return relief_drawing(neck, way["hold"], way["press"], way["gap"], units=units)
    height = case.bands(height_slot(number)).target.middle
    saddle_mm = _drawn(saddle_from(neck, height, STANDARD_HEIGHT, case.nut_gap_mm(number)))
    if slot.over_neck:
        return height_drawing(neck, way["hold"], way["gap"], saddle_mm, units=units)
    if slot.is_cents:
        return intonation_drawing(neck, tuple(dict.fromkeys((12, way["fret"]))), units=units)
    if slot.pickup is None:
        return nut_drawing(neck, saddle_mm=saddle_mm, target=(band.low, band.high), units=units)
    position = case.spec.pickups[slot.pickup - 1].position.value
    places = pickup_places(neck.scale_mm, [position])
    return pickup_drawing(neck, places, saddle_mm=saddle_mm, gap_mm=band.middle, units=units)
