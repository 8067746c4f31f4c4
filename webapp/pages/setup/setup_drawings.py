"""From a setup's readings to drawings: the strings over a fret, and the neck from the side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from webapp.drawings.board import BuzzMark, buzz_drawing
from webapp.drawings.section import SectionString, cross_section
from webapp.drawings.shapes import Drawing
from webapp.drawings.side import side_view
from webapp.drawings.units import Units
from webapp.setups.buzz_marks import StringBuzz
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS
from webapp.setups.convert import STANDARD_HEIGHT, HeightWay, height_way, read_at, saddle_from
from webapp.setups.geometry import neck_under, offset_mm, radius_mm
from webapp.setups.slots import RELIEF, Slot, height_slot, nut_slot, string_label, string_numbers
from webapp.setups.states import SlotState
from webapp.setups.verdicts import Word

UNMEASURED_NOTE = "A dashed string is not measured yet."
# Where the bands are stated: the nut's gap over fret 1, heights over fret 12.
BANDED_FRETS = (1, STANDARD_HEIGHT.gap)


@dataclass(frozen=True)
class Drawn:
    """Both drawings, and in words what in them was not measured where it is drawn."""

    section: Drawing
    side: Drawing
    missing: tuple[str, ...]
    computed: bool
    measured_at: datetime | None


def drawn(case: Case, fret: int, units: Units) -> Drawn:
    """Draw a setup at one fret, 1 or above; what nobody knows yet stands at the middle of its target."""
    heights = _states(case, height_slot)
    across, what = (_states(case, nut_slot), "gap at the nut") if fret == 1 else (heights, "string height")
    strings = [_string(case, state, fret) for state in across]
    computed = any(s.expected_mm is not None and s.gap_mm is None for s in strings)
    return Drawn(
        section=_section(case, strings, fret, computed, units),
        side=neck_side(case, units),
        missing=_missing(case, across, what),
        computed=computed,
        measured_at=max(
            (s.reading.at for s in (_state(case, RELIEF), *heights, *across) if s.reading),
            default=None,
        ),
    )


def _states(case: Case, slot_of: Callable[[int], Slot]) -> list[SlotState]:
    """One for each string, bass side first."""
    return [_state(case, slot_of(number)) for number in string_numbers(case.spec)]


def _state(case: Case, slot: Slot) -> SlotState:
    return READ_CHECKS[slot.check].state(case, slot)


def _is_known(state: SlotState) -> bool:
    """Whether anything is known of the place: it was read, moved since, or sure without."""
    return state.verdict.word is not Word.NOT_MEASURED


def _missing(case: Case, across: Sequence[SlotState], what: str) -> tuple[str, ...]:
    names = [string_label(case.spec, s.slot.string or 0) for s in across if not _is_known(s)]
    everywhere = bool(names) and len(names) == len(across)
    found = [f"every {what}"] if everywhere else [f"{what} of the {name}" for name in names]
    return (*found, *(() if case.relief_known else ("relief",)))


def _string(case: Case, state: SlotState, fret: int) -> SectionString:
    spec, number = case.spec, state.slot.string or 0
    string = spec.string(number)
    low, high = _target(case, number, fret)
    value = _at_fret(case, number, state.value, fret) if _is_known(state) else None
    measured = state.measured and _read_here(state, fret)
    return SectionString(
        label=string.note.rstrip("0123456789").replace("b", "♭").replace("#", "♯"),
        offset_mm=offset_mm(spec, number, fret),
        gauge_mm=string.gauge_mm,
        gap_mm=value if measured else None,
        target_low_mm=low,
        target_high_mm=high,
        expected_mm=None if measured else value,
        word=_short(state.verdict.word) if measured and fret in BANDED_FRETS else "",
    )


def _read_here(state: SlotState, fret: int) -> bool:
    """Whether the reading says the gap at this fret: at the fret of its bands, or at the very fret."""
    if fret in BANDED_FRETS:
        return True
    return state.reading is not None and height_way(state.reading) == HeightWay(STANDARD_HEIGHT.hold, fret)


def _short(word: Word) -> str:
    return word.value.removeprefix("a ")


def _target(case: Case, number: int, fret: int) -> tuple[float, float]:
    """The target band at a fret; away from the 12th it follows from the band there and this neck's bow."""
    if fret == 1:
        nut = case.bands(nut_slot(number)).target
        return nut.low, nut.high
    target = case.bands(height_slot(number)).target
    return _at_fret(case, number, target.low, fret), _at_fret(case, number, target.high, fret)


def _at_fret(case: Case, number: int, height_mm: float, fret: int) -> float:
    """A height at 12, held at 1, as the same straight string reads elsewhere; over fret 1 the nut's gap."""
    if fret in BANDED_FRETS:
        return height_mm
    neck = neck_under(case.spec, number, case.neck.curvature_per_mm)
    nut_gap_mm = case.nut_gap_mm(number)
    saddle_mm = saddle_from(neck, height_mm, STANDARD_HEIGHT, nut_gap_mm)
    return read_at(neck, saddle_mm, HeightWay(STANDARD_HEIGHT.hold, fret), nut_gap_mm)


def _section(
    case: Case, strings: Sequence[SectionString], fret: int, computed: bool, units: Units
) -> Drawing:
    held = "open" if fret == 1 else "held at fret 1"
    away = computed and fret != STANDARD_HEIGHT.gap
    title = f"The strings over fret {fret}, {held}{', computed' if away else ''}"
    drawing = cross_section(radius_mm(case.spec, fret), strings, fret=fret, title=title, units=units)
    if not away:
        return drawing
    words = "A dashed string is computed from the heights at fret 12, not measured here."
    if any(s.gap_mm is None and s.expected_mm is None for s in strings):
        words += " One without a figure is not measured yet and stands at its target."
    return replace(
        drawing,
        note=drawing.note.replace(UNMEASURED_NOTE, words),
        description=f"{drawing.description} {words}",
    )


def neck_side(case: Case, units: Units) -> Drawing:
    """The side view under the bass string."""
    number = len(case.spec.strings)
    state = _state(case, height_slot(number))
    height = state.value if _is_known(state) else state.bands.target.middle
    neck = neck_under(case.spec, number, case.neck.curvature_per_mm)
    saddle_mm = saddle_from(neck, height, STANDARD_HEIGHT, case.nut_gap_mm(number))
    name = string_label(case.spec, number)
    drawing = side_view(
        neck,
        saddle_mm=saddle_mm,
        relief_frets=case.relief_standard.frets,
        title=f"The neck from the side, under the {name}",
        units=units,
    )
    targets = [
        *(() if case.relief_known else ("relief",)),
        *(() if _is_known(state) else (f"height of the {name}",)),
    ]
    if not targets:
        return drawing
    words = f"Not measured yet, drawn at target: {', '.join(targets)}."
    return replace(drawing, note=f"{drawing.note} {words}", description=f"{drawing.description} {words}")


def buzz_plan(case: Case, buzzes: Sequence[StringBuzz]) -> Drawing:
    """The board with the notes that buzzed."""
    labels = [string_label(case.spec, n).replace(" string", "") for n in string_numbers(case.spec)]
    # The instrument may have been described anew with fewer strings or frets since.
    marks = [
        BuzzMark(b.number, fret)
        for b in buzzes
        for fret in b.frets
        if fret <= case.spec.fret_count and b.number <= len(labels)
    ]
    return buzz_drawing(case.spec.scale_bass_mm, case.spec.fret_count, labels, marks)
