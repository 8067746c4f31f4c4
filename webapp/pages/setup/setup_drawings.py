"""From a setup's readings to drawings: the strings over a fret, and the neck from the side."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from webapp.drawings.board.board import BuzzMark, buzz_drawing
from webapp.drawings.board.section import SectionString, cross_section
from webapp.drawings.reading.side import SideString, neck_side
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import Units
from webapp.setups.buzz_marks import StringBuzz
from webapp.setups.case import Case
from webapp.setups.checks import READ_CHECKS
from webapp.setups.geometry import (
    STANDARD_HEIGHT,
    HeightWay,
    height_way,
    neck_under,
    offset_mm,
    radius_mm,
    read_at,
    saddle_from,
)
from webapp.setups.slots import (
    RELIEF,
    Slot,
    height_slot,
    nut_slot,
    string_label,
    string_numbers,
    strings_seen,
)
from webapp.setups.states import SlotState, Word
from webapp.trade.words import RodType

COMPUTED = "A dashed string with a figure is computed, not measured here."
UNKNOWN = "A dashed string without a figure is not measured yet and stands at its target."
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
    computed = any(s.word is Word.EXPECTED for s in strings)
    return Drawn(
        section=_section(case, strings, fret, computed, units),
        side=neck_beside(case, units),
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
        gap_mm=value,
        target_low_mm=low,
        target_high_mm=high,
        word=_word(state, measured),
        measured=measured,
    )


def _word(state: SlotState, measured: bool) -> Word:
    if measured:
        return state.verdict.word
    return Word.EXPECTED if _is_known(state) else Word.NOT_MEASURED


def _read_here(state: SlotState, fret: int) -> bool:
    """Whether the reading says the gap at this fret: at the fret of its bands, or at the very fret."""
    if fret in BANDED_FRETS:
        return True
    return state.reading is not None and height_way(state.reading) == HeightWay(STANDARD_HEIGHT.hold, fret)


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
    drawing = cross_section(
        radius_mm(case.spec, fret),
        strings,
        fret=fret,
        title=title,
        rod=case.spec.rod.type is not RodType.NONE,
        over_body=fret > case.spec.joint_fret,
        left_handed=case.spec.left_handed,
        units=units,
    )
    words = [
        *([COMPUTED] if computed else []),
        *([UNKNOWN] if any(s.gap_mm is None for s in strings) else []),
    ]
    return replace(
        drawing,
        note=" ".join([drawing.note, *words]),
        description=" ".join([drawing.description, *words]),
    )


def neck_beside(case: Case, units: Units) -> Drawing:
    """The neck and its outer strings from the side; what nobody knows stands at the middle of its target."""
    relief = () if case.relief_known else ("relief",)
    outer = [_state(case, height_slot(number)) for number in (len(case.spec.strings), 1)]
    unknown = [
        f"height of the {string_label(case.spec, s.slot.string or 0)}" for s in outer if not _is_known(s)
    ]
    drawing = neck_side(
        [_side_string(case, state) for state in outer],
        case.relief_standard.frets,
        left_handed=case.spec.left_handed,
        units=units,
    )
    if not (relief or unknown):
        return drawing
    words = f"Not measured yet, drawn at target: {', '.join([*relief, *unknown])}."
    return replace(drawing, note=words, description=f"{drawing.description} {words}")


def _side_string(case: Case, state: SlotState) -> SideString:
    number = state.slot.string or 0
    height = state.value if _is_known(state) else state.bands.target.middle
    neck = neck_under(case.spec, number, case.neck.curvature_per_mm)
    saddle_mm = saddle_from(neck, height, STANDARD_HEIGHT, case.nut_gap_mm(number))
    return SideString(string_label(case.spec, number), neck, saddle_mm)


def buzz_plan(case: Case, buzzes: Sequence[StringBuzz]) -> Drawing:
    """The board with the notes that buzzed."""
    seen = strings_seen(case.spec)
    labels = [string_label(case.spec, n).replace(" string", "") for n in seen]
    rows = {number: row for row, number in enumerate(reversed(seen), 1)}
    # The instrument may have been described anew with fewer strings or frets since.
    marks = [
        BuzzMark(rows[b.number], fret)
        for b in buzzes
        for fret in b.frets
        if fret <= case.spec.fret_count and b.number in rows
    ]
    dotted = case.spec.radius_nut_mm is not None
    return buzz_drawing(case.spec.scale_bass_mm, case.spec.fret_count, labels, marks, dotted=dotted)
