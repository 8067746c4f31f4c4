"""Strings that strike the frets: a row of points followed in time, with the fret tops as stops.

u_tt = c**2 u_xx - kappa**2 u_xxxx - 2 s0 u_t + 2 s1 u_txx, stepped explicitly, ends pinned; a point that
would go below a fret's top is put back over it. Many notes of one pitch run side by side. Shares no code
with what it tries.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tests.listening.damage import draw_phone, worsen
from tests.listening.strings import RATE, STRINGS, Struck, Take
from webapp.physics.buzz_sound import hear_buzzes

COURANT, MOST_POINTS = 0.72, 90
FRETS = 20
# The hard pluck against the hardest that is still clean: nothing touches, slight, strong.
HARD = {"clean": (0.5, 0.9), "slight": (1.12, 1.35), "strong": (1.5, 2.2)}
SOFT = (0.25, 0.5)
SHARES = (0.5, 0.25, 0.25)
PLAYED = ("E1", "A1", "G2", "E2", "D3", "G3", "E4")
TOGETHER = 6


@dataclass(frozen=True)
class Row:
    """One pluck: how far aside, where (share of the length from the bridge end), and the gaps under it."""

    amplitude: float
    place: float
    round_off: float
    loss: float
    high_loss: float
    gaps: np.ndarray


def ring(pitch: float, rows: list[Row], fret: int, lasts_s: float) -> np.ndarray:
    """[row, sample] at ``RATE``: the force on the bridge."""
    points = _points(pitch)
    step = COURANT / points  # in units of length / c
    tops = np.round((1 - 2 ** (-np.arange(1, FRETS - fret + 1) / 12)) * points).astype(int)
    stop = np.full((len(rows), points + 1), -np.inf)
    for i, row in enumerate(rows):
        for k, top in enumerate(tops):
            stop[i, top] = max(stop[i, top], -row.gaps[k]) if np.isfinite(stop[i, top]) else -row.gaps[k]
    places = np.unique(tops)
    stops = stop[:, places]
    shape = np.stack([_drawn(row, points) for row in rows])
    s0 = np.array([row.loss for row in rows])[:, None] * step
    s1 = np.array([row.high_loss for row in rows])[:, None] * 2 * step * points**2
    stiff = 1.5e-4 / np.pi**2 * step**2 * points**4
    before, now = shape.copy(), shape.copy()
    per_s = 2 * pitch / step  # steps a second: a period is 2 lengths
    count = int(lasts_s * per_s)
    force = np.empty((count, len(rows)))
    bend_before = _bent(before)
    for i in range(count):
        bend = _bent(now)
        after = (
            2 * now - (1 - s0) * before + COURANT**2 * bend - stiff * _bent(bend) + s1 * (bend - bend_before)
        ) / (1 + s0)
        after[:, [0, -1]] = 0.0
        under = np.maximum(stops - after[:, places], 0.0)
        after[:, places] += 1.4 * under
        before, now, bend_before = now, after, bend
        force[i] = now[:, -2]
    # To the recorder's rate in the spectrum: what the grid cannot carry is absent, not folded.
    size = round(count * RATE / per_s)
    spectrum = np.fft.rfft(force, axis=0)
    padded = np.zeros((size // 2 + 1, len(rows)), dtype=complex)
    keep = min(len(spectrum), len(padded))
    padded[:keep] = spectrum[:keep]
    # What is heard follows the speed of the bridge, not its place.
    padded *= np.minimum(np.arange(len(padded)) * RATE / size / 1000, 6.0)[:, None]
    return np.fft.irfft(padded, size, axis=0).T * size / count


def _points(pitch: float) -> int:
    return int(np.clip(COURANT * RATE / (2 * pitch), 24, MOST_POINTS))


def _drawn(row: Row, points: int) -> np.ndarray:
    x = np.linspace(0, 1, points + 1)
    at = 1 - row.place
    sharp = np.minimum(x / at, (1 - x) / (1 - at))
    width = max(1, int(row.round_off * points)) * 2 + 1
    padded = np.concatenate([-sharp[width:0:-1], sharp, -sharp[-2 : -width - 2 : -1]])
    smooth = np.convolve(padded, np.hanning(width + 2)[1:-1] / np.hanning(width + 2).sum(), "same")[
        width:-width
    ]
    return row.amplitude * smooth / smooth.max()


def _bent(shape: np.ndarray) -> np.ndarray:
    bent = np.zeros_like(shape)
    bent[:, 1:-1] = shape[:, 2:] - 2 * shape[:, 1:-1] + shape[:, :-2]
    return bent


def pairs(
    random: np.random.Generator, name: str, fret: int, wanted: list[str], lasts_s: float = 1.3
) -> list[tuple[np.ndarray, np.ndarray]]:
    """(soft, hard) of one fret for each wanted word of ``HARD``."""
    pitch = STRINGS[name][0] * 2 ** (fret / 12)
    count = FRETS - fret
    along = 1 - 2 ** (-np.arange(1, count + 1) / 12)
    rows, free = [], []
    for _ in wanted:
        gaps = along * random.uniform(0.7, 1.3) + 0.02 * random.uniform(0, 1) + random.normal(0, 0.02, count)
        gaps = np.maximum(gaps, 0.01)
        if random.random() < 0.5:
            gaps[int(random.integers(0, min(6, count)))] *= random.uniform(0.4, 0.8)
        spot, soft_finger = random.uniform(0.12, 0.3), random.uniform(0.01, 0.05)
        loss = random.uniform(0.5, 2.0) / pitch
        # So that what lies at 2.5 kHz dies away this quickly, per second.
        high = random.uniform(6.0, 30.0) / (2 * pitch) / (np.pi * 2500 / pitch) ** 2
        for which in range(2):
            at = min(0.48, spot * random.uniform(0.9, 1.1) * 2 ** (fret / 24))
            finger = max(0.01, soft_finger * random.uniform(0.85, 1.15) * (0.9 if which else 1.0))
            # Drawn down and let go, or drawn up: the first swing down is what strikes.
            side = -1.0 if random.random() < 0.5 else 1.0
            rows.append(Row(side, at, finger, loss, high, gaps))
            free.append(Row(side, at, finger, loss, high, np.full(count, 9.0)))
    limits = _limits(pitch, free, [row.gaps for row in rows], fret)
    loud = []
    for i, word in enumerate(wanted):
        hard = random.uniform(*HARD[word]) * limits[2 * i + 1]
        soft = min(random.uniform(*SOFT) * hard, 0.8 * limits[2 * i])
        loud += [soft, hard]
    told = [
        Row(row.amplitude * level, row.place, row.round_off, row.loss, row.high_loss, row.gaps)
        for row, level in zip(rows, loud, strict=True)
    ]
    heard = ring(pitch, told, fret, lasts_s)
    return [(heard[2 * i], heard[2 * i + 1]) for i in range(len(wanted))]


def _limits(pitch: float, rows: list[Row], gaps: list[np.ndarray], fret: int) -> list[float]:
    """The hardest clean pluck of each row: how low a free string of pluck 1 comes over each fret."""
    points = _points(pitch)
    tops = np.round((1 - 2 ** (-np.arange(1, FRETS - fret + 1) / 12)) * points).astype(int)
    shape = np.stack([_drawn(row, points) for row in rows])
    before, now, lowest = shape.copy(), shape.copy(), shape.copy()
    for _ in range(int(2 * points / COURANT)):
        before, now = now, 2 * now - before + COURANT**2 * _bent(now)
        np.minimum(lowest, now, out=lowest)
    return [float(np.min(gap / np.maximum(-low[tops], 1e-6))) for gap, low in zip(gaps, lowest, strict=True)]


def buzz_takes(
    random: np.random.Generator, name: str, frets: list[int], count: int, lasts_s: float = 1.2
) -> list[tuple[Take, list[str]]]:
    """Takes of each fret soft then hard, on as many strings: (the take, the word of each fret)."""
    words = random.choice(list(HARD), (len(frets), count), p=SHARES)
    heard = [pairs(random, name, fret, list(row), lasts_s) for fret, row in zip(frets, words, strict=True)]
    return [
        (_laid(random, name, frets, [row[which] for row in heard]), [str(word) for word in words[:, which]])
        for which in range(count)
    ]


def _laid(
    random: np.random.Generator, name: str, frets: list[int], heard: list[tuple[np.ndarray, np.ndarray]]
) -> Take:
    parts, truth, asked, at = [np.zeros(RATE // 2)], [], [], 0.5
    for fret, two in zip(frets, heard, strict=True):
        pitch = STRINGS[name][0] * 2 ** (fret / 12)
        peak = np.abs(two[1]).max()
        for sound in two:
            note = _let_go(sound) / peak
            asked.append((1, fret, pitch))
            truth.append(Struck(1, fret, at, pitch, float(np.abs(note).max())))
            gap = np.zeros(int(random.uniform(0.2, 0.5) * RATE))
            parts += [note, gap]
            at += (len(note) + len(gap)) / RATE
    return Take(0.6 * np.concatenate(parts), asked, truth, name)


def table(seed: int, count: int) -> str:
    """Marks by what was planted, on ``count`` rounds of every string of ``PLAYED`` (``TOGETHER`` takes
    each)."""
    counts = {word: [0, 0, 0] for word in HARD}
    for number in range(count):
        for place, name in enumerate(PLAYED):
            for word, mark in tried(np.random.default_rng([seed, number, place]), name):
                counts[word][0] += 1
                counts[word][1] += mark is True
                counts[word][2] += mark is None
    lines = [f"{'':<10}{'frets':>7}{'marked':>9}{'unread':>9}"]
    for word, (frets, marked, unread) in counts.items():
        lines.append(f"{word:<10}{frets:>7}{100 * marked / frets:>8.1f}%{100 * unread / frets:>8.1f}%")
    return "\n".join(lines)


def tried(random: np.random.Generator, name: str) -> Iterator[tuple[str, bool | None]]:
    """(what was planted, whether it was marked; None where it could not be read) of every fret."""
    frets = sorted(random.choice(range(13), 6, replace=False).tolist())
    for number, (take, words) in enumerate(buzz_takes(random, name, frets, TOGETHER)):
        phone = draw_phone(random, "ordinary" if number % 3 else "clean")
        hearing = hear_buzzes(worsen(random, take.sound, take.rate, phone), take.rate, take.asked)
        for fret, word in zip(frets, words, strict=True):
            unread = hearing.refused is not None or (1, fret) in hearing.unread
            yield word, None if unread else (1, fret) in hearing.marks


def _let_go(sound: np.ndarray) -> np.ndarray:
    """Damped at the end over 50 ms."""
    size = RATE // 20
    sound = sound.copy()
    sound[-size:] *= np.linspace(1, 0, size)
    sound[:48] *= np.linspace(0, 1, 48)
    return sound
