"""One take through the product and what came of it, counted."""

from __future__ import annotations

import time
from dataclasses import dataclass, field

import numpy as np

from tests.listening.damage import DAMAGES, draw_phone, worsen
from tests.listening.not_notes import KINDS, without_notes
from tests.listening.strings import STRINGS, Take, string_take, tuning_take
from webapp.physics.listening import hear

NEAR_S = 0.25


@dataclass
class Score:
    """What one take gave: errors of differences and pitches in cents, with their stated errors; and the
    counts."""

    label: str
    damage: str
    differences: list[tuple[float, float]] = field(default_factory=list)
    pitches: list[tuple[float, float]] = field(default_factory=list)
    places: int = 0
    notes: int = 0
    assigned: int = 0
    answered: int = 0
    wrong: int = 0
    refused: str | None = None
    cpu_s: float = 0.0
    sound_s: float = 0.0
    why: list[str] = field(default_factory=list)


def one(job: tuple[int, int, str, str]) -> Score:
    """Run one take: (seed, number, label, damage); a label is a string's name, ``tuning`` or no note's
    kind."""
    seed, number, label, damage = job
    random = np.random.default_rng([seed, number, DAMAGES.index(damage)])
    if label in STRINGS:
        take = string_take(random, label, muddle=random.random() < 0.4)
    elif label == "tuning":
        bass = random.random() < 0.5
        take = tuning_take(random, ["G2", "D2", "A1", "E1"] if bass else ["E4", "B3", "G3", "D3", "A2", "E2"])
    else:
        take = without_notes(random, label)
    phone = draw_phone(random, damage)
    sound = worsen(random, take.sound, take.rate, phone)
    return judge(take, sound, damage, 0.0 if label != "tuning" else -phone.clock_ppm)


def judge(take: Take, sound: np.ndarray, damage: str, clock_ppm: float = 0.0) -> Score:
    score = Score(take.label, damage, sound_s=len(sound) / take.rate)
    began = time.process_time()
    hearing = hear(sound, take.rate, take.asked)
    score.cpu_s = time.process_time() - began
    score.refused = hearing.refused
    score.notes = len(take.truth)
    truth = {(struck.string, struck.fret): struck.pitch_hz for struck in take.truth}
    for note in hearing.notes:
        if note.refused is not None:
            score.why.append(note.refused)
        if np.isnan(note.start_s):
            continue
        near = [struck for struck in take.truth if abs(struck.start_s - note.start_s) < NEAR_S]
        right = any((struck.string, struck.fret) == (note.string, note.fret) for struck in near)
        score.assigned += right
        score.wrong += not right
        score.answered += note.refused is None
    score.places = len({(string, fret) for string, fret, _ in take.asked if fret})
    for (string, fret), (cents, error) in hearing.differences.items():
        if (string, fret) in truth and (string, 0) in truth:
            true = 1200 * np.log2(truth[string, fret] / truth[string, 0])
            score.differences.append((cents - true, error))
    for place, (hertz, error) in hearing.pitches.items():
        if place in truth:
            score.pitches.append((1200 * np.log2(hertz / truth[place] / (1 + 1e-6 * clock_ppm)), error))
    return score


def jobs(seed: int, count: int) -> list[tuple[int, int, str, str]]:
    """``count`` takes of each string and of a tuning check at each damage, and half as many without notes."""
    told = [
        (seed, number * 100 + place, label, damage)
        for number in range(count)
        for place, label in enumerate([*STRINGS, "tuning"])
        for damage in DAMAGES
    ]
    return told + [
        (seed, 50_000 + number * 10 + place, kind, damage)
        for number in range((count + 1) // 2)
        for place, kind in enumerate(KINDS)
        for damage in DAMAGES
    ]
