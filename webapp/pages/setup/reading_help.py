"""The help around readings: a drawing to scale, where we are, what to expect, and what was just read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from webapp.drawings.reading.answers import answer_pictures
from webapp.drawings.reading.measure import Reading, reading_drawing
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import units_for
from webapp.pages.setup.reading_form import Ask, card_before
from webapp.pages.visit.addresses import is_several
from webapp.pages.visit.case_loading import LoadedSetup
from webapp.physics.numbers import read_number
from webapp.setups.case import Case
from webapp.setups.checks.base import HELD_BY
from webapp.setups.geometry import (
    STANDARD_HEIGHT,
    HeightWay,
    ReliefWay,
    height_between,
    neck_with_relief,
    relief_factor,
)
from webapp.setups.journal import EntryKind
from webapp.setups.say import capital
from webapp.setups.slots import RELIEF, Slot, pickup_label, string_label
from webapp.setups.states import SlotState
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


def across(slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """From the bass side to the treble side, as a hand goes over the instrument."""
    sides = ("bass", "treble")
    return tuple(
        sorted(slots, key=lambda s: (-(s.string or 0), s.high, s.pickup or 0, s.side and sides.index(s.side)))
    )


def lines_for(ask: Ask) -> tuple[str, str]:
    """What to do, in two lines."""
    if len(ask.slots) == 1:
        first, second = ask.check.lines(ask.case, ask.slots[0], ask.method.key, ask.way)
    else:
        first, second = ask.check.lines_together(ask.case, ask.slots, ask.method.key, ask.way)
    by = {None: HELD_BY, True: "a capo", False: "a helper’s finger"}[ask.capo]
    return first.replace(HELD_BY, by), second


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


def drawing_for(ask: Ask, value_mm: float | None = None, value_cents: float | None = None) -> Drawing | None:
    """Where to hold, press and put the gauge, and the gap that was read or typed, if it was."""
    slot, case = ask.slots[0], ask.case
    if slot.level:
        return None
    return reading_drawing(
        Reading(
            case.spec,
            slot,
            ask.method.key,
            ask.way,
            target=_drawn_target(ask),
            curvature_per_mm=_drawn_bow(case),
            value_mm=value_mm,
            value_cents=value_cents,
            card_mm=_card_mm(case),
            capo=ask.capo is not False,
            marks_mm=read_number(ask.step) or ask.tool.division or 0.5,
            together=len(ask.slots) > 1 and slot.pickup is None,
            units=units_for(case.say.unit.value),
        )
    )


def answers_drawn(ask: Ask) -> dict[str, Drawing]:
    """A small picture for each answer of a method that is judged by feel."""
    number = ask.slots[0].string or len(ask.case.spec.strings)
    string, card = ask.case.spec.strings[ask.case.spec.index_of(number)], _card_mm(ask.case)
    return answer_pictures(ask.method, string, card_mm=card, units=units_for(ask.case.say.unit.value))


def _card_mm(case: Case) -> float:
    return card_before(case) or case.trade.cards[0].thickness_mm


def _drawn_bow(case: Case) -> float:
    """The neck's bow, 1/mm, by the relief as it is drawn."""
    frets = case.relief_standard
    relief = _drawn(case.relief_mm)
    return neck_with_relief(case.spec, relief, frets.hold, frets.press, frets.gap).curvature_per_mm


def _drawn_target(ask: Ask) -> tuple[float, float]:
    """The target, mm, as it reads in the way that is asked for."""
    slot, case, way = ask.slots[0], ask.case, ask.way
    band = case.bands(slot).target
    if slot == RELIEF:
        per = relief_factor(case.spec, case.relief_standard, ReliefWay(way["hold"], way["press"], way["gap"]))
        return band.low * per, band.high * per
    number = slot.string
    if slot.over_neck and number is not None:
        wanted, bow, nut = HeightWay(way["hold"], way["gap"]), _drawn_bow(case), case.nut_gap_mm(number)
        low, high = (
            height_between(case.spec, number, mm, STANDARD_HEIGHT, wanted, bow, nut)
            for mm in (band.low, band.high)
        )
        return low, high
    return band.low, band.high


# What was just read, said on top of the next page


@dataclass(frozen=True)
class Flash:
    """What was read, and for each verdict a state that it is said of: (which places or what value, state)."""

    label: str
    parts: tuple[tuple[str, SlotState], ...]


def flash(setup: LoadedSetup, after: str) -> Flash | None:
    """The line for the slot, or the check's slots, that were just recorded; nothing for anything else."""
    if is_several(after):
        return _of_check(setup, Check(after))
    try:
        state = setup.assessment.slot(after)
    except KeyError:
        return None
    value = value_words(setup, state)
    return Flash(state.label, ((value, state),)) if value else None


def _of_check(setup: LoadedSetup, check: Check) -> Flash | None:
    """The places of a check, those of one verdict together."""
    said: dict[str, list[SlotState]] = {}
    for state in setup.assessment.checks[check].slots:
        if state.measured:
            said.setdefault(state.said, []).append(state)
    parts = tuple((names_of(some) if len(said) > 1 else "", some[0]) for some in said.values())
    return Flash(check_name(check), parts) if parts else None


def names_of(states: Sequence[SlotState]) -> str:
    """'E, A and D string'; names that share no ending one after the other."""
    names = list(dict.fromkeys(state.label for state in states))
    short = [name.removesuffix(" string") for name in names]
    if len(names) < 2 or any(a == b for a, b in zip(names, short, strict=True)):
        return "; ".join(names)
    return f"{', '.join(short[:-1])} and {short[-1]} string"


def value_words(setup: LoadedSetup, state: SlotState) -> str:
    """The newest reading as it was taken, a range where it is one; empty where there is none."""
    if state.reading is None or state.reading.value is None:
        return ""
    return setup.case.say.reading(state.reading)
