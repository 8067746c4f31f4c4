"""Pitches and fret places against a general music library and the standard tuning pitch."""

from __future__ import annotations

import pretty_midi
import pytest

from webapp.physics.frets import fret_position
from webapp.physics.strings import note_number, pitch_hz

NAMES = ("C", "C#", "Db", "D", "D#", "Eb", "E", "F", "F#", "Gb", "G", "G#", "Ab", "A", "A#", "Bb", "B")


@pytest.mark.published("ISO 16:1975, Acoustics, Standard tuning frequency: A in the treble stave is 440 Hz")
def test_a4_is_440() -> None:
    assert pitch_hz("A4") == 440.0


@pytest.mark.library("pretty_midi")
@pytest.mark.parametrize("octave", range(9))
def test_every_note_name_has_its_frequency(octave: int) -> None:
    for name in NAMES:
        number = pretty_midi.note_name_to_number(f"{name}{octave}")
        assert note_number(f"{name}{octave}") == number
        assert pitch_hz(f"{name}{octave}") == pytest.approx(pretty_midi.note_number_to_hz(number), rel=1e-12)


@pytest.mark.library("pretty_midi")
@pytest.mark.parametrize(
    ("note", "hertz"),
    [
        ("B0", 30.868), ("E1", 41.203), ("A1", 55.000), ("D2", 73.416), ("G2", 97.999),
        ("E2", 82.407), ("A2", 110.000), ("D3", 146.832), ("G3", 195.998), ("B3", 246.942), ("E4", 329.628),
    ],
)  # fmt: skip
def test_the_open_strings_of_bass_and_guitar(note: str, hertz: float) -> None:
    by_library = pretty_midi.note_number_to_hz(pretty_midi.note_name_to_number(note))
    assert by_library == pytest.approx(hertz, abs=6e-4)
    assert pitch_hz(note) == pytest.approx(hertz, abs=6e-4)


@pytest.mark.library("pretty_midi")
@pytest.mark.parametrize("scale", [863.6, 762.0, 648.0, 650.0])
@pytest.mark.parametrize("fret", range(1, 25))
def test_fret_places_divide_the_string_as_the_frequencies_do(scale: float, fret: int) -> None:
    open_string = pretty_midi.note_name_to_number("E1")
    ratio = pretty_midi.note_number_to_hz(open_string) / pretty_midi.note_number_to_hz(open_string + fret)
    assert fret_position(scale, fret) == pytest.approx(scale - scale * ratio, abs=1e-9)
