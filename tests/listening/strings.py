"""Modelled strings: takes of plucked notes whose pitches are known exactly.

Written for the tests alone, from the physics of a stiff lossy string: it shares no code with what it tries.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

RATE = 24000
# Name, open pitch in hertz, range of stiffness B (log-uniform), longest ring of the lowest partials in
# seconds.
STRINGS = {
    "B0": (30.868, (5e-5, 4e-4), 4.0),
    "E1": (41.203, (4e-5, 3e-4), 4.0),
    "A1": (55.000, (3e-5, 2e-4), 3.5),
    "D2": (73.416, (3e-5, 1.6e-4), 3.0),
    "G2": (97.999, (2e-5, 1.2e-4), 2.5),
    "E2": (82.407, (3e-5, 1.6e-4), 2.5),
    "A2": (110.00, (2e-5, 1.2e-4), 2.2),
    "D3": (146.83, (2e-5, 1.0e-4), 2.0),
    "G3": (196.00, (1e-5, 2.0e-4), 1.6),
    "B3": (246.94, (1e-5, 6e-5), 1.4),
    "E4": (329.63, (5e-6, 3e-5), 1.2),
}


@dataclass(frozen=True)
class Struck:
    """One note as it was played: the truth."""

    string: int
    fret: int
    start_s: float
    pitch_hz: float
    level: float


@dataclass
class Take:
    """A recording with what was asked and what was truly played."""

    sound: np.ndarray
    asked: list[tuple[int, int, float]]
    truth: list[Struck]
    label: str
    rate: int = RATE


@dataclass(frozen=True)
class Body:
    """What is the same for every note of one string."""

    pitch: float
    stiffness: float
    ring_s: float
    bright: float
    pull_cents: float
    glide_cents: float
    pluck: float


def draw_body(random: np.random.Generator, name: str) -> Body:
    pitch, (low, high), ring = STRINGS[name]
    return Body(
        pitch=pitch * 2 ** (random.normal(0, 12) / 1200),
        stiffness=float(np.exp(random.uniform(np.log(low), np.log(high)))),
        ring_s=ring * random.uniform(0.5, 1.1),
        bright=random.uniform(0.4, 1.4),
        pull_cents=random.uniform(0.0, 0.15),
        glide_cents=random.uniform(0.5, 9.0),
        pluck=random.uniform(0.1, 0.3),
    )


def pluck(random: np.random.Generator, body: Body, fret: int, pitch: float, lasts_s: float) -> np.ndarray:
    """One note of ``pitch`` hertz at rest, from the pluck to the damping hand, peak about 1."""
    n = np.arange(1, 80)
    stiff = body.stiffness * 4 ** (fret / 12)
    f = pitch * n * np.sqrt((1 + stiff * n**2) / (1 + stiff))
    # The body pulls each partial a little, the same way whenever this pitch is played.
    own = np.random.default_rng(int(pitch * 1000))
    f = f * 2 ** (own.normal(0, body.pull_cents, len(n)) / 1200)
    n, f = n[f < 0.46 * RATE], f[f < 0.46 * RATE]
    length = 2 ** (-fret / 12)
    at = body.pluck * random.uniform(0.85, 1.15) / length
    amplitude = np.abs(np.sin(np.pi * n * min(at, 0.47))) / n ** random.uniform(1.0, 1.6)
    amplitude = amplitude / np.sqrt(1 + (f / (1200 * body.bright)) ** 2)
    loss = (
        (1 / (body.ring_s * length**0.5))
        * (1 + (f / (900 * body.bright)) ** 1.4)
        * np.exp(random.normal(0, 0.15, len(n)))
    )
    t = np.arange(int((lasts_s + 0.12) * RATE)) / RATE
    hardness = random.uniform(0.4, 1.0)
    glide = body.glide_cents * hardness**2 * np.log(2) / 1200
    tau = random.uniform(0.08, 0.45)
    warped = t + glide * tau * (1 - np.exp(-t / tau))
    sound = np.zeros(len(t))
    faint = 1e-5 * amplitude.max()
    for a, freq, rate in zip(amplitude, f, loss, strict=True):
        size = min(len(t), int(max(np.log(a / faint + 1e-9) / rate, 0.0) * RATE))
        swing = a * np.exp(-rate * t[:size])
        sound[:size] += swing * np.sin(2 * np.pi * freq * warped[:size] + random.uniform(0, 2 * np.pi))
    scrape = random.normal(0, 1, int(0.012 * RATE)) * np.hanning(int(0.012 * RATE))
    sound[: len(scrape)] += 0.3 * scrape * np.abs(sound).max()
    sound *= np.minimum(1, t / 0.004)
    hand = np.clip((t - lasts_s) / 0.06, 0, 1)
    return hardness * sound * np.cos(0.5 * np.pi * hand) ** 2 / np.abs(sound).max()


def string_take(random: np.random.Generator, name: str, muddle: bool = False) -> Take:
    """Open twice, 12 twice, 19 twice, open twice; muddled: one note skipped, once more, or a wrong one
    between."""
    body = draw_body(random, name)
    nominal = STRINGS[name][0]
    off = {0: 0.0, 12: random.normal(0, 7), 19: random.normal(0, 10)}
    frets = [0, 0, 12, 12, 19, 19, 0, 0]
    asked = [(1, fret, nominal * 2 ** (fret / 12)) for fret in frets]
    played = [(fret, True) for fret in frets]
    if muddle:
        where = int(random.integers(0, 8))
        kind = random.choice(["skip", "again", "wrong"])
        if kind == "skip":
            del played[where]
        elif kind == "again":
            played.insert(where, played[where])
        else:
            played.insert(where, (int(random.choice([5, 7, 10, 11, 13])), False))
    notes = [
        (fret, body.pitch * 2 ** (fret / 12 + off.get(fret, 0.0) / 1200), wanted) for fret, wanted in played
    ]
    return _laid(random, [(body, 1, *note) for note in notes], asked, name)


def tuning_take(random: np.random.Generator, names: list[str]) -> Take:
    """All open strings, each twice, each out of tune on its own."""
    asked, notes = [], []
    for string, name in enumerate(names, 1):
        body = draw_body(random, name)
        for _ in range(2):
            asked.append((string, 0, STRINGS[name][0]))
            notes.append((body, string, 0, body.pitch, True))
    return _laid(random, notes, asked, "tuning")


def _laid(
    random: np.random.Generator,
    notes: list[tuple[Body, int, int, float, bool]],
    asked: list[tuple[int, int, float]],
    label: str,
) -> Take:
    parts, truth, at = [np.zeros(int(random.uniform(0.3, 1.0) * RATE))], [], 0.0
    at = len(parts[0]) / RATE
    for body, string, fret, pitch, wanted in notes:
        sound = pluck(random, body, fret, pitch, random.uniform(1.9, 3.0))
        if wanted:
            truth.append(Struck(string, fret, at, pitch, float(np.abs(sound).max())))
        gap = np.zeros(int(random.uniform(0.15, 0.7) * RATE))
        parts += [sound, gap]
        at += (len(sound) + len(gap)) / RATE
    return Take(0.5 * np.concatenate(parts), asked, truth, label)
