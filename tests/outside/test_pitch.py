"""Pitches and fret places against printed tables, a general music library and the standard tuning pitch."""

from __future__ import annotations

import pretty_midi
import pytest

from webapp.physics.frets import fret_position
from webapp.physics.strings import note_number, pitch_hz

NAMES = ("C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B")
OPEN_STRINGS = ("B0", "E1", "A1", "D2", "G2", "C3", "E2", "A2", "D3", "G3", "B3", "E4")
TABLE = (
    "CRC Handbook of Chemistry and Physics, section 14, Musical Scales, table 1, equal tempered scale "
    "(online edition, read 2026)"
)
NOTES = (
    "B. H. Suits, Physics of Music - Notes: Equations for the Frequency Table, Michigan Technological "
    "University (web page, undated, read 2026)"
)
EIGHTEENTH = (
    "N. H. Fletcher and T. D. Rossing, The Physics of Musical Instruments, 2nd ed. 1998, chapter 9, frets: "
    "the exact divisor beside the rule of eighteen (recalled)"
)


@pytest.mark.published("ISO 16:1975, Acoustics, Standard tuning frequency: A in the treble stave is 440 Hz")
def test_a4_is_440() -> None:
    assert pitch_hz("A4") == 440.0


@pytest.mark.published(TABLE)
@pytest.mark.parametrize(
    ("note", "hertz"),
    [
        ("C0", 16.352), ("D0", 18.354), ("E0", 20.602), ("C2", 65.406), ("D2", 73.416), ("D#2", 77.782),
        ("E2", 82.407), ("F2", 87.307), ("C4", 261.63), ("D4", 293.66), ("E4", 329.63), ("E6", 1318.51),
    ],
)  # fmt: skip
def test_notes_have_the_frequencies_of_the_table(note: str, hertz: float) -> None:
    assert pitch_hz(note) == pytest.approx(hertz, rel=3e-5)  # printed to five figures


@pytest.mark.published(NOTES)
@pytest.mark.parametrize(("note", "hertz"), [("C4", 261.6), ("C5", 523.3)])
def test_the_two_worked_notes(note: str, hertz: float) -> None:
    assert pitch_hz(note) == pytest.approx(hertz, abs=0.06)


@pytest.mark.published(NOTES)
def test_a_fret_shortens_the_string_by_the_printed_twelfth_root() -> None:
    scale = 863.6
    left = [scale - fret_position(scale, fret) for fret in range(25)]
    for longer, shorter in zip(left, left[1:], strict=False):
        assert longer / shorter == pytest.approx(1.059463094359, rel=1e-11)


@pytest.mark.memory(EIGHTEENTH)
def test_the_first_fret_stands_at_one_part_in_17_817() -> None:
    for scale in (863.6, 648.0, 650.0):
        assert scale / fret_position(scale, 1) == pytest.approx(17.817, abs=5e-4)


@pytest.mark.library("pretty_midi")
@pytest.mark.parametrize("octave", range(9))
def test_every_note_name_has_its_frequency(octave: int) -> None:
    for name in NAMES:
        number = pretty_midi.note_name_to_number(f"{name}{octave}")
        assert note_number(f"{name}{octave}") == number
        assert pitch_hz(f"{name}{octave}") == pytest.approx(pretty_midi.note_number_to_hz(number), rel=1e-12)


@pytest.mark.library("pretty_midi")
@pytest.mark.parametrize("scale", [863.6, 762.0, 648.0, 650.0])
def test_fret_places_divide_the_string_as_the_frequencies_do(scale: float) -> None:
    for note in OPEN_STRINGS:
        number = pretty_midi.note_name_to_number(note)
        for fret in range(1, 25):
            ratio = pretty_midi.note_number_to_hz(number) / pretty_midi.note_number_to_hz(number + fret)
            assert fret_position(scale, fret) == pytest.approx(scale - scale * ratio, abs=1e-9)
