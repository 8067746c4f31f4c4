"""The section of every kind, over the first, the middle and the last fret, and what may be odd about one."""

from __future__ import annotations

from collections.abc import Iterator

from tests.setups.journals import all_kinds, spec_of
from webapp.drawings.board.section import SectionString, cross_section
from webapp.drawings.shapes import Drawing
from webapp.drawings.units import THOU
from webapp.setups.geometry import offset_mm, radius_mm
from webapp.setups.slots import string_numbers
from webapp.setups.states import Word
from webapp.trade.spec import InstrumentSpec
from webapp.trade.words import RodType

WORDS = (Word.GOOD, Word.TOUCH_LOW, Word.TOUCH_HIGH, Word.TOO_LOW, Word.TOO_HIGH, Word.MEASURE_AGAIN)


def strings_of(spec: InstrumentSpec, fret: int) -> list[SectionString]:
    """Every string at 2.2 mm or more, a new verdict for each; the thinnest not measured."""
    return [
        SectionString(
            spec.string(n).note.rstrip("0123456789"),
            offset_mm(spec, n, fret),
            spec.string(n).gauge_mm,
            None if n == 1 else 2.2 + 0.1 * n,
            1.8,
            2.6,
            Word.NOT_MEASURED if n == 1 else WORDS[n % len(WORDS)],
        )
        for n in string_numbers(spec)
    ]


def section_of(kind: str, fret: int, left_handed: bool = False) -> Drawing:
    spec = spec_of(kind)
    return cross_section(
        radius_mm(spec, fret),
        strings_of(spec, fret),
        fret=fret,
        title=f"The strings over fret {fret}",
        rod=spec.rod.type is not RodType.NONE,
        over_body=fret > spec.joint_fret,
        left_handed=left_handed,
    )


def pictures() -> Iterator[tuple[str, Drawing]]:
    """Name and drawing."""
    for kind in all_kinds():
        yield kind, section_of(kind, 12)
    yield "left-handed", section_of("bass_4_34", 12, left_handed=True)
    yield "over-body", section_of("electric_6", 22)
    nut = [
        SectionString("E", -17.0, 2.67, 0.4, 0.25, 0.5, Word.GOOD),
        SectionString("A", -6.0, 2.16, 0.9, 0.25, 0.5, Word.TOO_HIGH),
        SectionString("D", 6.0, 1.65, 0.3, 0.25, 0.5, Word.EXPECTED, measured=False),
        SectionString("G", 17.0, 1.14, 0.05, 0.25, 0.5, Word.TOO_LOW),
    ]
    yield "fret-1", cross_section(241.3, nut, fret=1, title="The strings over fret 1", units=THOU)
    pairs = [
        SectionString(
            name, -24.0 + 9.6 * (i // 2) + (1.2 if i % 2 else -1.2), 1.3 - i / 11, 2.1, 1.8, 2.6, Word.GOOD
        )
        for i, name in enumerate("EEAADDGGBBEE")
    ]
    yield "twelve", cross_section(406.4, pairs, fret=12, title="The strings over fret 12")
    far = [SectionString(s.label, s.offset_mm, s.gauge_mm, 8.0, 2.0, 3.0, Word.TOO_HIGH) for s in nut]
    yield "far", cross_section(184.0, far, fret=12, title="The strings over fret 12")
