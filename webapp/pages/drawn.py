"""From a setup's readings to drawings: the strings over a fret, and the neck from the side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from webapp.drawings.board import BuzzMark, buzz_drawing
from webapp.drawings.section import SectionString, cross_section
from webapp.drawings.shapes import Drawing
from webapp.drawings.side import side_view
from webapp.drawings.units import Units
from webapp.setups.buzz import StringBuzz
from webapp.setups.case import Case
from webapp.setups.convert import STANDARD_HEIGHT, HeightWay, height_way, read_at, saddle_from
from webapp.setups.geometry import neck_under, offset_mm, radius_mm
from webapp.setups.slots import Slot, string_label, string_numbers
from webapp.setups.states import Assessment, SlotState
from webapp.setups.verdicts import Word
from webapp.trade.words import Check

UNMEASURED_NOTE = "A dashed string is not measured yet."


@dataclass(frozen=True)
class Drawn:
    """Both drawings, and in words what in them was not measured where it is drawn."""

    section: Drawing
    side: Drawing
    missing: tuple[str, ...]
    computed: bool
    measured_at: datetime | None


def drawn(case: Case, assessment: Assessment, fret: int, units: Units) -> Drawn:
    """Draw a setup at one fret, 1 or above; what was never read stands at the middle of its target."""
    readings = [s for s in _drawn_states(assessment, fret) if s.reading is not None]
    strings = [_string(case, assessment, number, fret) for number in string_numbers(case.spec)]
    computed = any(s.expected_mm is not None and s.gap_mm is None for s in strings)
    return Drawn(
        section=_section(case, strings, fret, computed, units),
        side=neck_side(case, assessment, units),
        missing=_missing(case, assessment, fret),
        computed=computed,
        measured_at=max((s.reading.at for s in readings if s.reading), default=None),
    )


def _drawn_states(assessment: Assessment, fret: int) -> tuple[SlotState, ...]:
    """The states that these drawings rest on."""
    nut = assessment.checks[Check.NUT].slots if fret == 1 else ()
    return (*assessment.checks[Check.RELIEF].slots, *assessment.checks[Check.HEIGHT].slots, *nut)


def _missing(case: Case, assessment: Assessment, fret: int) -> tuple[str, ...]:
    across = assessment.checks[Check.NUT if fret == 1 else Check.HEIGHT].slots
    names = [string_label(case.spec, s.slot.string or 0) for s in across if s.reading is None]
    what = "gap at the nut" if fret == 1 else "string height"
    everywhere = bool(names) and len(names) == len(across)
    found = [f"every {what}"] if everywhere else [f"{what} of the {name}" for name in names]
    return (*found, *(() if case.relief_known else ("relief",)))


def _string(case: Case, assessment: Assessment, number: int, fret: int) -> SectionString:
    spec, string = case.spec, case.spec.string(number)
    gap, expected, word = _gap(case, assessment, number, fret)
    low, high = _target(case, number, fret)
    return SectionString(
        label=string.note.rstrip("0123456789").replace("b", "♭").replace("#", "♯"),
        offset_mm=offset_mm(spec, number, fret),
        gauge_mm=string.gauge_mm,
        gap_mm=gap,
        target_low_mm=low,
        target_high_mm=high,
        expected_mm=expected,
        word=word,
    )


def _gap(
    case: Case, assessment: Assessment, number: int, fret: int
) -> tuple[float | None, float | None, str]:
    """The gap as read at this fret, else as computed for it, and the verdict where it was read."""
    check = Check.NUT if fret == 1 else Check.HEIGHT
    state = assessment.slot(Slot(check, string=number).key)
    if fret in (1, STANDARD_HEIGHT.gap):
        if state.standard is not None:
            return state.standard, None, _short(state.verdict.word)
        return None, state.expected, ""
    if state.reading is not None and height_way(state.reading) == HeightWay(1, fret):
        return state.reading.value, None, ""
    source = state.standard if state.standard is not None else state.expected
    return None, None if source is None else _at_fret(case, number, source, fret), ""


def _short(word: Word) -> str:
    return word.value.removeprefix("a ")


def _target(case: Case, number: int, fret: int) -> tuple[float, float]:
    """The target band at a fret; away from the 12th it follows from the band there and this neck's bow."""
    if fret == 1:
        nut = case.bands(Slot(Check.NUT, string=number)).target
        return nut.low, nut.high
    target = case.bands(Slot(Check.HEIGHT, string=number)).target
    return _at_fret(case, number, target.low, fret), _at_fret(case, number, target.high, fret)


def _at_fret(case: Case, number: int, height_mm: float, fret: int) -> float:
    """A height at 12, held at 1, as the same straight string would read over another fret."""
    if fret == STANDARD_HEIGHT.gap:
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


def neck_side(case: Case, assessment: Assessment, units: Units) -> Drawing:
    """The side view under the bass string."""
    number = len(case.spec.strings)
    state = assessment.slot(Slot(Check.HEIGHT, string=number).key)
    height = state.standard if state.standard is not None else state.bands.target.middle
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
        *(() if state.standard is not None else (f"height of the {name}",)),
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
