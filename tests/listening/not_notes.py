"""Takes in which nothing that was asked for was played: a talker, chords, noises, another string."""

from __future__ import annotations

import numpy as np

from tests.listening.strings import RATE, STRINGS, Take, draw_body, pluck, string_take

KINDS = ("talk", "chords", "noise", "knocks", "another string", "hum")


def without_notes(random: np.random.Generator, kind: str) -> Take:
    name = str(random.choice(list(STRINGS)))
    nominal = STRINGS[name][0]
    asked = [(1, fret, nominal * 2 ** (fret / 12)) for fret in (0, 0, 12, 12, 19, 19, 0, 0)]
    if kind == "another string":
        return Take(_another(random, name), asked, [], kind)
    sound = {"talk": _talk, "chords": _chords, "noise": _noise, "knocks": _knocks, "hum": _hum}[kind](random)
    return Take(sound, asked, [], kind)


def _another(random: np.random.Generator, name: str) -> np.ndarray:
    pitch = STRINGS[name][0]
    others = [other for other, (hertz, *_) in STRINGS.items() if abs(np.log2(hertz / pitch)) > 0.1]
    return string_take(random, str(random.choice(others))).sound


def _talk(random: np.random.Generator) -> np.ndarray:
    """Syllables: a buzzing source whose pitch moves, through three resonances that move, with breath
    between."""
    parts = [np.zeros(RATE // 3)]
    voice = random.uniform(85, 230)
    for _ in range(int(random.integers(30, 60))):
        size = int(random.uniform(0.08, 0.35) * RATE)
        t = np.linspace(0, 1, size)
        pitch = voice * 2 ** (random.normal(0, 0.15) + random.uniform(-0.2, 0.2) * t + 0.02 * np.sin(9 * t))
        phase = 2 * np.pi * np.cumsum(pitch) / RATE
        sound = np.zeros(size)
        formants = random.uniform([250, 800, 2200], [850, 2200, 3200])
        for k in range(1, int(4000 / pitch.max())):
            gain = sum(1 / (1 + ((k * pitch.mean() - centre) / 120) ** 2) for centre in formants) + 0.02
            sound += gain / k**0.5 * np.sin(k * phase)
        sound += random.uniform(0, 0.5) * random.normal(0, 1, size)
        parts += [sound * np.sin(np.pi * t) ** 0.7 * random.uniform(0.3, 1)]
        if random.random() < 0.4:
            parts.append(np.zeros(int(random.uniform(0.05, 0.5) * RATE)))
    sound = np.concatenate(parts)
    return 0.5 * sound / np.abs(sound).max()


def _chords(random: np.random.Generator) -> np.ndarray:
    """Strummed chords of four to six strings, the asked string perhaps among them."""
    parts = [np.zeros(RATE // 2)]
    names = ["E2", "A2", "D3", "G3", "B3", "E4"]
    bodies = [draw_body(random, name) for name in names]
    for _ in range(6):
        size = int(3.0 * RATE)
        chord = np.zeros(size)
        count = int(random.integers(4, 7))
        for place in range(6 - count, 6):
            fret = int(random.integers(0, 4))
            note = pluck(random, bodies[place], fret, bodies[place].pitch * 2 ** (fret / 12), 2.2)
            at = int(0.025 * RATE * (place + count - 6))
            chord[at : at + len(note)] += note[: size - at]
        parts.append(chord)
    sound = np.concatenate(parts)
    return 0.5 * sound / np.abs(sound).max()


def _noise(random: np.random.Generator) -> np.ndarray:
    size = 20 * RATE
    sound = random.normal(0, 1, size)
    level = np.interp(np.arange(size), np.linspace(0, size, 60), random.uniform(0.05, 1, 60))
    return 0.2 * sound * level


def _knocks(random: np.random.Generator) -> np.ndarray:
    """Things put down on a bench: short, dull, with resonances of their own that are no harmonic series."""
    sound = random.normal(0, 0.002, 20 * RATE)
    for _ in range(12):
        size = RATE // 2
        t = np.arange(size) / RATE
        knock = sum(
            random.uniform(0.2, 1) * np.exp(-t * random.uniform(8, 80)) * np.sin(2 * np.pi * f * t)
            for f in random.uniform(90, 3000, 7)
        )
        at = int(random.uniform(0.5, 19) * RATE)
        sound[at : at + size] += 0.2 * knock
    return sound


def _hum(random: np.random.Generator) -> np.ndarray:
    """Mains hum switched on and off."""
    t = np.arange(20 * RATE) / RATE
    tone = sum(np.sin(2 * np.pi * 50 * k * t + k) / k for k in range(1, 20))
    on = (np.sin(2 * np.pi * t / random.uniform(2, 3)) > 0).astype(float)
    return 0.2 * tone * np.convolve(on, np.ones(200) / 200, "same") + random.normal(0, 0.002, len(t))
