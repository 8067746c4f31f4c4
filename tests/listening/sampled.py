"""Sampled instruments: General MIDI sounds played by FluidSynth, where a sound font is installed.

How the samples of a font were tuned is not known, so each take is played twice, the second time with its
frets bent by a known number of cents: by so much must the differences differ. ``python -m tests.listening
--sampled`` prints the table.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
import wave
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pretty_midi

from tests.listening.strings import RATE, Struck, Take
from webapp.physics.buzz_sound import hear_buzzes
from webapp.physics.listening import give_or_take_cents, hear

FONTS = tuple(
    font
    for font in (Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"), Path("/usr/share/sounds/sf2/TimGM6mb.sf2"))
    if font.exists() and shutil.which("fluidsynth")
)
# Programs counted from 0, with the open keys tried on each.
SOUNDS = {
    "nylon guitar": (24, (40, 45, 50, 55, 59, 64)),
    "steel guitar": (25, (40, 45, 50, 55, 59, 64)),
    "jazz guitar": (26, (40, 45, 50, 55, 59, 64)),
    "clean guitar": (27, (40, 45, 50, 55, 59, 64)),
    "acoustic bass": (32, (28, 33, 38, 43)),
    "finger bass": (33, (28, 33, 38, 43)),
    "pick bass": (34, (28, 33, 38, 43)),
}
BEND_RANGE = 2
# Steps of the wheel a cent.
CENT = 8192 / (100 * BEND_RANGE)
FRETS = (0, 0, 12, 12, 19, 19, 0, 0)


def fret_takes(random: np.random.Generator, font: Path, sound: str, key: int) -> tuple[Take, Take]:
    """Open twice, 12 twice, 19 twice, open twice: as the font has them, and with the frets bent."""
    open_hz = 440 * 2 ** ((key - 69) / 12)
    asked = [(1, fret, open_hz * 2 ** (fret / 12)) for fret in FRETS]
    takes = []
    for spread in (0.0, 9.0):
        bends = {0: 0, **{fret: int(np.clip(round(random.normal(0, spread)), -20, 20)) for fret in (12, 19)}}
        notes, truth, at = [], [], 0.5
        for fret in FRETS:
            lasts = random.uniform(2.0, 2.8)
            # FluidSynth plays whole cents, rounded down.
            wheel = round((bends[fret] + 0.3) * CENT)
            notes.append((at, lasts, key + fret, int(random.integers(70, 115)), wheel))
            pitch = open_hz * 2 ** (fret / 12 + bends[fret] / 1200)
            truth.append(Struck(1, fret, at, pitch, 1.0))
            at += lasts + random.uniform(0.4, 0.8)
        takes.append(Take(played(font, SOUNDS[sound][0], notes), asked, truth, sound))
    return takes[0], takes[1]


def soft_hard_take(random: np.random.Generator, font: Path, sound: str, key: int) -> Take:
    """Frets up the string, each softly then hard, none of them buzzing."""
    notes, asked, at = [], [], 0.5
    for fret in range(1, 13, 2):
        for velocity in (int(random.integers(45, 65)), int(random.integers(95, 120))):
            notes.append((at, 1.3, key + fret, velocity, 0))
            asked.append((1, fret, 440 * 2 ** ((key + fret - 69) / 12)))
            at += 1.8
    return Take(played(font, SOUNDS[sound][0], notes), asked, [], sound)


def table(seed: int, count: int) -> str:
    """By font and sound: how far the differences of two takes are from what was bent, against what is
    stated."""
    lines = [
        f"{'':<34}{'takes':>6}{'pairs':>6}{'median':>8}{'95 %':>7}{'in':>6}{'refused':>9}   false buzz marks"
    ]
    everything: list[Row] = []
    for font in FONTS:
        for sound in SOUNDS:
            row = Row()
            for number in range(count):
                row.add(np.random.default_rng([seed, number, SOUNDS[sound][0]]), font, sound)
            everything.append(row)
            lines.append(f"{font.stem + ' ' + sound:<34}{row.line()}")
    lines.append(f"{'all':<34}{sum(everything, Row()).line()}")
    return "\n".join(lines)


@dataclass
class Row:
    """One line of the table."""

    takes: int = 0
    away: list[tuple[float, float]] = field(default_factory=list)
    asked: int = 0
    marks: int = 0
    listened: int = 0

    def add(self, random: np.random.Generator, font: Path, sound: str) -> None:
        key = int(random.choice(SOUNDS[sound][1]))
        heard = [
            (take, hear(take.sound, take.rate, take.asked)) for take in fret_takes(random, font, sound, key)
        ]
        self.takes += 2
        for fret in (12, 19):
            place = 1, fret
            self.asked += 1
            if all(place in hearing.differences for _, hearing in heard):
                cents, stated = [], []
                for take, hearing in heard:
                    true = {struck.fret: struck.pitch_hz for struck in take.truth}
                    said, error = hearing.differences[place]
                    cents.append(said - 1200 * np.log2(true[fret] / true[0]))
                    stated.append(give_or_take_cents(error))
                self.away.append((cents[1] - cents[0], float(np.hypot(*stated))))
        take = soft_hard_take(random, font, sound, key)
        buzzes = hear_buzzes(take.sound, take.rate, take.asked)
        self.marks += len(buzzes.marks)
        self.listened += 0 if buzzes.refused else len(take.asked) // 2 - len(buzzes.unread)

    def __add__(self, other: Row) -> Row:
        return Row(
            self.takes + other.takes,
            self.away + other.away,
            self.asked + other.asked,
            self.marks + other.marks,
            self.listened + other.listened,
        )

    def line(self) -> str:
        buzz = f"   {self.marks} of {self.listened}"
        if not self.away:
            return f"{self.takes:>6}{0:>6}{'':>21}{100:>8}%{buzz}"
        pairs = np.array(self.away)
        away = np.abs(pairs[:, 0])
        return (
            f"{self.takes:>6}{len(away):>6}{np.median(away):>8.2f}{np.quantile(away, 0.95):>7.2f}"
            f"{100 * np.mean(away <= pairs[:, 1]):>5.0f}%{100 * (1 - len(away) / self.asked):>8.0f}%{buzz}"
        )


def played(font: Path, program: int, notes: list[tuple[float, float, int, int, int]]) -> np.ndarray:
    """Notes (start, seconds, key, velocity, bend) as FluidSynth plays them, dry, one channel at ``RATE``."""
    player = pretty_midi.Instrument(program)
    # One after the other: events of one moment are written in an order of their own.
    for place, (number, value) in enumerate(((101, 0), (100, 0), (6, BEND_RANGE), (38, 0))):
        player.control_changes.append(pretty_midi.ControlChange(number, value, 0.05 + 0.05 * place))
    for start, lasts, key, velocity, bend in notes:
        player.pitch_bends.append(pretty_midi.PitchBend(min(bend, 8191), start - 0.05))
        player.notes.append(pretty_midi.Note(velocity, key, start, start + lasts))
    song = pretty_midi.PrettyMIDI()
    song.instruments.append(player)
    with tempfile.TemporaryDirectory() as folder:
        midi, sound = Path(folder, "take.mid"), Path(folder, "take.wav")
        song.write(str(midi))
        words = [
            "fluidsynth",
            "-ni",
            "-q",
            "-R",
            "0",
            "-C",
            "0",
            "-g",
            "0.8",
            "-r",
            str(RATE),
            "-F",
            str(sound),
        ]
        subprocess.run([*words, str(font), str(midi)], check=True, capture_output=True, timeout=120)
        with wave.open(str(sound)) as file:
            frames = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2)
    return frames.mean(axis=1) / 32768
